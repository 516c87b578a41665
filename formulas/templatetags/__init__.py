"""Template filters of what is in a blend."""
