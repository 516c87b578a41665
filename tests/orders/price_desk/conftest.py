"""A blend that can be priced and delivered, from the room of quotes."""

from tests.orders.quoting.conftest import world

__all__ = ["world"]  # a fixture
