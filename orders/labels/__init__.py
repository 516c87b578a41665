"""From guarantees to a printed label."""
