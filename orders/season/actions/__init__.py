"""Writing a season: its rows, and what is reserved and released of it."""
