"""Saved blends, their revisions and their pages."""
