"""Orders: placed, dated, shipped, cancelled."""
