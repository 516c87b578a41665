"""When the catalogue changed, and what a process keeps for as long as it did not."""
