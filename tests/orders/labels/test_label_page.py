"""The label of a batch and its page: sources, metals, the law of the ship-to, who may see it."""

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.test import Client

from blendshop.accounts.models import User
from blendshop.roles import Role
from formulas.engine.label.metals import METALS, MetalVerdict
from formulas.models import BaseStock, Mark, MetalFigure
from orders.labels.actions import issue_label_draft
from orders.labels.batch_label import batch_label
from orders.labels.view import label_draft_view
from orders.models import Batch, BatchPart
from tests.factories import UserFactory
from tests.orders.labels.label_cases import label_part, text_of
from tests.orders.labels.room_cases import as_before
from tests.orders.planning.plant_cases import freeze_otherwise


def give_metals(ppm: float, *, but: tuple[str, ...] = ()) -> None:
    for stock in BaseStock.objects.exclude(code__in=but):
        for metal in METALS:
            MetalFigure.objects.create(
                stock=stock, metal=metal, ppm=ppm, source="certificate 7", mark=Mark.DEMO
            )


def verdicts(part: BatchPart) -> set[MetalVerdict]:
    return {check.verdict for rule, check in batch_label(part).metals if rule.code == "uniform"}


def page(client: Client, part: BatchPart) -> str:
    response = client.get(f"/batches/{part.batch.number}/parts/1/label/")
    assert response.status_code == 200
    return response.content.decode()


def test_a_metal_without_a_figure_in_any_stock_is_not_assessed(maker: User) -> None:
    give_metals(0.0, but=("WATER",))
    part = label_part(maker, "Summer half-slow with micros")
    found = verdicts(part)
    assert MetalVerdict.NOT_ASSESSED in found
    assert MetalVerdict.WITHIN not in found
    assert "Lead" in batch_label(part).metals_open
    lead = next(line for line in label_draft_view(part).metals if line.label == "Lead (Pb)")
    assert (lead.found_ppm, lead.verdict) == (None, "NOT ASSESSED")
    assert "WATER" in lead.note


def test_metals_are_those_of_the_plan_by_weight_and_their_certificates_are_named(
    maker: User,
) -> None:
    give_metals(2.0)
    part = label_part(maker, "Summer half-slow with micros")
    MetalFigure.objects.all().delete()  # the plan is frozen
    assert verdicts(part) == {MetalVerdict.WITHIN, MetalVerdict.EXEMPT}
    view = label_draft_view(part)
    assert all(line.found_ppm == pytest.approx(2.0) for line in view.metals)
    assert any("certificate 7 (demo" in note for note in view.review_notes)


def test_the_limit_is_the_published_figure_times_the_guarantees(maker: User) -> None:
    # Maine 01-001 CMR ch. 350 section 8: lead 463 ppm for each percent of micronutrients, of at
    # least one percent. The label guarantees iron 0.1, manganese 0.05 and zinc 0.05 percent;
    # chlorine is there, but nobody asked for its line.
    view = label_draft_view(label_part(maker, "Summer half-slow with micros"))
    guaranteed = {line.key: float(line.pct) for line in view.guarantees if not line.parent}
    assert "Cl" not in guaranteed
    total = sum(guaranteed[key] for key in ("Fe", "Mn", "Zn"))
    lead = next(line for line in view.metals if line.label == "Lead (Pb)")
    assert total == pytest.approx(0.2)
    assert lead.limit_ppm == pytest.approx(463 * 1)


def test_a_metal_above_its_limit_stands_at_the_top_of_the_page(
    maker: User, signed_in: Callable[[User], Client]
) -> None:
    give_metals(100.0)
    part = label_part(maker, "Summer half-slow with micros")
    text = page(signed_in(maker), part)
    # 83 ppm of cadmium and 6 of mercury for one percent of micronutrients; arsenic 112.
    assert "Above the metals limit:</strong> Cadmium, Mercury." in text
    assert "<strong>ABOVE the limit</strong>" in text


def test_chelated_parts_and_sources_come_term_by_term(maker: User) -> None:
    view = label_draft_view(label_part(maker, "Summer half-slow with micros"))
    parts = {line.key: line.parent for line in view.guarantees if line.key.endswith("chelated")}
    assert parts == {"Fe.chelated": "Fe", "Mn.chelated": "Mn", "Zn.chelated": "Zn"}
    assert "copper EDTA" not in view.derived_from, "copper is not guaranteed"
    assert {"iron DTPA", "manganese EDTA", "zinc EDTA"} <= set(view.derived_from)


def test_other_ingredients_name_what_they_come_from_and_stay_out_of_the_nutrient_sources(
    maker: User,
) -> None:
    view = label_draft_view(label_part(maker, "Humic, fulvic and seaweed"))
    origins = {item.label: item.derived_from for item in view.other_ingredients}
    assert origins == {
        "Humic acid": "leonardite",
        "Fulvic acid": "leonardite",
        "Seaweed extract": "",  # its name says it
    }
    assert "leonardite" not in view.derived_from
    assert not any("no source of it is named" in note for note in view.review_notes)
    assert view.purpose_statement == "", "a purpose is the registrant's claim"


def test_a_stated_origin_stands_alone_beside_a_nutrient_source_of_a_like_name(maker: User) -> None:
    BaseStock.objects.filter(code="HUMIC12").update(derived_from="potassium humate")
    view = label_draft_view(label_part(maker, "Triazone and humic one to one"))
    assert [item.derived_from for item in view.other_ingredients] == ["leonardite"]
    assert view.derived_from == ("urea-triazone solution", "potassium humate")


def test_inhibitors_state_their_purpose(maker: User) -> None:
    view = label_draft_view(label_part(maker, "Budget stabilised 28-0-0"))
    assert view.stabilized_nitrogen_statement.startswith(
        "Stabilized nitrogen: contains N-(n-butyl)"
    )
    assert view.purpose_statement
    assert not any("no source of it is named" in note for note in view.review_notes)


@pytest.mark.parametrize(
    ("state", "grade", "words"),
    [
        ("MD", "15.3-0-0.3", "Grade by the rule of Maryland"),
        ("WI", "15-0-0.3", "Grade by the rule of Wisconsin"),  # decimals below one percent
        ("IN", "15-0-0", "Grade by the rule of Indiana"),  # whole numbers, always down
        ("FL", "15.3-0-0.3", "No grade rule of FL was read"),
    ],
)
def test_the_grade_follows_the_rule_of_the_ship_to(
    maker: User, state: str, grade: str, words: str
) -> None:
    part = label_part(maker, "Humic, fulvic and seaweed", state=state)
    lines = {**part.batch.load_plan.printed_pct, "N": Decimal("15.3"), "K2O": Decimal("0.3")}
    lines["N.urea"] = lines["N"] - lines["N.slow"]
    freeze_otherwise(part.batch, printed_pct=lines)
    view = label_draft_view(part)
    assert view.grade == grade
    assert any(words in note for note in view.review_notes)


def test_a_prescribed_sentence_is_printed_word_for_word_and_listed(maker: User) -> None:
    # D.C. Code 8-104.05(a)(4)(A)
    sentence = (
        "Do not apply near water, storm drains or drainage ditches. Do not apply if heavy rain is "
        "expected. Apply this product only to your lawn, and sweep any product that lands on the "
        "driveway, sidewalk, or street back onto your lawn."
    )
    view = label_draft_view(label_part(maker, "Iron and boron", state="DC"))
    assert view.cautions[0] == sentence
    assert sum("storm drains" in caution for caution in view.cautions) == 1
    assert any(duty.text == sentence for duty in view.duties)
    elsewhere = label_draft_view(label_part_again(maker, "MD"))
    assert sentence not in elsewhere.cautions


def label_part_again(maker: User, state: str) -> BatchPart:
    Batch.objects.update(number="B-2026-00001")
    return label_part(maker, "Triazone and humic one to one", state=state)


def test_boron_warns_from_the_content_of_the_first_state_that_asks(maker: User) -> None:
    # 355 IAC 2-1-5: from 0.03 % water-soluble boron; WAC 16-200-711: above 0.1 %.
    view = label_draft_view(label_part(maker, "Iron and boron", state="WA"))
    assert any("contains boron" in caution for caution in view.cautions)
    assert any("355 IAC 2-1-5" in note for note in view.review_notes)
    assert any("WAC 16-200-7064" in note for note in view.review_notes), "yearly load is open"


def test_phosphate_brings_californias_metals_statement_word_for_word(maker: User) -> None:
    view = label_draft_view(label_part(maker, "Iron and boron", state="CA"))
    assert view.metals_statement == (
        "Information regarding the contents and levels of metals in this product is available on "
        "the internet at www.aapfco.org/metals.html"
    )


def test_the_page_shows_hints_unclaimed_contents_duties_and_the_preview(
    maker: User, signed_in: Callable[[User], Client]
) -> None:
    part = label_part(maker, "Summer half-slow with micros", state="WI")
    text = page(signed_in(maker), part)
    assert "below the 0.05 % from which it may be guaranteed" in text  # copper
    assert "WAC 16-200-711" in text
    assert "A container of more than 55 gallons of liquid is bulk" in text
    assert "Peso neto" in text
    assert "Metals not assessed:" in text
    for layout in ("letter.pdf", "placard.pdf", "4x6.pdf"):
        assert f"/batches/{part.batch.number}/parts/1/label/{layout}" in text
    assert "style=" not in text
    assert "<script>" not in text


def test_a_hint_says_how_little_more_would_print_the_next_figure(
    maker: User, signed_in: Callable[[User], Client]
) -> None:
    part = label_part(maker, "Summer half-slow with micros")
    as_before(part.batch)  # a plan with room prints what was wished and needs no hint
    short = {**part.batch.load_plan.analysis, "K2O": 2.096}
    freeze_otherwise(part.batch, analysis=short)
    text = page(signed_in(maker), part)
    assert "0.004 % more Soluble Potash (K2O) would let the label say 2.1." in text


def test_only_formulators_get_the_form_and_customers_get_the_issued_draft_alone(
    maker: User,
    plant_worker: User,
    signed_in: Callable[[User], Client],
) -> None:
    part = label_part(maker, "Summer half-slow with micros")
    assert "Change the label" in page(signed_in(maker), part)
    assert "Change the label" not in page(signed_in(plant_worker), part)
    owner = UserFactory(role=Role.CUSTOMER, company=part.order_line.order.company)
    client = signed_in(owner)
    assert client.get(f"/batches/{part.batch.number}/parts/1/label/").status_code == 403
    paper = issue_label_draft(part=part, acting_user=maker)
    assert client.get(f"/papers/{paper.pk}.pdf").status_code == 200
    assert "GUARANTEED ANALYSIS" in text_of(bytes(paper.pdf))
