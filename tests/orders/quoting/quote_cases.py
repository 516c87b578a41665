"""What the tests of prices and quotes share: a saved blend and a place to send it."""

from typing import Any, Final

from blendshop.accounts.models import Company, User
from formulas.models import BaseStock, Blend, BlendRevision, RevisionLine
from orders.models import ShipTo
from tests.factories import ShipToFactory, make_price_setup, make_simple_catalogue
from tests.remembered_rows import RememberedRows
from tests.stored_answers import stored_answer

#: Half urea ammonium nitrate solution, half water: easy to price by hand.
HALF_AND_HALF = {"UAN": 50.0, "WATER": 50.0}


def make_revision(
    company: Company | None,
    by: User,
    shares: dict[str, float] | None = None,
    *,
    name: str = "Spring green",
    density_lb_per_gal: float = 10.0,
) -> BlendRevision:
    """A saved blend from stocks that exist, its analysis summed from theirs."""
    shares = shares or HALF_AND_HALF
    stocks = {code: BaseStock.objects.get(code=code) for code in shares}
    analysis: dict[str, Any] = {}
    for code, pct in shares.items():
        for key, content in stocks[code].analysis().items():
            analysis[key] = analysis.get(key, 0.0) + content * pct / 100
    nitrogen = sum(content for key, content in analysis.items() if key.startswith("N."))
    if nitrogen:
        analysis["N"] = nitrogen
    slow = analysis.get("N.slow", 0.0)
    blend = Blend.objects.create(name=name, company=company, created_by=by)
    revision = BlendRevision.objects.create(
        blend=blend,
        number=1,
        wish={"targets": [{"nutrient": "N", "min": 16}]},
        answer=stored_answer(analysis, shares),
        grade="16-0-0",
        slow_release_pct=100 * slow / nitrogen if nitrogen else None,
        density_lb_per_gal=density_lb_per_gal,
        created_by=by,
    )
    for code, pct in shares.items():
        RevisionLine.objects.create(revision=revision, stock=stocks[code], pct=pct)
    return revision


def _quotable(company: Company, by: User) -> dict[str, Any]:
    make_price_setup()
    make_simple_catalogue()
    BaseStock.objects.filter(code__in=HALF_AND_HALF).update(density_lb_per_gal=10.0)
    return {
        "revision": make_revision(company, by),
        "ship_to": ShipToFactory(company=company, label="North yard"),
    }


_QUOTABLE: Final = RememberedRows(_quotable)


def make_quotable(company: Company, by: User) -> tuple[BlendRevision, ShipTo]:
    """Price data, five stocks, a saved blend of the company and a delivery address.

    Both its stocks weigh 10 lb/gal, as the blend then does, so that prices are worked by hand.
    """
    made = _QUOTABLE(company, by)
    return made["revision"], made["ship_to"]
