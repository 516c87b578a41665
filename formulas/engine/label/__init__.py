"""From an analysis to the lines a label may print."""
