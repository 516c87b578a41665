"""Finding, numbering and moving the records that all rooms share."""
