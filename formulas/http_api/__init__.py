"""The contracts over HTTP, described."""
