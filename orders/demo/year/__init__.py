"""Fourteen months of the invented plant, up to yesterday: ``manage.py load_demo --year``.

What was asked, sold, made, corrected and recalled is thought out here from a fixed seed, so that
the same day gives the same plant; ``actions/`` writes it, many rows at a time. Recipes, prices,
plans and label lines come from the code everybody uses: prices for each quote on the costs of its
day, plans once for each blend and volume. All of it is demo data, invented.
"""
