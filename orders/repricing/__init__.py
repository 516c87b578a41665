"""Saved blends and open quotes priced anew after a change of costs: what the quotes still earn."""
