"""Jar tests and what they say of a blend."""
