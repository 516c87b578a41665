"""What the charging screen shows: steps against charges, what is in the tank, what may be done."""
