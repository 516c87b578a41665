"""What customers asked for and somebody of the plant has to look at before it is an order."""
