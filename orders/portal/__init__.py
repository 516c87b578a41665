"""Pages that show all of a customer."""
