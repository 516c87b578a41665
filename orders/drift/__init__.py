"""Drift: whether what suppliers send and what is weighed stays as it was."""
