"""The year in figures: margin, volume, quotes, costs, stock and due dates, by who and what."""
