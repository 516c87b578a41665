"""Scales of the tanks: verified with known loads, overdue, failed."""
