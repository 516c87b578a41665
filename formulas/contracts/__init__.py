"""The JSON contracts: one code path for command, API and page."""
