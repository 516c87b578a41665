"""Safety data sheets: put in by the plant, read by whoever bought what they are of."""
