"""The stores: stock status, reordering, stocktaking and purchases."""
