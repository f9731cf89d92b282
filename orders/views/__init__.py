"""The pages of prices, orders and money; `orders.follow` holds the family's own."""
