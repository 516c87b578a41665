"""Cold and jars."""
