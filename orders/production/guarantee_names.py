"""How a guarantee is called on the plant floor."""

from formulas.engine.composition import NAMES
from formulas.engine.plant.as_made import SLOW_RELEASE


def guarantee_name(key: str) -> str:
    """``Soluble potash``; the slow-release share by its words."""
    return "Slow-release share of nitrogen" if key == SLOW_RELEASE else NAMES.get(key, key)
