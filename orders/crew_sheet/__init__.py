"""Crew sheets: one application of what was ordered, on paper and phone, and the record of it."""
