"""What two loads ask for when they meet is worked out once in a process, while nothing changes."""

from formulas.engine.plant import changeover
from formulas.models import BaseStock, CompatibilityRule
from orders.planning import recipe_meetings
from orders.planning.recipe_meetings import RecipeMeetings
from tests.factories import BaseStockFactory, CompatibilityRuleFactory, TankFactory


def test_the_engine_is_asked_anew_only_when_stocks_or_rules_change(db, monkeypatch):
    # What other tests left known fills a process's few places and would be forgotten meanwhile.
    monkeypatch.setattr(recipe_meetings, "_KNOWN", recipe_meetings._Known())
    asked, answer = [], changeover.needs_flush
    monkeypatch.setattr(
        changeover, "needs_flush", lambda *pair, **heel: asked.append(pair) or answer(*pair, **heel)
    )
    tank = TankFactory()
    BaseStockFactory(code="LIME", traits=["calcium"], density_lb_per_gal=10.1234)
    BaseStockFactory(code="PHOS", traits=["phosphate"])
    CompatibilityRuleFactory()

    def is_flushed():
        recipes = RecipeMeetings([tank])
        first, second = recipes.add({"LIME": 100.0}), recipes.add({"PHOS": 100.0})
        assert recipes.needs_flush(first, first, tank.pk) is False
        return recipes.needs_flush(first, second, tank.pk)

    assert (is_flushed(), is_flushed(), len(asked)) == (True, True, 1)
    BaseStock.objects.filter(code="PHOS").update(density_lb_per_gal=11.4321)
    assert (is_flushed(), len(asked)) == (True, 2)
    CompatibilityRule.objects.update(effect=CompatibilityRule.Effect.JAR_TEST)
    assert (is_flushed(), len(asked)) == (False, 3)
    CompatibilityRule.objects.update(effect=CompatibilityRule.Effect.BLOCKS)
    assert (is_flushed(), len(asked)) == (True, 3)  # as it was found before
