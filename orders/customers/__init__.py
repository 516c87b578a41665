"""Companies, their people, places and terms."""
