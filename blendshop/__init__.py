"""What both apps share."""

#: The release; CHANGELOG says what each brought.
__version__ = "0.1.0"
