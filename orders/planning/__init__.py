"""Orders to tank loads: weights, parts, reservations, tank sequence."""
