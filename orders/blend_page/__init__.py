"""The blend page: what is typed, the question it asks, the answer beside it."""
