"""The day: what each tank does, what is due, short and left undone, and what a shift signs."""
