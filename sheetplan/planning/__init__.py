"""Fill an order book: groups, candidate layouts, stock choice."""
