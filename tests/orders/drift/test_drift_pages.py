"""Charts of certificates and weighings: worst first, claimed only where they can be."""

import re
from collections.abc import Callable
from datetime import date
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from blendshop.accounts.models import User
from blendshop.figures.readers import read_in
from blendshop.figures.units import METRIC
from blendshop.figures.writing import Figures
from formulas.models import BaseStock
from orders.drift.certificates import CertifiedLot
from orders.drift.overview import drift_lines
from orders.drift.page import stock_drift, stock_series
from orders.drift.series import Standing, series_of
from orders.frozen.load_plan import Weighing
from orders.models import Batch, Charge, PlanAddition, ReversedCharge
from orders.production.steps import batch_steps
from orders.tanks.actions.rinsing import RINSE_CODE
from tests.factories import BaseStockFactory
from tests.orders.drift.drift_cases import (
    DEPOT,
    POINT_OUT,
    RUN,
    STEADY,
    TERMINAL,
    nitrogen,
    potash,
    put_in,
)

SignIn = Callable[[User], Client]


pytestmark = pytest.mark.usefixtures("shop")


def _words(client: Client, url: str) -> str:
    response = client.get(url)
    assert response.status_code == 200
    text = re.sub(r"<[^>]+>", " ", unescape(response.content.decode()))
    return re.sub(r"\s+", " ", text)


def _kac() -> BaseStock:
    return BaseStock.objects.get(code="KAC")


def test_the_worst_stands_first_and_what_has_too_few_points_last(
    plant_worker: User, signed_in: SignIn
) -> None:
    put_in("KAC", potash(STEADY), supplier=DEPOT)
    put_in("KAC", potash(RUN))
    out = put_in("TRZ", [{"N.urea": value / 3} for value in POINT_OUT])[-1]
    put_in("FES", [{"Fe": 5.1}] * 7)
    found = [(line.stock.code, line.supplier, line.standing) for line in drift_lines()]
    assert found == [
        ("TRZ", TERMINAL, Standing.OUT),
        ("KAC", TERMINAL, Standing.RUN),
        ("KAC", DEPOT, Standing.STEADY),
        ("FES", TERMINAL, Standing.TOO_FEW),
    ]
    words = _words(signed_in(plant_worker), "/drift/")
    assert (
        f"A point out Urea N, %: {out.code} below the lower limit, jump down to {out.code}" in words
    )
    assert "8 in a row below the mean" in words
    assert words.index("In control") < words.index("Too few points: 1")


def test_a_stock_shows_limits_points_and_the_rules_that_its_lots_broke(
    rep: User, signed_in: SignIn
) -> None:
    lots = put_in("KAC", potash(POINT_OUT), density=10.65)
    html = signed_in(rep).get("/drift/KAC/").content.decode()
    assert f'href="/lots/{lots[-1].code}/"' in html
    drift = stock_drift(_kac(), None)
    assay, density = drift.charts
    assert (assay.key, density.key, density.standing) == ("K2O", "density", Standing.STEADY)
    assert assay.rows[0].rules == "beyond a limit, jump"
    assert assay.rows[0].apart == pytest.approx(1.9)
    assert assay.rows[0].record == lots[-1].code


def test_seven_certificates_are_too_few_for_limits_or_a_spread(
    formulator: User, signed_in: SignIn
) -> None:
    put_in("KAC", potash(POINT_OUT[-7:]))
    words = _words(signed_in(formulator), "/drift/KAC/")
    assert "K₂O, %: Too few points" in words
    assert "eight of a content are needed" in words
    assert "Adopt the measured spread" not in words


def test_what_was_broken_long_ago_is_told_and_no_standing() -> None:
    put_in("KAC", potash((*POINT_OUT, *STEADY)))
    (chart,) = stock_drift(_kac(), None).charts
    assert chart.standing is Standing.STEADY
    assert any("below the lower limit" in each for each in chart.before)


def test_total_nitrogen_is_charted_where_a_certificate_states_every_form() -> None:
    put_in("TRZ", [*nitrogen(STEADY), {"N.urea": 7.8}])
    stock = BaseStock.objects.get(code="TRZ")
    points = {each.key: len(each.points) for each in stock_series(stock, None)}
    assert points == {"N": 12, "N.urea": 13, "N.slow": 12}


def test_densities_are_charted_in_the_units_of_whoever_reads() -> None:
    """10 lb/gal is 1.1983 kg/L (NIST SP 811: 0.45359237 kg a pound, 3.785411784 L a gallon)."""
    lots = [CertifiedLot(1, "L-1", 1, DEPOT, date(2026, 3, 2), {}, 10.0)]
    (us,) = series_of(lots, [], {})
    with read_in(Figures(units=METRIC)):
        (metric,) = series_of(lots, [], {})
        assert (metric.name, metric.places) == ("Density at 15.6 °C, kg/L", 4)
    assert us.name == "Density at 60 °F, lb/gal"
    assert [us.points[0].value, metric.points[0].value] == [10.0, pytest.approx(1.198264)]


def test_parts_moved_elsewhere_and_rinse_water_are_no_deliveries() -> None:
    (lot, *_) = put_in("KAC", potash(STEADY))
    put_in("KAC", potash(STEADY), split_from=lot)
    BaseStockFactory(code=RINSE_CODE)
    put_in(RINSE_CODE, potash(STEADY))
    assert [(line.stock.code, line.lots) for line in drift_lines()] == [("KAC", len(STEADY))]


def test_suppliers_are_charted_apart_or_together(rep: User, signed_in: SignIn) -> None:
    put_in("KAC", potash(STEADY), supplier=DEPOT)
    put_in("KAC", potash(RUN))
    put_in("KAC", potash(STEADY[:8]), supplier="")
    client = signed_in(rep)
    for query, count in (("", 34), (f"?supplier={DEPOT}", 12), ("?supplier=", 8)):
        assert f"Points: {count}" in _words(client, f"/drift/KAC/{query}")
    assert "Too few certificates" in _words(client, "/drift/KAC/?supplier=nobody")


def test_the_as_made_error_is_what_was_charged_less_its_target(
    batch: Batch, plant_worker: User
) -> None:
    (lot,) = put_in("KAC", potash([24.0]))
    step = next(each for each in batch_steps(batch) if each.code == "KAC")

    def charge(key: str, mass_lb: object, number: int = step.number) -> Charge:
        return Charge.objects.create(
            batch=batch, step=number, stock=lot.stock, lot=lot, mass_lb=mass_lb,
            key=key, by=plant_worker, who=str(plant_worker),
        )  # fmt: skip

    PlanAddition.objects.create(
        batch=batch, position=len(batch_steps(batch)) + 1, stock=lot.stock, weight_lb=50,
        step=Weighing.extending(step.planned).to_json(), why="corrected", key="a", who="Pat",
    )  # fmt: skip
    added = batch_steps(batch)[-1]
    half = step.target_lb / 2
    charge("first half", half)
    charge("second half, too much", half + step.target_lb / 100)
    charge("of a correction", 70, added.number)
    ReversedCharge.objects.create(
        charge=charge("not weighed", 500), why="typed twice", key="r", who="Pat"
    )
    assert [each.key for each in stock_series(_kac(), None)] == ["K2O"]  # not made yet
    Batch.objects.update(status=Batch.Status.MADE)
    error = next(each for each in stock_series(_kac(), TERMINAL) if each.key == "as_made")
    assert [(point.record, round(point.value, 2)) for point in error.points] == [
        (batch.number, 1.0)
    ]
    assert "as_made" not in {each.key for each in stock_series(_kac(), DEPOT)}


def test_pages_ask_the_same_however_many_deliveries_there_are(rep: User, signed_in: SignIn) -> None:
    client = signed_in(rep)

    def asked(url: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(url).status_code == 200
        return len(queries)

    put_in("KAC", potash(STEADY))
    put_in("FES", potash(STEADY), density=9.6)
    few = [asked(url) for url in ("/drift/", "/drift/KAC/")]
    for supplier in ("", DEPOT, "a third"):
        put_in("KAC", potash(RUN), supplier=supplier, density=10.6)
        put_in("TRZ", nitrogen(STEADY), supplier=supplier, density=10.7)
    assert [asked(url) for url in ("/drift/", "/drift/KAC/")] == few
