"""Saving blends: solved by the server, immutable, for one's own company only."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, ChangedMeanwhile, NotAllowed
from blendshop.immutable import WrittenOnce
from formulas.answers.wish import Wish
from formulas.blends.actions import archive_blend, rename_blend, save_blend, save_draft_wish
from formulas.blends.reprice import reprice_revisions
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, Blend, BlendRevision, DraftWish, RevisionLine, StockCost
from tests.factories import (
    BaseStockFactory,
    CompatibilityRuleFactory,
    TraitFactory,
)

pytestmark = pytest.mark.usefixtures("catalogue")

TODAY = date(2026, 6, 1)
WISH: dict[str, Any] = {
    "targets": [{"nutrient": "N", "min": 20}, {"nutrient": "K2O", "min": 3}],
    "slow_release_pct": {"min": 40},
    "fill": {"volume_gal": 265},
}


def save(user: User, company: Company | None = None, **changes: Any) -> BlendRevision:
    options: dict[str, Any] = {"name": "Summer", "wish": WISH, "today": TODAY, **changes}
    return save_blend(acting_user=user, company=company, **options)


def test_a_blend_is_saved_with_the_answer_the_server_solved(rep: User, company: Company) -> None:
    revision = save(rep, company, note="first try")
    assert (revision.number, revision.grade, revision.note) == (1, "20-0-3", "first try")
    assert revision.blend.company == company
    assert revision.wished == Wish.from_json(WISH)
    assert revision.solved.status == "solved"
    assert revision.slow_release_pct == 40.0
    lines = {line.stock.code: line.pct for line in revision.lines.select_related("stock")}
    assert sum(lines.values()) == pytest.approx(100, abs=1e-9)
    assert set(revision.solved.shares_pct) == set(lines)
    assert revision.solved.totals.density_lb_per_gal == pytest.approx(
        revision.density_lb_per_gal, abs=1e-6
    )


def test_saving_again_adds_the_next_revision_and_keeps_the_first(
    rep: User, company: Company
) -> None:
    first = save(rep, company)
    richer = {**WISH, "targets": [{"nutrient": "N", "min": 22}]}
    second = save(rep, None, blend=first.blend, wish=richer, based_on=1)
    assert (second.blend_id, second.number, second.grade) == (first.blend_id, 2, "22-0-0")
    assert first.blend.latest == second
    assert first.blend.company == company
    first.grade = "99-0-0"
    with pytest.raises(WrittenOnce):
        first.save()
    with pytest.raises(WrittenOnce):
        RevisionLine.objects.filter(revision=first).update(pct=1)


def test_whoever_looked_at_an_older_revision_is_told(rep: User) -> None:
    first = save(rep)
    save(rep, blend=first.blend, based_on=1)
    with pytest.raises(ChangedMeanwhile, match="Revision 2"):
        save(rep, blend=first.blend, based_on=1)
    assert first.blend.revisions.count() == 2


def test_what_is_out_of_reach_is_not_saved(rep: User) -> None:
    with pytest.raises(BadInput, match="out of reach"):
        save(rep, wish={"targets": [{"nutrient": "N", "min": 40}]})
    assert not Blend.objects.exists()


def test_a_recipe_that_must_not_be_mixed_is_not_saved(rep: User) -> None:
    CompatibilityRuleFactory(
        trait_a=TraitFactory(code="urea_triazone"), trait_b=TraitFactory(code="unchelated_iron")
    )
    recipe = [{"code": "TRZ", "pct": 90}, {"code": "FES", "pct": 10}]
    with pytest.raises(BadInput, match="must not be mixed"):
        save(rep, wish={"recipe": recipe})
    assert not Blend.objects.exists()


@pytest.mark.parametrize("key", ["stocks", "rules"])
def test_stocks_and_rules_of_ones_own_are_not_saved(rep: User, key: str) -> None:
    with pytest.raises(BadInput) as refused:
        save(rep, wish={**WISH, key: []})
    assert key in refused.value.fields


@pytest.mark.parametrize("name", ["", "   ", "x" * 121])
def test_a_blend_needs_a_name(rep: User, name: str) -> None:
    with pytest.raises(BadInput) as refused:
        save(rep, name=name)
    assert "name" in refused.value.fields


def test_a_name_is_given_once_in_a_company_and_once_in_the_plants_book(
    rep: User, company: Company
) -> None:
    save(rep, company)
    save(rep, None)
    for owner in (company, None):
        with pytest.raises(BadInput) as refused:
            save(rep, owner)
        assert "There is already a blend of this name." in " ".join(refused.value.fields.values())
    assert Blend.objects.count() == 2


def test_a_customer_saves_for_its_own_company_only(
    customer: User, stranger: User, company: Company
) -> None:
    revision = save(customer, company)
    for owner in (company, None):
        with pytest.raises(NotAllowed):
            save(stranger, owner, name="Other")
    with pytest.raises(NotAllowed):
        save(stranger, None, blend=revision.blend)
    for act in (
        lambda: rename_blend(acting_user=stranger, blend=revision.blend, name="Mine"),
        lambda: archive_blend(acting_user=stranger, blend=revision.blend, archived=True),
    ):
        with pytest.raises(NotAllowed):
            act()
    assert BlendRevision.objects.count() == 1


def test_the_plant_makes_blends_but_does_not_save_them(plant_worker: User) -> None:
    with pytest.raises(NotAllowed):
        save(plant_worker)


def test_renaming_and_archiving_write_one_row_of_history_each(
    customer: User, company: Company
) -> None:
    blend = save(customer, company).blend
    before = blend.history.count()
    assert rename_blend(acting_user=customer, blend=blend, name=" Late summer ").name == (
        "Late summer"
    )
    assert archive_blend(acting_user=customer, blend=blend, archived=True).archived
    archive_blend(acting_user=customer, blend=blend, archived=True)
    assert blend.history.count() == before + 2
    assert blend.history.first().history_user == customer
    with pytest.raises(BadInput):
        rename_blend(acting_user=customer, blend=blend, name=" ")


def test_a_wish_out_of_reach_can_be_kept_as_a_draft_but_not_nonsense(rep: User) -> None:
    wish = {"targets": [{"nutrient": "N", "min": 40}]}
    draft = save_draft_wish(acting_user=rep, name="Too rich", company=None, wish=wish, today=TODAY)
    assert draft.wished == Wish.from_json(wish)
    with pytest.raises(BadInput):
        save_draft_wish(
            acting_user=rep, name="Nonsense", company=None, wish={"targts": []}, today=TODAY
        )
    assert DraftWish.objects.count() == 1


def test_repricing_follows_the_costs_of_the_day(rep: User, catalogue: dict[str, BaseStock]) -> None:
    """Half UAN, half triazone: 0.5 x 18 + 0.5 x 42 cents; then UAN at 28 cents."""
    halves = [{"code": "UAN", "pct": 50}, {"code": "TRZ", "pct": 50}]
    revision = save(rep, wish={"recipe": halves})
    StockCost.objects.create(
        stock=catalogue["UAN"], amount=Decimal("0.28"), unit="lb", effective_from=date(2026, 7, 1)
    )
    (before,) = reprice_revisions([revision], load_catalogue(TODAY))
    assert before.cost_per_lb == before.saved_cost_per_lb == Decimal("0.3000")
    assert before.unavailable == ()
    (after,) = reprice_revisions([revision], load_catalogue(date(2026, 7, 1)))
    assert after.cost_per_lb == Decimal("0.3500")
    density = 1 / (0.5 / 11.06 + 0.5 / 10.7)
    assert after.cost_per_gal == Decimal(str(round(0.35 * density, 4)))


def test_repricing_says_which_stocks_are_retired_short_or_without_cost(
    rep: User, catalogue: dict[str, BaseStock]
) -> None:
    thirds = [{"code": "UAN", "pct": 40}, {"code": "TRZ", "pct": 30}, {"code": "KAC", "pct": 30}]
    revision = save(rep, wish={"recipe": thirds})
    BaseStock.objects.filter(code="UAN").update(retired_on=TODAY)
    BaseStock.objects.filter(code="KAC").update(short=True)
    (found,) = reprice_revisions([revision], load_catalogue(TODAY))
    assert found.cost_per_lb == Decimal("0.3150")
    assert found.unavailable == (
        "potassium acetate solution is short at the moment.",
        "urea ammonium nitrate solution is retired since 2026-06-01.",
    )
    (unpriced,) = reprice_revisions([revision], load_catalogue(date(2019, 1, 1)))
    assert unpriced.cost_per_lb is None
    assert unpriced.cost_per_gal is None


def test_repricing_thirty_blends_takes_as_many_queries_as_three(rep: User) -> None:
    counts = []
    for number in range(30):
        save(rep, name=f"Blend {number}")
        if number in (2, 29):
            rows = BlendRevision.objects.all()
            today = load_catalogue(TODAY)
            with CaptureQueriesContext(connection) as seen:
                assert len(reprice_revisions(rows, today)) == number + 1
            counts.append(len(seen))
    assert counts[0] == counts[1] == 2


def test_a_stock_that_came_later_does_not_change_a_saved_recipe(rep: User) -> None:
    revision = save(rep)
    BaseStockFactory(code="FREE", analysis={"N.slow": 30.0, "K2O": 5.0}, cost_per_lb="0.0001")
    assert "FREE" not in {line.stock.code for line in revision.lines.select_related("stock")}
    assert "FREE" in save(rep, name="New").solved.shares_pct
