"""Who changed what: costs, prices, stocks, customers, people, and the moves of what is sold."""
