"""Notices: rows written with what causes them, read on a page, mailed as each has chosen."""
