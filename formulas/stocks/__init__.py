"""Base stocks: catalogue, figures, costs, rules and their pages."""
