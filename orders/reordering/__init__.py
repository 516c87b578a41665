"""The same blend again, at today's price."""
