"""Scarce stock over all open orders."""
