"""Mails as rows: written with what causes them, sent by the worker."""
