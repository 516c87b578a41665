"""What decides about a blend beside its price: one strip for every page that sells it."""
