"""What both apps share."""
