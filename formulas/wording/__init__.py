"""The words of what the engine answers by identity: for people, never read back."""
