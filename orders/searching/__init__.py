"""One search over customers, blends, quotes, orders, batches, lots and packages."""
