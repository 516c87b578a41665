"""What both apps share."""

__version__ = "0.1.0"
