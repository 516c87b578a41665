"""From an empty plant to a working one: what is set, what is missing, and the pages that set it."""
