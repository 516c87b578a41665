"""A tank nothing can make right: sold as the best it honestly is, when somebody agreed to it."""

import pytest
from django.urls import reverse

from blendshop.errors import BadInput, ChangedMeanwhile, NotAllowed
from formulas.engine.label.assay_check import Verdict
from orders.labels.batch_label import batch_label, printed_lines
from orders.models import LoweredPromise, Tank
from orders.papers.actions import issue_batch_record, issue_certificate, issue_package_labels
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.charging import charge_lot
from orders.production.actions.corrections import accept_lower_promise
from orders.production.actions.packaging import fill_packages
from orders.production.as_made import as_made
from orders.production.corrections import proposal
from orders.production.steps import batch_steps
from tests.factories import today
from tests.orders.labels.label_cases import text_of
from tests.orders.production.charging_cases import (
    MEANT,
    charge_all,
    lots_of,
    new_key,
    read_density,
)


@pytest.fixture
def overcharged(batch, lots, plant_worker):
    """Half a ton of water too much in a tank with no room for a correction."""
    Tank.objects.update(capacity_gal=round(batch.load_plan.volume_gal) + 60)
    batch.refresh_from_db()
    water = batch_steps(batch)[0]
    charge_lot(
        batch=batch, step=1, lot=None, mass_lb=water.target_lb + 450, key=new_key(),
        acting_user=plant_worker, confirmed=MEANT,
    )  # fmt: skip
    charge_all(batch, lots, plant_worker)
    return batch


def offered(batch):
    return proposal(batch, batch_steps(batch), today()).offer


def lower(batch, by, **changed):
    answers = {"agreed_with": "Casey Owner, by phone", "why": "valve stuck open", "key": new_key()}
    answers["seen"] = changed.pop("seen", None) or offered(batch).digest
    return accept_lower_promise(batch=batch, acting_user=by, **(answers | changed))


def test_the_offer_says_of_every_promise_what_is_left(overcharged):
    offer = offered(overcharged)
    made = as_made(overcharged, batch_steps(overcharged))
    assert offer.grade != overcharged.grade
    assert {line.name for line in offer.lines} >= {"Total nitrogen", "Soluble potash"}
    nitrogen = next(line for line in offer.lines if line.name == "Total nitrogen")
    assert nitrogen.was_pct == 24
    assert nitrogen.now_pct < 24
    if not offer.additions:  # otherwise it is held after them
        assert nitrogen.now_pct <= made.analysis["N"]


def test_an_accepted_offer_is_the_batch_s_promise_from_then_on(
    overcharged, formulator, plant_worker
):
    plan, offer = overcharged.load_plan, offered(overcharged)
    lowered = lower(overcharged, formulator)
    overcharged.refresh_from_db()
    assert (overcharged.load_plan, overcharged.grade, lowered.grade) == (
        plan,
        offer.grade,
        offer.grade,
    )
    assert "Casey Owner" in overcharged.events.last().why
    charge_all(overcharged, lots_of(overcharged, plant_worker), plant_worker)
    made = as_made(overcharged, batch_steps(overcharged))
    assert {check.key for check in made.guarantees} >= {"N", "K2O"}
    assert {check.verdict for check in made.guarantees} == {Verdict.MEETS}
    assert proposal(overcharged, batch_steps(overcharged), today()) is None
    mark_made(batch=overcharged, acting_user=plant_worker)
    overcharged.refresh_from_db()
    low_lb_per_gal = overcharged.load_plan.density_window.low_lb_per_gal
    read_density(overcharged, plant_worker, density_lb_per_gal=low_lb_per_gal + 0.01)
    release_batch(batch=overcharged, acting_user=plant_worker)
    assert overcharged.status == "released"


def test_papers_say_what_it_was_lowered_from_and_to_and_who_agreed(
    overcharged, formulator, plant_worker
):
    before = overcharged.grade
    lower(overcharged, formulator)
    overcharged.refresh_from_db()
    charge_all(overcharged, lots_of(overcharged, plant_worker), plant_worker)
    mark_made(batch=overcharged, acting_user=plant_worker)
    overcharged.refresh_from_db()
    read_density(overcharged, plant_worker)
    release_batch(batch=overcharged, acting_user=plant_worker)
    part = overcharged.parts.get()
    fill_packages(part=part, net_lb=[2000], key=new_key(), acting_user=plant_worker)
    record = text_of(bytes(issue_batch_record(batch=overcharged, acting_user=plant_worker).pdf))
    assert f"Promise lowered from {before} to {overcharged.grade}" in " ".join(record.split())
    certificate = text_of(bytes(issue_certificate(part=part, acting_user=plant_worker).pdf))
    assert "as agreed with Casey Owner, by phone" in " ".join(certificate.split())
    labels = text_of(bytes(issue_package_labels(batch=overcharged, acting_user=plant_worker).pdf))
    assert overcharged.grade in labels
    assert before not in labels
    figures = {key: pct for key, (_, pct) in printed_lines(batch_label(part).draft).items()}
    assert (
        float(figures["N"]) <= as_made(overcharged, batch_steps(overcharged)).analysis["N"] + 1e-9
    )


def test_only_a_formulator_lowers_a_promise_and_says_why_and_who_agreed(
    overcharged, plant_worker, formulator
):
    with pytest.raises(NotAllowed):
        lower(overcharged, plant_worker)
    for missing in ("agreed_with", "why"):
        with pytest.raises(BadInput) as refused:
            lower(overcharged, formulator, **{missing: "  "})
        assert missing in refused.value.fields
    assert not LoweredPromise.objects.exists()


def test_an_offer_that_has_changed_is_not_accepted_and_a_repeat_changes_nothing(
    overcharged, formulator, plant_worker
):
    stale = offered(overcharged).digest
    charge_lot(
        batch=overcharged, step=1, lot=None, mass_lb=20, key=new_key(),
        acting_user=plant_worker, confirmed=MEANT,
    )  # fmt: skip
    overcharged.refresh_from_db()
    with pytest.raises(ChangedMeanwhile):
        lower(overcharged, formulator, seen=stale)
    seen, key = offered(overcharged).digest, new_key()
    first = lower(overcharged, formulator, seen=seen, key=key)
    assert lower(overcharged, formulator, seen=seen, key=key) == first
    assert LoweredPromise.objects.count() == 1


def test_the_formulator_lowers_it_on_the_charging_page(
    overcharged, formulator, plant_worker, signed_in
):
    url = reverse("batch_charge", args=[overcharged.number])
    page = signed_in(plant_worker).get(url).content.decode()
    assert "Best it can be sold as" in page
    assert "Sell it as" not in page
    client = signed_in(formulator)
    assert "Sell it as" in client.get(url).content.decode()
    answer = client.post(
        reverse("batch_lower", args=[overcharged.number]),
        {
            "key": new_key(), "seen": offered(overcharged).digest, "agreed_with": "Casey Owner",
            "why": "valve stuck",
        },
        follow=True,
    )  # fmt: skip
    page = answer.content.decode()
    assert "is sold as" in page
    assert "lowered)" in page
