"""What to buy, when and from whom: what is booked, and what the same weeks took a year ago."""
