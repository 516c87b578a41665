"""What the plant and the office froze when they wrote it down: the records in JSON columns."""
