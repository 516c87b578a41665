"""Shared ReportLab base of every paper: page, fonts, styles, text cleaning, flowables.

Knows nothing of orders or the database; a paper passes a ``Masthead`` and a story to
``render`` and gets PDF bytes, the same bytes every time for the same input.
"""
