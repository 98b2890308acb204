"""Weight, yield, cost and the buy list."""
