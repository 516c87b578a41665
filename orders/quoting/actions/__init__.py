"""Every change of a quote."""
