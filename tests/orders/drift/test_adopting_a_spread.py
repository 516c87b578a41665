"""A formulator adopts what was measured, and sees what that does to a blend's margin first."""

import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from statistics import fmean, stdev

import pytest
from django.test import Client

from blendshop.accounts.models import User
from blendshop.errors import ChangedMeanwhile, IllegalMove, NotAllowed
from formulas.answers.wish import AssaySpread
from formulas.contracts.formulation import formulate
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, BlendRevision
from orders.blend_page.spreads import margin_of
from orders.drift.actions import adopt_spread
from orders.drift.margin_change import OrderedBlend, blends_with, margin_change
from orders.models import Order, StockSpread
from tests.factories import today
from tests.orders.drift.drift_cases import DEPOT, STEADY, TERMINAL, nitrogen, potash, put_in

SignIn = Callable[[User], Client]
#: Of the twelve certificates, worked out beside the program: s over the mean, hundredths.
MEASURED = round(100 * stdev(STEADY) / fmean(STEADY), 2)


@pytest.fixture
def trz(shop: None) -> BaseStock:
    """The triazone stock with three months of certificates."""
    put_in("TRZ", nitrogen(STEADY))
    return BaseStock.objects.get(code="TRZ")


def test_adopting_writes_the_spread_with_its_source_and_who_did_it(
    trz: BaseStock, formulator: User
) -> None:
    row = adopt_spread(stock=trz, supplier=None, seen=(MEASURED, 0.0), acting_user=formulator)
    assert (row.strength_rsd_pct, row.total_n_rsd_pct) == (MEASURED, 0.0)
    assert row.source.startswith("measured from 12 certificates of TRZ, all suppliers, ")
    assert row.history.get().history_user == formulator
    assert margin_of(0.01).assay["TRZ"].strength_rsd_pct == MEASURED
    adopt_spread(stock=trz, supplier=None, seen=(MEASURED, 0.0), acting_user=formulator)
    assert row.history.count() == 1


def test_only_a_formulator_adopts(trz: BaseStock, office: User, signed_in: SignIn) -> None:
    with pytest.raises(NotAllowed):
        adopt_spread(stock=trz, supplier=None, seen=(MEASURED, 0.0), acting_user=office)
    assert "Adopt the measured" not in signed_in(office).get("/drift/TRZ/").content.decode()


def test_a_certificate_that_came_meanwhile_asks_to_look_again(
    trz: BaseStock, formulator: User, signed_in: SignIn
) -> None:
    put_in("TRZ", nitrogen([27.0]))
    with pytest.raises(ChangedMeanwhile):
        adopt_spread(stock=trz, supplier=None, seen=(MEASURED, 0.0), acting_user=formulator)
    typed = {"strength": MEASURED, "total_n": "0"}
    response = signed_in(formulator).post("/drift/TRZ/adopt/", typed)
    assert response.status_code == 409
    assert "other certificates by now" in response.content.decode()
    assert not StockSpread.objects.exists()


def test_too_few_certificates_of_a_supplier_measure_nothing(
    trz: BaseStock, formulator: User
) -> None:
    put_in("TRZ", nitrogen(STEADY[:7]), supplier=DEPOT)
    with pytest.raises(IllegalMove):
        adopt_spread(stock=trz, supplier=DEPOT, seen=(MEASURED, 0.0), acting_user=formulator)
    row = adopt_spread(stock=trz, supplier=TERMINAL, seen=(MEASURED, 0.0), acting_user=formulator)
    assert TERMINAL in row.source


def test_the_change_of_a_margin_is_what_the_contract_answers(
    trz: BaseStock, revision: BlendRevision
) -> None:
    before, after = AssaySpread(1.0), AssaySpread(MEASURED)
    change = margin_change(OrderedBlend(revision.blend, 530.0), trz, before, after)
    now = margin_of(0.01)
    costs = []
    for spread in (before, after):
        wish = replace(revision.wished, margin=replace(now, assay={"TRZ": spread}))
        answer = formulate(wish.contract_json(), catalogue=load_catalogue(today())).answer
        per_lb = float(answer.margin.cost_per_lb)  # type: ignore[union-attr]
        costs.append(per_lb * answer.totals.density_lb_per_gal)  # type: ignore[union-attr]
    assert float(change.per_gal_before or 0) == pytest.approx(costs[0], abs=5e-5)
    assert float(change.per_gal_after or 0) == pytest.approx(costs[1], abs=5e-5)
    assert costs[1] < costs[0]
    assert float(change.in_a_year or 0) == pytest.approx(530 * (costs[1] - costs[0]), abs=0.06)
    nitrogen_row = next(row for row in change.rows if row.name == "Total N")
    assert nitrogen_row.after.aim_pct < nitrogen_row.before.aim_pct
    assert 0 < nitrogen_row.over_after < nitrogen_row.over_before


def test_the_most_ordered_blend_is_shown_with_what_was_ordered(
    trz: BaseStock, order: Order, formulator: User, signed_in: SignIn
) -> None:
    (ordered,) = blends_with(trz, 3)
    line = order.lines.get()
    assert (ordered.blend, ordered.ordered_gal) == (line.revision.blend, line.volume_gal)
    client = signed_in(formulator)
    html = unescape(client.get("/drift/TRZ/adopt/").content.decode())
    assert "± 1.00 % → <strong>±" in html
    assert re.search(r"The margin costs \$0\.\d+ → <strong>\$0\.\d+</strong>", html)
    sent = dict(re.findall(r'name="(strength|total_n)" value="([^"]+)"', html))
    assert client.post("/drift/TRZ/adopt/", sent, follow=True).status_code == 200
    assert StockSpread.objects.get().strength_rsd_pct == MEASURED
    Order.objects.update(status=Order.Status.CANCELLED)
    assert [each.ordered_gal for each in blends_with(trz, 3)] == [0.0]


def test_potash_measures_a_strength(formulator: User, shop: None) -> None:
    put_in("KAC", potash(STEADY))
    stock = BaseStock.objects.get(code="KAC")
    row = adopt_spread(stock=stock, supplier=None, seen=(MEASURED, 0.0), acting_user=formulator)
    assert row.strength_rsd_pct == MEASURED
