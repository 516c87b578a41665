"""Weights, what was made of them, corrections, tank sequence."""
