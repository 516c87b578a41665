"""A reading set aside as wrong is a density nowhere; looks and pH are never written down unseen."""

import re
from pathlib import Path

import pytest
from django.urls import reverse

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from formulas.models import BlendRevision
from orders.frozen.load_plan import DensityWindow
from orders.labels.batch_contents import charged_contents
from orders.labels.view import label_draft_view
from orders.models import MeasuredDensity, QualityReading, Tank
from orders.papers.batch_record_pdf import render_batch_record
from orders.papers.certificate_pdf import render_certificate
from orders.papers.gather_batch_record import batch_record_view
from orders.papers.gather_certificate import certificate_view
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import release_batch
from orders.production.actions.quality import adopt_density, set_aside_reading
from orders.production.as_made import as_made
from orders.production.density_read import counting_reading
from orders.production.made_record import made_record
from orders.production.release_checks import NO_READING, release_hindrances
from orders.production.steps import batch_steps
from tests.orders.labels.label_cases import text_of
from tests.orders.ordering.test_board_pages import body
from tests.orders.planning.plant_cases import placed_order
from tests.orders.production.charging_cases import new_key, read_density

ORDERS = Path(__file__).resolve().parents[3] / "orders"


@pytest.fixture
def too_light(made, plant_worker):
    """A hydrometer read 1.5 lb/gal too light."""
    return read_density(made, plant_worker, density_lb_per_gal=9.2)


def page(batch, client, form=None, route="batch_quality"):
    address = reverse(route, args=[batch.number])
    return client.get(address) if form is None else client.post(address, form)


def calculated(batch):
    return as_made(batch, batch_steps(batch)).density_lb_per_gal


def test_whoever_releases_against_a_reading_says_whether_it_was_wrong(made, too_light, formulator):
    with pytest.raises(BadInput) as refused:
        release_batch(batch=made, acting_user=formulator, why="Hydrometer off.")
    assert set(refused.value.fields) == {"reading_is_wrong"}
    release_batch(batch=made, acting_user=formulator, why="Hydrometer off.", reading_is_wrong=True)
    event = made.events.last()
    assert event.to_status == "released"
    assert event.data["reading_is_wrong"] is True
    assert too_light.set_aside.why == "Hydrometer off."
    assert too_light.set_aside.who == "Fran Form"


def test_a_wrong_reading_is_no_density_on_label_certificate_or_record(made, too_light, formulator):
    release_batch(batch=made, acting_user=formulator, why="Hydrometer off.", reading_is_wrong=True)
    computed = calculated(made)
    assert counting_reading(made) is None
    assert not made_record(made).density.is_read
    assert charged_contents(made_record(made)).density_lb_per_gal == computed
    part = made.parts.get()
    assert label_draft_view(part).density_lb_per_gal == pytest.approx(computed, abs=1e-4)
    certificate = certificate_view(part)
    assert certificate.density_lb_per_gal == computed
    printed = text_of(render_certificate(certificate))
    assert f"{computed:.2f} lb/gal" in printed
    assert "calculated from the weights charged" in printed
    assert "9.2" not in printed
    record = text_of(render_batch_record(batch_record_view(made)))
    assert "9.20 lb/gal" in record  # what was read stays readable
    assert "Set aside as wrong by Fran Form: Hydrometer off." in record


def test_a_reading_outside_that_was_right_is_the_density(made, too_light, formulator):
    release_batch(
        batch=made, acting_user=formulator, why="Thinned on purpose.", reading_is_wrong=False
    )
    reading = too_light.density_at_reference
    assert charged_contents(made_record(made)).density_lb_per_gal == reading
    certificate = certificate_view(made.parts.get())
    assert certificate.density_lb_per_gal == reading
    assert not certificate.density_is_calculated


def test_the_newest_reading_that_counts_is_the_density(made, plant_worker, formulator):
    good = read_density(made, plant_worker)
    wrong = read_density(made, plant_worker, density_lb_per_gal=9.2)
    release_batch(
        batch=made, acting_user=formulator, why="Second one misread.", reading_is_wrong=True
    )
    assert counting_reading(made) == good
    assert charged_contents(made_record(made)).density_lb_per_gal == good.density_at_reference
    with pytest.raises(IllegalMove, match="set aside"):
        adopt_density(reading=wrong, key=new_key(), acting_user=formulator)
    adopt_density(reading=good, key=new_key(), acting_user=formulator)


def test_a_reading_set_aside_after_it_was_adopted_centres_no_later_plan(
    made, plant_worker, formulator, rep, company
):
    high = made.load_plan.density_window.high_lb_per_gal - 0.01
    reading = read_density(made, plant_worker, density_lb_per_gal=high)
    release_batch(batch=made, acting_user=plant_worker)
    adopt_density(reading=reading, key=new_key(), acting_user=formulator)
    revision = made.parts.get().order_line.revision
    assert MeasuredDensity.objects.get().reading == reading
    assert revision.measured_densities.get().reading == reading
    set_aside_reading(
        reading=reading, why="Wrong tank read.", key=new_key(), acting_user=formulator
    )
    assert not MeasuredDensity.objects.exists()
    assert not revision.measured_densities.exists()
    assert (
        not BlendRevision.objects.prefetch_related("measured_densities")
        .get(pk=revision.pk)
        .measured_densities.all()
    )
    assert reading.adopted  # the row is written once and stays
    order = placed_order(rep, company, quantity=2, revision=revision)
    (later,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    assert later.load_plan.density_window == made.load_plan.density_window


def test_a_reading_set_aside_holds_no_batch_and_is_no_reading(made, too_light, formulator):
    assert "Density 9.20 lb/gal is below" in release_hindrances(made)[0]
    set_aside_reading(reading=too_light, why="Misread.", key=new_key(), acting_user=formulator)
    assert release_hindrances(made) == [NO_READING]


def test_only_a_formulator_sets_aside_with_a_reason_and_once(
    made, too_light, plant_worker, formulator
):
    with pytest.raises(NotAllowed):
        set_aside_reading(reading=too_light, why="x", key=new_key(), acting_user=plant_worker)
    with pytest.raises(BadInput):
        set_aside_reading(reading=too_light, why=" ", key=new_key(), acting_user=formulator)
    first = set_aside_reading(reading=too_light, why="a", key=new_key(), acting_user=formulator)
    again = set_aside_reading(reading=too_light, why="b", key=new_key(), acting_user=formulator)
    assert first == again


def test_everybody_reads_a_density_through_one_door():
    """No other module asks for the newest reading by itself; adopted densities guard themselves.

    The loader of a large plant writes readings in bulk and asks for none.
    """
    door = {
        "models/charging.py",
        "production/density_read.py",
        "demo/large/actions/making.py",
    }
    asking = re.compile(r"QualityReading\.objects")
    newest = re.compile(r"readings\.order_by\(\"-pk\"\)\.(first|last)|readings\.(first|last)\(")
    found = [
        path.relative_to(ORDERS).as_posix()
        for path in ORDERS.rglob("*.py")
        if "migrations" not in path.parts
        for text in [path.read_text()]
        if asking.search(text) or newest.search(text)
    ]
    assert set(found) <= door
    assert "production/density_read.py" in found


# ------------------------------------------------------------------------------- the pages


def test_looks_and_ph_have_no_default_and_missing_they_are_field_errors(
    made, plant_worker, signed_in
):
    client = signed_in(plant_worker)
    html = body(page(made, client))
    looks = html.split('name="appearance"')[1].split("</select>")[0]
    assert re.search(r'<option value="" selected', looks)
    assert not re.search(r'name="ph"[^>]* value=', html)
    typed = {
        "key": new_key(),
        "density_lb_per_gal": "10.61",
        "temperature_f": "67.5",
        "note": "Sample from the valve.",
    }
    answer = page(made, client, typed)
    assert answer.status_code == 400
    again = answer.content.decode()
    for name in ("ph", "appearance"):
        assert f'id="id_{name}_error"' in again
    for value in ("10.61", "67.5", "Sample from the valve."):
        assert f'value="{value}"' in again
    assert not QualityReading.objects.exists()
    whole = {**typed, "ph": "7.2", "appearance": "clear"}
    assert page(made, client, whole).status_code == 302
    assert QualityReading.objects.get().ph == 7.2


def test_the_release_comes_back_asking_about_the_reading_with_the_reason_kept(
    made, too_light, formulator, signed_in
):
    client = signed_in(formulator)
    answer = page(made, client, {"why": "Checked twice."}, "batch_release")
    assert answer.status_code == 400
    html = answer.content.decode()
    assert "Say whether the reading was wrong." in html
    assert 'value="Checked twice."' in html
    form = {"why": "", "reading_is_wrong": "yes"}
    html = page(made, client, form, "batch_release").content.decode()
    assert "Give a reason." in html
    assert re.search(r'value="yes"[^>]*checked', html)
    form = {"why": "Checked twice.", "reading_is_wrong": "yes"}
    assert page(made, client, form, "batch_release").status_code == 302
    html = body(page(made, client))
    assert "set aside, counts for nothing" in html
    assert "Let later plans" not in html


def test_nobody_is_asked_about_a_reading_inside_its_window(measured, plant_worker, signed_in):
    client = signed_in(plant_worker)
    assert "reading_is_wrong" not in body(page(measured, client))
    assert page(measured, client, {}, "batch_release").status_code == 302


def test_a_reading_is_set_aside_on_the_page(made, plant_worker, formulator, signed_in):
    reading = read_density(made, plant_worker)
    form = {"key": new_key(), "reading": str(reading.pk), "why": ""}
    client = signed_in(formulator)
    answer = page(made, client, form, "batch_set_aside")
    assert answer.status_code == 400
    assert f'id="aside-{reading.pk}_why_error"' in answer.content.decode()
    form["why"] = "Wrong sample."
    assert page(made, client, form, "batch_set_aside").status_code == 302
    assert "Wrong sample." in body(page(made, client))
    assert "This reading was wrong" not in body(page(made, signed_in(plant_worker)))


def test_a_density_that_the_tables_do_not_reach_stands_beside_its_field(
    made, plant_worker, signed_in
):
    assert isinstance(made.load_plan.density_window, DensityWindow)
    typed = {
        "key": new_key(),
        "density_lb_per_gal": "10.6",
        "temperature_f": "200",
        "ph": "7",
        "appearance": "clear",
    }
    html = page(made, signed_in(plant_worker), typed).content.decode()
    assert 'id="id_temperature_f_error"' in html
    assert 'value="200"' in html
