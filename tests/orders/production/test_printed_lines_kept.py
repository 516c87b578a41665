"""A line that the label prints without being wished is a promise too: release reads it."""

from decimal import Decimal

from orders.production.release_checks import release_hindrances
from tests.orders.planning.plant_cases import freeze_otherwise
from tests.orders.production.charging_cases import charged_and_made, read_density


def test_a_form_below_its_printed_line_hinders_release(batch, plant_worker):
    """More triazone for less UAN: total nitrogen, slow share and potash all hold."""
    charged_and_made(batch, plant_worker, off_lb={"UAN": -60, "TRZ": 80})
    read_density(batch, plant_worker)
    told = release_hindrances(batch)
    printed = batch.load_plan.printed_pct["N.nitrate"]
    assert any(
        each.startswith("Nitrate nitrogen as made is")
        and each.endswith(f"the label prints {printed.normalize():f} %.")
        for each in told
    )
    assert not any("guaranteed" in each for each in told)


def test_a_line_printed_above_what_was_wished_hinders_release_too(batch, plant_worker):
    more = {**batch.load_plan.printed_pct, "K2O": Decimal("3.5")}
    freeze_otherwise(batch, printed_pct=more)
    charged_and_made(batch, plant_worker)
    read_density(batch, plant_worker)
    (told,) = release_hindrances(batch)
    assert told.startswith("Soluble potash as made is 3.")
    assert told.endswith("the label prints 3.5 %.")


def test_on_target_every_printed_line_holds(batch, plant_worker):
    charged_and_made(batch, plant_worker)
    read_density(batch, plant_worker)
    assert not any("the label prints" in each for each in release_hindrances(batch))
