"""A customer's year: acres, rounds, limits, totes, and what is reserved of them."""
