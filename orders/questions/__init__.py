"""What customers ask beside an order, and what the house answers."""
