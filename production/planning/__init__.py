"""The plan of the bench: its working week, the plan's runs as rows, pins, and what is told of them."""
