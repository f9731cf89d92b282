"""The stores: materials, the lots they came in, and a ledger of every move."""
