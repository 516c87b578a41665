"""Papers are drawn from the frozen record: whatever happens to the catalogue, they stay."""

import io

import pytest
from django.core.management import CommandError, call_command
from django.db.models import Q, QuerySet
from django.utils import timezone
from pypdf import PdfReader

from blendshop.errors import IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from formulas.engine.composition import in_label_order
from formulas.models import AnalysisFigure, BaseStock, StockCost
from orders.labels.actions import issue_label_draft
from orders.labels.view import label_draft_view
from orders.models import Package, Paper, PlantProfile, Tank
from orders.papers.actions import issue_batch_ticket
from orders.papers.gather import batch_ticket_view
from orders.papers.standing_texts import CAUTIONS, cautions
from orders.planning.actions.planning import plan_batches
from orders.portal.stored_papers import differences
from orders.production.actions.batches import cancel_batch
from orders.quoting.actions.paper import issue_quote_paper
from tests.factories import CompatibilityRuleFactory, TraitFactory
from tests.orders.labels.room_cases import with_room
from tests.orders.planning.plant_cases import accepted_order, make_shop, placed_order


def text_of(paper):
    pages = PdfReader(io.BytesIO(bytes(paper.pdf))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def turn_the_catalogue_upside_down():
    BaseStock.objects.update(
        name="renamed", derived_from="renamed", density_lb_per_gal=8.0, hazards="changed"
    )
    AnalysisFigure.objects.update(pct=1.0)
    Package.objects.update(price=999)
    for cost in StockCost.objects.all():
        StockCost.objects.create(
            stock=cost.stock,
            effective_from=timezone.localdate(),
            amount=cost.amount * 3,
            unit=cost.unit,
        )


def test_the_ticket_prints_the_planned_weights_in_charging_order(batch, plant_worker):
    paper = issue_batch_ticket(batch=batch, acting_user=plant_worker)
    text = text_of(paper)
    weights = [f"{step.weight_lb:,.0f}" for step in batch.load_plan.steps]
    assert [step.code for step in batch.load_plan.steps] == ["WATER", "UAN", "KAC", "TRZ"]
    places = [text.index(weight) for weight in weights]
    assert places == sorted(places)
    for words in (batch.number, "Half slow summer", "24-0-3", "Brookmeadow", "2 × 265 gal totes"):
        assert words in text
    assert f"/batches/{batch.number}/" in text


def test_the_ticket_prints_what_needs_care_and_leaves_what_goes_well_to_the_page(
    rep, company, plant_worker
):
    make_shop()
    for trait, effect in (("nitrate", "jar_test"), ("urea", "fine")):
        CompatibilityRuleFactory(
            trait_a=TraitFactory(code="urea_triazone"),
            trait_b=TraitFactory(code=trait),
            effect=effect,
            reason=f"{effect} said so.",
        )
    (batch,) = plan_batches(
        order=placed_order(rep, company), tank=Tank.objects.get(), acting_user=plant_worker
    )
    assert {"jar_test", "compatible"} <= {finding.code for finding in batch.load_plan.findings}
    text = text_of(issue_batch_ticket(batch=batch, acting_user=plant_worker))
    assert "jar_test said so." in text
    assert "fine said so." not in text


def test_no_paper_of_the_plant_speaks_of_money(batch, plant_worker):
    ticket = issue_batch_ticket(batch=batch, acting_user=plant_worker)
    for issued in (ticket, issue_label_draft(part=batch.parts.get(), acting_user=plant_worker)):
        text = text_of(issued).lower()
        for word in ("$", "price", "cost", "margin", "usd"):
            assert word not in text


def test_plant_papers_do_not_change_with_the_catalogue(batch, plant_worker):
    ticket = issue_batch_ticket(batch=batch, acting_user=plant_worker)
    label = issue_label_draft(part=batch.parts.get(), acting_user=plant_worker)
    turn_the_catalogue_upside_down()
    batch.refresh_from_db()
    assert issue_batch_ticket(batch=batch, acting_user=plant_worker) == ticket
    assert issue_label_draft(part=batch.parts.get(), acting_user=plant_worker) == label
    assert batch_ticket_view(batch).to_json() == ticket.snapshot
    assert label_draft_view(batch.parts.get()).to_json() == label.snapshot
    assert Paper.objects.filter(Q(batch=batch) | Q(part__batch=batch)).count() == 2


def test_a_paper_issued_before_snapshots_had_a_version_is_still_the_paper(batch, plant_worker):
    ticket = issue_batch_ticket(batch=batch, acting_user=plant_worker)
    before = {key: value for key, value in ticket.snapshot.items() if key != "version"}
    QuerySet.update(Paper.objects.filter(pk=ticket.pk), snapshot=before)
    assert issue_batch_ticket(batch=batch, acting_user=plant_worker) == ticket
    assert differences(Paper.objects.get(pk=ticket.pk)) == []


def test_a_quote_paper_does_not_change_with_the_catalogue_or_the_blends_name(rep, company):
    make_shop()
    quote = accepted_order(rep, company).quote
    paper = quote.papers.get()
    turn_the_catalogue_upside_down()
    blend = quote.lines.get().revision.blend
    type(blend).objects.filter(pk=blend.pk).update(name="Renamed blend")
    assert issue_quote_paper(quote=quote, acting_user=rep) == paper
    assert "Half slow summer" in text_of(paper)
    assert f"${quote.total:,.2f}" in text_of(paper)


def test_the_label_draft_guarantees_no_more_than_the_weights_hold(batch, plant_worker):
    with_room(batch)
    view = label_draft_view(batch.parts.get())
    held = batch.load_plan.least_pct
    assert view.grade == "24-0-3"
    for line in view.guarantees:
        assert float(line.pct) <= held[line.key] + 1e-5
    (marked,) = [line for line in view.guarantees if line.footnote_mark]
    assert marked.key == "N.slow"
    assert view.slow_release_statement == (
        f"*{marked.pct}% slowly available nitrogen from urea-triazone solution."
    )
    assert view.derived_from == (
        "urea-triazone solution",
        "urea ammonium nitrate solution",
        "potassium acetate solution",
    )
    # What a tote takes: the load holds somewhat more, so that every weight on target fills them.
    assert view.net_volume_gal == 265
    assert batch.target_gal > 2 * 265
    assert view.lot == batch.number


def test_the_label_draft_says_on_its_face_that_it_is_one_and_carries_the_cautions(
    batch, plant_worker
):
    text = text_of(issue_label_draft(part=batch.parts.get(), acting_user=plant_worker))
    assert "DRAFT for review, not a registered label" in text
    for words in ("storm drains", "impervious surfaces", "burn turf", "SDS", "freezing",
                  "Jar-test", "local fertilizer rules"):  # fmt: skip
        assert words in text
    assert "D.C. Code 8-104.05" in text, "the reviewer sees where a caution comes from"


def test_every_standing_text_names_its_source_and_iron_and_phosphate_add_theirs():
    assert all(text.source for text in CAUTIONS)
    added = set(cautions({"N": 20, "Fe": 0.1, "P2O5": 2.0})) - set(CAUTIONS)
    assert {text.text.split(":")[0] for text in added} == {
        "Contains iron",
        "Contains phosphate",
    }


def test_the_rate_on_the_label_is_the_handbook_arithmetic(batch):
    # 0.7 lb N per 1,000 sq ft of a 24 % product at 10.62 lb/gal: 0.7 / 0.24 lb of product,
    # over 10.62 lb/gal, times 128 fl oz/gal = 35.2 fl oz (units: NIST Handbook 44, appendix C).
    # A load with room holds a little more than 24 %, and so needs a little less product.
    n_pct, lb_per_gal = batch.load_plan.analysis["N"], batch.load_plan.density_lb_per_gal
    assert 24.0 <= n_pct < 24.3
    rate = label_draft_view(batch.parts.get()).directions[0]
    assert float(rate.split()[0]) == pytest.approx(0.7 / (n_pct / 100) / lb_per_gal * 128, abs=0.06)
    assert "fl oz of product per 1,000 sq ft bring 0.7 lb of nitrogen" in rate


def test_a_new_name_of_the_plant_gives_a_new_paper_that_names_the_old(batch, plant_worker):
    first = issue_batch_ticket(batch=batch, acting_user=plant_worker)
    PlantProfile.objects.update(name="Newly Named Plant")
    second = issue_batch_ticket(batch=batch, acting_user=plant_worker)
    assert second.replaces == first
    assert second.sha256 != first.sha256
    assert "Newly Named Plant" in text_of(second)
    assert "Newly Named Plant" not in text_of(Paper.objects.get(pk=first.pk))
    assert issue_batch_ticket(batch=batch, acting_user=plant_worker) == second


def test_an_issued_paper_cannot_be_edited_or_deleted(batch, plant_worker):
    paper = issue_batch_ticket(batch=batch, acting_user=plant_worker)
    paper.sha256 = "0" * 64
    for attempt in (
        paper.save,
        paper.delete,
        lambda: Paper.objects.update(sha256=""),
        lambda: Paper.objects.all().delete(),
    ):
        with pytest.raises(WrittenOnce):
            attempt()


def test_nothing_new_is_issued_for_a_cancelled_batch_but_what_was_printed_stays(
    batch, plant_worker
):
    ticket = issue_batch_ticket(batch=batch, acting_user=plant_worker)
    cancel_batch(batch=batch, acting_user=plant_worker, why="wrong tank")
    PlantProfile.objects.update(address="9 New Road, Testville")
    assert issue_batch_ticket(batch=batch, acting_user=plant_worker) == ticket
    with pytest.raises(IllegalMove, match="cancelled"):
        issue_label_draft(part=batch.parts.get(), acting_user=plant_worker)


def test_a_customer_does_not_issue_plant_papers(batch, customer):
    with pytest.raises(NotAllowed):
        issue_batch_ticket(batch=batch, acting_user=customer)
    with pytest.raises(NotAllowed):
        issue_label_draft(part=batch.parts.get(), acting_user=customer)


def verify():
    out, err = io.StringIO(), io.StringIO()
    call_command("verify_papers", stdout=out, stderr=err)
    return out.getvalue() + err.getvalue()


def test_verify_papers_passes_on_what_was_issued_and_changes_nothing(batch, plant_worker):
    issue_batch_ticket(batch=batch, acting_user=plant_worker)
    issue_label_draft(part=batch.parts.get(), acting_user=plant_worker)
    assert "2 papers checked" in verify()
    assert "2 papers checked" in verify()


@pytest.mark.parametrize("column", ["pdf", "snapshot", "sha256"])
def test_verify_papers_finds_a_paper_that_was_tampered_with(batch, plant_worker, column):
    paper = issue_batch_ticket(batch=batch, acting_user=plant_worker)
    forged = {
        "pdf": b"%PDF-1.4 forged",
        "snapshot": {**paper.snapshot, "product_name": "Something else"},
        "sha256": "0" * 64,
    }
    # Around every guard of the model, as somebody with a database shell would.
    QuerySet(model=Paper).filter(pk=paper.pk).update(**{column: forged[column]})
    paper.refresh_from_db()
    assert differences(paper)
    with pytest.raises(CommandError, match="found"):
        verify()


def test_a_stored_analysis_is_listed_as_on_a_label_however_the_database_kept_it():
    stored = {"N.slow": 12.0, "Fe": 0.1, "K2O": 3.0, "N.urea": 12.0, "N": 24.0}
    assert list(in_label_order(stored)) == ["N", "N.urea", "N.slow", "K2O", "Fe"]
    # A laboratory that found the total alone.
    assert in_label_order({"K2O": 3.1, "N": 24.3}) == {"N": 24.3, "K2O": 3.1}
