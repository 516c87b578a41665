"""One batch, one truth: grade, guarantees, density, pounds, lots and serials on every paper.

Batches that went off their plan on purpose, filled, weighed and shipped; the papers are read back
from the PDFs that were issued.
"""

from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import house
from formulas.engine.composition import guarantee_name
from orders.compliance.tonnage import tonnage_report
from orders.inventory.actions.lot_quality import Certificate, record_certificate
from orders.labels.batch_label import batch_label
from orders.labels.view import label_draft_view
from orders.models import Batch, Order, Tank
from orders.ordering.actions import mark_shipped
from orders.papers.gather_batch_record import batch_record_view
from orders.papers.gather_certificate import certificate_view
from orders.papers.gather_packing_list import packing_list_view
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import release_batch
from orders.production.actions.packaging import close_batch
from orders.production.grades import grades_of_batches, grades_of_parts
from orders.production.made_record import made_record
from orders.production.net_weight import estimated_package_lb
from orders.production.sold_as import sold_as
from tests.factories import ShipToFactory, today
from tests.orders.papers.made_cases import (
    LABELS,
    agreed,
    filled,
    made,
    order_of,
    released,
    said_of,
    shipped,
)
from tests.orders.planning.plant_cases import accepted_order, placed_order
from tests.orders.production.charging_cases import new_key, read_density

#: What says a grade, of everything ``said_of`` collects.
GRADED = (
    "certificate", "record", "packing list", "package labels", *LABELS, "order", "trace",
    "trace table", "trace values", "tons", "tons table",
)  # fmt: skip
WEIGHED = ("2750", "2749.5")
TOGETHER = Decimal("5499.5")


def assert_all_agree(said, batch, lots):
    """Every figure against the one record; the record against nothing but itself."""
    record = made_record(batch)
    (part,) = batch.parts.all()
    sold = sold_as(record, part)
    for name in GRADED:
        assert sold.grade in said.texts[name], name
    _assert_guarantees(said, sold)
    density = record.density
    at = f"{house().density(density.lb_per_gal)} at {house().temperature(density.temperature_f)}"
    for name in ("certificate", "record", *LABELS):
        assert at in said.texts[name], name
    _assert_pounds(said, record.packages_of(part))
    for lot in lots.values():
        for name in ("record", "trace", "trace table", "trace values"):
            assert lot.code in said.texts[name], name


def _assert_guarantees(said, sold):
    printed = {line["key"]: Decimal(line["pct"]) for line in said.views["letter"]["guarantees"]}
    assert {key: sold.lines[key] for key in printed} == printed
    certified = {
        figure["name"]: (figure["guaranteed_pct"], figure["found_pct"], figure["words"])
        for figure in said.views["certificate"]["figures"]
    }
    judged = {row["name"]: row["guaranteed_pct"] for row in said.views["record"]["guarantees"]}
    for key, pct in printed.items():
        guaranteed, found, words = certified[guarantee_name(key)]
        assert guaranteed == float(pct)
        assert found >= guaranteed
        assert words == "meets its guarantee"
        assert judged.get(guarantee_name(key), float(pct)) == float(pct)
        for name in LABELS:
            assert f"{pct}%" in said.texts[name]


def _assert_pounds(said, packages):
    assert sum(package.net_lb for package in packages) == TOGETHER
    for package in packages:
        weight = f"{package.net_lb.normalize():,f}"
        assert f"{package.serial} ({weight} lb)" in said.texts["packing list"]
        assert f"Net {weight} lb" in said.texts["package labels"]
        for name in LABELS:
            assert f"{package.net_lb:,.1f} lb" in said.texts[name]
        for name in ("order", "trace"):
            assert f"{package.serial}: {weight} lb" in said.texts[name], name
        for name in ("trace table", "trace values"):
            assert str(package.net_lb) in said.texts[name]
        for name in ("record", "packing list", "package labels", "order", "trace", *LABELS):
            assert package.serial in said.texts[name], name
    for name in ("packing list", "order"):
        assert "5,499.5" in said.texts[name]
    assert "5500" in said.texts["tons table"], "to the whole pound, half up"
    assert "packages as weighed" in said.texts["tons"]


def test_a_load_charged_off_its_plan_that_keeps_its_promise_says_the_promise_everywhere(
    batch, plant_worker, formulator, office, signed_in
):
    before = label_draft_view(batch.parts.get())
    lots = made(batch, plant_worker, WATER=-30)
    released(batch, formulator, ph=7.0)
    filled(batch, plant_worker, *WEIGHED)
    shipped(batch, office)
    said = said_of(batch, office, signed_in(office))
    assert_all_agree(said, batch, lots)
    assert said.views["letter"]["grade"] == before.grade == "24-0-3"
    assert said.views["certificate"]["remarks"] == []


def test_a_real_shortfall_is_the_same_lower_grade_everywhere_once_the_customer_agreed(
    batch, plant_worker, formulator, office, customer, signed_in
):
    lots = made(batch, plant_worker, WATER=120)
    released(batch, formulator)
    filled(batch, plant_worker, *WEIGHED)
    order = order_of(batch)
    with pytest.raises(IllegalMove, match=rf"charging page of {batch.number}"):
        mark_shipped(order=order, acting_user=office)
    agreed(batch, formulator)
    batch = Batch.objects.get(pk=batch.pk)
    shipped(batch, office)
    said = said_of(batch, office, signed_in(office))
    assert_all_agree(said, batch, lots)
    # By hand: the water thins all of it.
    plan = batch.load_plan
    n_pct = plan.analysis["N"] * plan.mass_lb / (plan.mass_lb + 120)
    grade = said.views["letter"]["grade"]
    assert float(grade.split("-")[0]) == pytest.approx(n_pct, abs=0.11)
    assert float(grade.split("-")[0]) < n_pct < 24
    remark = f"Ordered as 24-0-3 and sold as {grade}, as agreed with Casey Owner, by phone."
    assert said.views["certificate"]["remarks"] == [remark]
    for name in set(GRADED) - {"record", "certificate"}:
        assert "24-0-3" not in said.texts[name], name
    assert "24-0-3" not in said.texts["certificate"].replace(remark, "")
    page = signed_in(customer).get(reverse("order_detail", args=[order.number])).content.decode()
    assert grade in page
    assert "24-0-3" not in page


def test_a_load_onto_a_heel_counts_the_heel_on_every_paper(
    batch, revision, rep, company, plant_worker, formulator, office, signed_in
):
    made(batch, plant_worker, WATER=120)
    released(batch, formulator)
    filled(batch, plant_worker, "2600", "2600")
    close_batch(
        batch=batch, why="a hose", heel_lb=Decimal(400), key=new_key(), acting_user=plant_worker
    )
    order = placed_order(rep, company, revision=revision, quantity=2)
    (later,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    lots = made(later, plant_worker)
    released(later, formulator)
    filled(later, plant_worker, *WEIGHED)
    shipped(later, office)
    said = said_of(later, office, signed_in(office))
    record = made_record(later)
    assert record.heel.mass_lb == pytest.approx(400)
    assert record.made.mass_lb == pytest.approx(
        400 + float(sum(step.charged_lb for step in record.steps))
    )
    assert_all_agree(said, later, lots)
    assert f"of {batch.number}" in said.texts["trace"]
    assert "Charged onto" in said.texts["record"]


def test_a_reading_set_aside_sets_no_density_net_weight_or_rate_on_any_paper(
    batch, plant_worker, formulator, office, signed_in
):
    lots = made(batch, plant_worker)
    wrong = batch.load_plan.density_window.high_lb_per_gal + 1
    read_density(batch, plant_worker, density_lb_per_gal=wrong)
    before = label_draft_view(batch.parts.get())
    assert before.density_lb_per_gal == pytest.approx(wrong)
    release_batch(
        batch=batch, acting_user=formulator, why="wrong hydrometer", reading_is_wrong=True
    )
    batch.refresh_from_db()
    after = label_draft_view(batch.parts.get())
    assert after.density_lb_per_gal == pytest.approx(made_record(batch).made.density_lb_per_gal)
    assert after.net_mass_lb == pytest.approx(after.net_volume_gal * after.density_lb_per_gal, 1e-4)
    assert after.directions[0] != before.directions[0], "the rate goes by the density"
    filled(batch, plant_worker, *WEIGHED)
    shipped(batch, office)
    said = said_of(batch, office, signed_in(office))
    assert_all_agree(said, batch, lots)
    misread = house().density(wrong)
    for name in set(said.texts) - {"record"}:
        assert misread not in said.texts[name], name


def test_before_anybody_agreed_the_papers_already_say_the_lower_grade(
    batch, plant_worker, formulator
):
    made(batch, plant_worker, WATER=120)
    released(batch, formulator)
    filled(batch, plant_worker, *WEIGHED)
    (part,) = batch.parts.all()
    sold = sold_as(made_record(batch), part)
    assert sold.needs_agreement
    assert sold.grade != "24-0-3"
    view = certificate_view(part)
    assert view.grade == sold.grade
    assert view.remarks == (f"Ordered as 24-0-3 and sold as {sold.grade}.",)
    assert packing_list_view(order_of(batch)).lines[0].grade == sold.grade
    record = batch_record_view(batch)
    assert record.grade == sold.grade
    assert "no customer's agreement is written down" in record.lowered
    assert grades_of_parts([part.pk]) == {part.pk: sold.grade}
    assert grades_of_batches([batch.number]) == {batch.number: sold.grade}


def test_a_form_below_its_line_leaves_the_grade_that_the_load_keeps(batch, plant_worker):
    made(batch, plant_worker, UAN=-60, TRZ=80)
    (part,) = batch.parts.all()
    sold, promised = sold_as(made_record(batch), part), batch.load_plan.printed_pct
    assert sold.lines["N.nitrate"] < promised["N.nitrate"]
    assert (sold.grade, sold.needs_agreement) == ("24-0-3", False)
    assert sum(pct for key, pct in sold.lines.items() if key.startswith("N.")) == 24
    printed = {line.key: line.pct for line in batch_label(part).draft.guarantees}
    assert printed == sold.lines


def test_a_lower_grade_is_told_in_the_decimals_of_the_state_it_goes_to(
    revision, rep, company, plant_worker, formulator
):
    # N.J.S.A. 4:9-15.3(f): whole numbers.
    there = ShipToFactory(company=company, state="NJ")
    order = placed_order(rep, company, revision=revision, ship_to=there, quantity=2)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    made(batch, plant_worker, WATER=120)
    released(batch, formulator)
    filled(batch, plant_worker, *WEIGHED)
    lowered = agreed(batch, formulator)
    batch = Batch.objects.get(pk=batch.pk)
    (part,) = batch.parts.all()
    assert lowered.grade == "23-0-2"
    assert label_draft_view(part).grade == "23-0-2"
    assert certificate_view(part).grade == batch_record_view(batch).grade == "23-0-2"
    assert grades_of_parts([part.pk])[part.pk] == "23-0-2"
    assert {figure.name: figure.guaranteed_pct for figure in certificate_view(part).figures}[
        "Total nitrogen"
    ] == 23
    assert not sold_as(made_record(batch), part).needs_agreement


def test_a_batch_released_clean_has_the_grade_of_its_own_papers_without_reading_its_charges(
    batch, plant_worker, django_assert_max_num_queries
):
    made(batch, plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)
    (part,) = batch.parts.all()
    with django_assert_max_num_queries(5):
        quick = grades_of_parts([part.pk])
    assert quick == {part.pk: batch_label(part).draft.grade}


def test_a_certificate_that_comes_after_the_release_lowers_the_grade_everywhere(
    batch, plant_worker, formulator, office
):
    lots = made(batch, plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)
    (part,) = batch.parts.all()
    record_certificate(
        lot=lots["UAN"],
        certificate=Certificate(source="CoA 2", figures={"N.urea": 15.0}),
        acting_user=formulator,
    )
    batch = Batch.objects.get(pk=batch.pk)
    sold = sold_as(made_record(batch), batch.parts.get())
    assert sold.needs_agreement
    assert sold.grade != "24-0-3"
    assert grades_of_parts([part.pk]) == {part.pk: sold.grade}
    assert grades_of_batches([batch.number]) == {batch.number: sold.grade}
    with pytest.raises(IllegalMove, match="no customer's agreement is written down"):
        mark_shipped(order=order_of(batch), acting_user=office, why="urgent")


def test_a_package_nobody_weighed_has_one_estimate_everywhere_and_it_is_marked(
    batch, plant_worker, formulator, office, signed_in
):
    made(batch, plant_worker)
    released(batch, formulator)
    filled(batch, plant_worker, "2750")
    with pytest.raises(BadInput):
        shipped(batch, office)
    shipped(batch, office, why="numbered by hand")
    said = said_of(batch, office, signed_in(office))
    (part,) = batch.parts.all()
    estimate = estimated_package_lb(made_record(batch), part)
    written = f"{estimate:,.1f} lb"
    assert f"1 not weighed ({written}, estimated)" in said.texts["packing list"]
    for name in LABELS:
        assert written in said.texts[name]
        assert "2,750.0 lb" in said.texts[name]
        assert "package not weighed: net weight estimated" in said.texts[name]
    together = estimate + 2750
    assert f"{together:,.1f} lb 1 of 2 weighed, rest estimated" in said.texts["order"]
    (shipment,) = tonnage_report("MD", today(), today()).shipments
    assert (shipment.weighed, shipment.estimated) == (1, 1)
    assert abs(shipment.lb - together) <= Decimal("0.5")
    assert "1 of 2 weighed, rest estimated" in said.texts["tons"]


def test_what_was_filled_beyond_the_order_stays_out_of_packing_list_label_and_tons(
    batch, plant_worker, formulator, office, signed_in
):
    made(batch, plant_worker)
    released(batch, formulator)
    filled(batch, plant_worker, *WEIGHED, "111")
    shipped(batch, office)
    said = said_of(batch, office, signed_in(office))
    for name in ("packing list", *LABELS):
        assert f"{batch.number}-03" not in said.texts[name]
    (shipment,) = tonnage_report("MD", today(), today()).shipments
    assert (shipment.lb, shipment.weighed, shipment.estimated) == (5500, 2, 0)
    assert "111 lb" in said.texts["record"] or " 111 " in said.texts["record"]


def test_a_customer_reads_no_internal_key_reason_or_exponent(batch, plant_worker, formulator):
    made(batch, plant_worker, WATER=120)
    released(
        batch, formulator, lab_analysis={"N.ammoniacal": 3.123456, "N": 24.1},
        lab_source="Field Lab, report 7",
    )  # fmt: skip
    agreed(batch, formulator)
    batch = Batch.objects.get(pk=batch.pk)
    told = str(certificate_view(batch.parts.get()).to_json())
    for inside in ("valve", "leaked", "N.ammoniacal", "e+0"):
        assert inside not in told
    record = batch_record_view(batch)
    assert "Ammoniacal nitrogen" in {figure.label for figure in record.analysis}
    assert "N.ammoniacal" not in str(record.to_json())
    (reading,) = record.readings
    assert reading.laboratory == (
        "Field Lab, report 7: Total nitrogen 24.1 %, Ammoniacal nitrogen 3.12346 %."
    )


def test_the_formulator_writes_down_the_agreement_where_the_refusal_says(
    batch, plant_worker, formulator, office, signed_in
):
    made(batch, plant_worker, WATER=120)
    released(batch, formulator)
    filled(batch, plant_worker, *WEIGHED)
    order = order_of(batch)
    page = signed_in(office).get(reverse("order_detail", args=[order.number])).content.decode()
    assert "Mark as shipped" not in page
    charging = reverse("batch_charge", args=[batch.number])
    assert charging in page
    client = signed_in(formulator)
    offer = client.get(charging).context["proposal"].offer
    answer = client.post(
        reverse("batch_lower", args=[batch.number]),
        {"key": new_key(), "seen": offer.digest, "agreed_with": "Casey Owner", "why": "valve"},
    )
    assert answer.status_code == 302
    page = signed_in(office).get(reverse("order_detail", args=[order.number])).content.decode()
    assert charging not in page
    shipped(batch, office)
    assert Order.objects.get(pk=order.pk).status == "shipped"


def test_a_quote_says_what_its_blend_was_sold_as(
    revision, rep, company, plant_worker, formulator, signed_in
):
    order = accepted_order(rep, company, revision=revision, quantity=2)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    url = reverse("quote_detail", args=[order.quote.number])
    client = signed_in(rep)
    assert "Sold as" not in client.get(url).content.decode()
    made(batch, plant_worker, WATER=120)
    (part,) = batch.parts.all()
    grade = sold_as(made_record(batch), part).grade
    assert f"Sold as {grade}" in client.get(url).content.decode()
