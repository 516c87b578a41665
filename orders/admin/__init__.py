"""Back office of prices, plant, customers and, to look at only, the records."""

from orders.admin import floor, people, policy, records, spreads

__all__ = ["floor", "people", "policy", "records", "spreads"]
