"""The fact tables in the database: complete, sourced, and never over somebody's edits."""

from datetime import date

import pytest

from blendshop.accounts.models import User
from blendshop.errors import NotAllowed
from formulas import reference
from formulas.engine_bridge import load_catalogue, saved_rules, shipped_rules
from formulas.models import BaseStock, CompatibilityRule
from formulas.stocks.actions.shipped import load_base_stocks, load_demo_costs
from formulas.stocks.actions.system_user import system_user
from tests.shipped_stocks import put_in_shipped_stocks

TODAY = date(2026, 6, 1)


def test_every_stock_arrives_with_every_figure_and_its_source(formulator: User) -> None:
    load_base_stocks(acting_user=formulator)
    rows = {row.code: row for row in BaseStock.objects.for_engine()}
    assert set(rows) == {facts.code for facts in reference.base_stocks()}
    for facts in reference.base_stocks():
        row = rows[facts.code]
        assert row.analysis() == dict(facts.analysis)
        assert row.density_lb_per_gal == facts.density_lb_per_gal
        assert {trait.code for trait in row.traits.all()} == facts.traits
        assert row.density_source.startswith(facts.figure_sources["density_lb_per_gal"].text)
        for figure in row.analysis_figures.all():
            source = facts.figure_sources[f"analysis.{figure.key}"]
            assert figure.source.startswith(source.text)
            assert figure.mark == source.mark.value
        assert (row.salt_index is None) == (facts.salt_index_per_unit is None)


def test_the_salt_index_of_a_solution_is_per_unit_times_units(formulator: User) -> None:
    """UAN 28: 2.25 per unit x 28 units = 63.0 (the published partial-index arithmetic)."""
    put_in_shipped_stocks(formulator)
    assert BaseStock.objects.get(code="UAN28").salt_index == 63.0


def test_rules_in_the_database_are_the_shipped_rules(formulator: User) -> None:
    put_in_shipped_stocks(formulator)
    assert set(saved_rules()) == set(shipped_rules())


def test_edits_stay_unless_the_fact_tables_are_told_to_win(formulator: User) -> None:
    put_in_shipped_stocks(formulator)
    BaseStock.objects.filter(code="UAN28").update(name="Our UAN", density_lb_per_gal=10.6)
    load_base_stocks(acting_user=formulator)
    assert BaseStock.objects.get(code="UAN28").name == "Our UAN"
    loaded = load_base_stocks(acting_user=formulator, update=True)
    assert loaded.created == 0
    assert BaseStock.objects.get(code="UAN28").density_lb_per_gal == 10.67


def test_a_deleted_rule_stays_deleted(formulator: User) -> None:
    put_in_shipped_stocks(formulator)
    gone = CompatibilityRule.objects.first()
    assert gone is not None
    pair = (gone.trait_a, gone.trait_b)
    gone.delete()
    load_base_stocks(acting_user=formulator)
    assert not CompatibilityRule.objects.filter(trait_a=pair[0], trait_b=pair[1]).exists()
    load_base_stocks(acting_user=formulator, update=True)
    assert CompatibilityRule.objects.filter(trait_a=pair[0], trait_b=pair[1]).exists()


def test_demo_costs_go_only_to_stocks_without_a_cost(formulator: User) -> None:
    put_in_shipped_stocks(formulator)
    load_demo_costs(acting_user=formulator, effective_from=TODAY)
    catalogue = load_catalogue(TODAY)
    assert not catalogue.left_out
    assert {cost.stock for cost in reference.demo_costs()} == set(catalogue.cost_per_lb)
    again = load_demo_costs(acting_user=formulator, effective_from=TODAY)
    assert (again.created, again.kept) == (0, len(reference.demo_costs()))


def test_history_names_who_loaded_and_others_may_not(formulator: User, rep: User) -> None:
    load_base_stocks(acting_user=formulator)
    assert BaseStock.history.first().history_user == formulator
    for load in (load_base_stocks, load_demo_costs):
        extra = {"effective_from": TODAY} if load is load_demo_costs else {}
        with pytest.raises(NotAllowed):
            load(acting_user=rep, **extra)  # type: ignore[operator]


def test_the_system_user_cannot_sign_in(db: None) -> None:
    user = system_user()
    assert user == system_user()
    assert not user.is_active
    assert not user.has_usable_password()
