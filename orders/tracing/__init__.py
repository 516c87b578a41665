"""The trace as a person reads it: a page, a table, plain values for a program."""
