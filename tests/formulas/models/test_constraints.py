"""Each constraint of the catalogue and the blends, refused by the model and by the database."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from blendshop.accounts.models import Company, User
from formulas.models import (
    AnalysisFigure,
    BaseStock,
    Blend,
    BlendRevision,
    CompatibilityRule,
    DraftWish,
    RevisionLine,
    StockCost,
)
from tests.factories import BaseStockFactory, TraitFactory

Make = Callable[["Rows"], models.Model]


class Rows:
    """Good rows that a bad one leans on."""

    def __init__(self, user: User, company: Company) -> None:
        self.user, self.company = user, company
        self.stock = BaseStockFactory(code="A", analysis={"N.urea": 20.0})
        self.a, self.b = TraitFactory(code="a"), TraitFactory(code="b")
        CompatibilityRule.objects.create(
            trait_a=self.a, trait_b=self.b, effect="blocks", reason="r", source="s", mark="demo"
        )
        self.blend = Blend.objects.create(name="X", company=company, created_by=user)
        Blend.objects.create(name="X", created_by=user)
        self.revision = BlendRevision.objects.create(**self.revision_of(self.blend, 1))
        RevisionLine.objects.create(revision=self.revision, stock=self.stock, pct=100.0)

    def revision_of(self, blend: Blend, number: int, **changes: Any) -> dict[str, Any]:
        good = {"wish": {"a": 1}, "answer": {"a": 1}, "grade": "1-0-0", "density_lb_per_gal": 10.0}
        return {"blend": blend, "number": number, "created_by": self.user, **good, **changes}

    def rule(self, **changes: Any) -> CompatibilityRule:
        good = {"trait_a": self.b, "trait_b": self.a, "effect": "blocks", "reason": "r"}
        return CompatibilityRule(**{**good, "source": "s", "mark": "demo", **changes})

    def cost(self, **changes: Any) -> StockCost:
        good = {"amount": Decimal(1), "unit": "lb", "effective_from": date(2026, 1, 1)}
        return StockCost(**{"stock": self.stock, **good, **changes})


def stock(**changes: Any) -> BaseStock:
    good = {"code": "B", "name": "b", "density_lb_per_gal": 10.0, "density_source": "s"}
    return BaseStock(**{**good, "density_mark": "demo", **changes})


CASES: dict[str, Make] = {
    "base_stock_density_is_positive": lambda rows: stock(density_lb_per_gal=0.0),
    "base_stock_shares_are_in_order": lambda rows: stock(min_pct=6.0, max_pct=5.0),
    "base_stock_scale_step_is_positive": lambda rows: stock(scale_step_lb=0.0),
    "base_stock_solutes_have_a_source": lambda rows: stock(solutes="KCl 20"),
    "analysis_figure_is_given_once": lambda rows: AnalysisFigure(
        stock=rows.stock, key="N.urea", pct=1.0, source="s", mark="demo"
    ),
    "analysis_figure_is_a_percentage": lambda rows: AnalysisFigure(
        stock=rows.stock, key="K2O", pct=100.1, source="s", mark="demo"
    ),
    "stock_cost_is_not_negative": lambda rows: rows.cost(amount=Decimal(-1)),
    "stock_cost_unit_is_known": lambda rows: rows.cost(unit="t"),
    "compatibility_rule_is_given_once": lambda rows: rows.rule(trait_a=rows.a, trait_b=rows.b),
    "compatibility_rule_names_two_traits": lambda rows: rows.rule(trait_a=rows.a, trait_b=rows.a),
    "compatibility_limit_has_one_figure": lambda rows: rows.rule(effect="limit"),
    "compatibility_limit_share_is_a_percentage": lambda rows: rows.rule(
        effect="limit", largest_pct=101.0
    ),
    "compatibility_limit_ratio_is_positive": lambda rows: rows.rule(
        effect="limit", largest_ratio=0.0
    ),
    "blend_name_is_unique_in_company": lambda rows: Blend(
        name="X", company=rows.company, created_by=rows.user
    ),
    "blend_name_is_unique_in_plant_book": lambda rows: Blend(name="X", created_by=rows.user),
    "blend_revision_number_is_unique": lambda rows: BlendRevision(
        **rows.revision_of(rows.blend, 1)
    ),
    "blend_revision_density_is_positive": lambda rows: BlendRevision(
        **rows.revision_of(rows.blend, 2, density_lb_per_gal=0.0)
    ),
    "revision_line_names_a_stock_once": lambda rows: RevisionLine(
        revision=rows.revision, stock=rows.stock, pct=1.0
    ),
    "revision_line_share_is_a_percentage": lambda rows: RevisionLine(
        revision=rows.revision, stock=BaseStockFactory(code="C"), pct=0.0
    ),
    "parked_wish_has_a_name": lambda rows: DraftWish(name="", wish={"a": 1}, created_by=rows.user),
}
TABLES = (
    AnalysisFigure, BaseStock, Blend, BlendRevision, CompatibilityRule, DraftWish, RevisionLine,
    StockCost,
)  # fmt: skip


def test_every_constraint_has_its_case() -> None:
    named = {constraint.name for table in TABLES for constraint in table._meta.constraints}
    assert set(CASES) == named


@pytest.mark.parametrize("name", CASES)
def test_the_model_says_so_in_a_sentence_and_the_database_refuses(
    rep: User, company: Company, name: str
) -> None:
    row = CASES[name](Rows(rep, company))
    constraint = next(c for c in row._meta.constraints if c.name == name)
    with pytest.raises(ValidationError) as refused:
        row.validate_constraints()
    assert constraint.violation_error_message in str(refused.value)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()
