"""Lots, certificates, the stock ledger, levels and the trace."""
