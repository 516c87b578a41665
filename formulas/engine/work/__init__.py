"""How much work a question takes, and work that is done once."""
