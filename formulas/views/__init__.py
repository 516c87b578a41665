"""Pages of base stocks and saved blends."""
