"""A plant of many years, invented, to measure pages on: ``manage.py load_large_plant``.

The ordinary demo is loaded first and its blends, quotes, orders and plans, which real actions
wrote, are the patterns here. Everything else is a variation of them, written many rows at a time:
recipes are solved one by one, money stays that of the pattern, weights follow the recipe.
Not varied are what no list reads: histories of the back office, rinses and heels.
"""
