"""From the linear program to the answer and its reasons."""
