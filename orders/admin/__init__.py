"""Back office of prices, plant, customers and, to look at only, the records."""

from orders.admin import floor, labels, people, policy, records, spreads

__all__ = ["floor", "labels", "people", "policy", "records", "spreads"]
