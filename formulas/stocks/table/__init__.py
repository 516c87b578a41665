"""The catalogue as a table people keep in a spreadsheet: out as CSV, in through a preview."""
