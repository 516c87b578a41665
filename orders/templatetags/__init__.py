"""Template filters of the plant floor."""
