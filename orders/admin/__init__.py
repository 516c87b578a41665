"""Back office of prices, plant, customers and, to look at only, the records."""

from orders.admin import people, policy, records, spreads

__all__ = ["people", "policy", "records", "spreads"]
