"""Everything a price is made from on one page, and what other figures would make of it."""
