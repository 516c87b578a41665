"""The blend page always has a plant behind it that can price and blend."""

import pytest


@pytest.fixture(autouse=True)
def shop(shop: None) -> None:
    """Every test of the page has it, whether it names it or not."""
