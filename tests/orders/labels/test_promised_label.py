"""The label prints the promise: the same for every load of a revision that keeps it."""

import itertools
import re
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest
from django.test import Client

from blendshop.accounts.models import User
from formulas.contracts.label_drafts import label_draft
from formulas.engine.label.metals import METALS, MetalVerdict
from orders.frozen.load_plan import PlannedHeel, PlannedLot, StockMetal
from orders.labels.actions import issue_label_draft
from orders.labels.batch_contents import planned_contents
from orders.labels.batch_label import batch_label, printed_lines
from orders.labels.draft_pdf import render_label_draft
from orders.labels.label_basis import least_chelated
from orders.labels.sheets import render_label_placard, render_label_small
from orders.labels.view import label_draft_view
from orders.models import Batch, BatchPart
from tests.orders.labels.label_cases import label_part, text_of
from tests.orders.labels.room_cases import as_before, with_room
from tests.orders.planning.plant_cases import freeze_otherwise
from tests.orders.production.charging_cases import read_density, received

Charge = Callable[..., BatchPart]


def lines(part: BatchPart) -> dict[str, Decimal]:
    return {key: pct for key, (_, pct) in printed_lines(batch_label(part).draft).items()}


def sheet(part: BatchPart) -> str:
    """The label as it is stuck on the tote, word for word."""
    return text_of(render_label_small(label_draft_view(part)))


def page(client: Client, part: BatchPart) -> str:
    response = client.get(f"/batches/{part.batch.number}/parts/1/label/")
    assert response.status_code == 200
    return response.content.decode()


def test_the_wished_total_is_printed_and_not_the_room_that_keeps_it(batch: Batch) -> None:
    assert batch.load_plan.least_pct["N"] > 24.0
    printed = lines(batch.parts.get())
    assert (printed["N"], printed["K2O"]) == (24, 3)
    assert sum(pct for key, pct in printed.items() if key.startswith("N.")) == 24


def test_a_richer_load_of_the_revision_has_the_same_label(batch: Batch) -> None:
    first = sheet(batch.parts.get())
    plan = batch.load_plan
    richer = {key: pct * 1.02 for key, pct in plan.least_pct.items()}
    # Iron that came with other lots is no line of this product.
    freeze_otherwise(batch, least_pct={**richer, "Fe": 0.4}, analysis={**plan.analysis, **richer})
    again = lines(batch.parts.get())
    assert {key: str(pct) for key, pct in again.items() if key != "slow_release"} == {
        key: str(pct) for key, pct in plan.printed_pct.items()
    }
    # Only what the load itself is changes: the rate that the heavier nitrogen needs.
    assert _without_rate(sheet(batch.parts.get())) == _without_rate(first)


def _flat(text: str) -> str:
    """In one line, figures of oxides on the line as the page has them."""
    return " ".join(text.translate(str.maketrans("₂₅", "25")).split())


def _without_rate(text: str) -> str:
    return re.sub(r"[\d.]+ fl oz", "", text)


@pytest.mark.parametrize("signs", [(1, 1, 1, 1), (-1, 1, -1, 1), (1, -1, 1, -1)])
def test_the_label_stands_word_for_word_when_every_weight_was_on_target(
    batch: Batch, charged: Charge, signs: tuple[int, ...]
) -> None:
    before = sheet(batch.parts.get())
    off = {
        step.code: Decimal(str(sign * (step.tolerance_lb or 0)))
        for step, sign in zip(batch.load_plan.steps, itertools.cycle(signs), strict=False)
    }
    part = charged(off_lb=off)
    label = batch_label(part)
    assert label.contents.is_charged
    assert label.missed == ()
    assert sheet(part) == before


def test_every_corner_of_the_weights_keeps_every_printed_line(maker: User) -> None:
    """Parts too: chelated iron is not among the contents that a plan bounds."""
    part = label_part(maker, "Summer half-slow with micros")
    printed = lines(part)
    assert "Fe.chelated" in printed
    plan, contents = part.batch.load_plan, planned_contents(part.batch)
    for signs in itertools.product((-1, 1), repeat=len(plan.steps)):
        weights = {
            step.code: step.weight_lb + sign * (step.tolerance_lb or 0.0)
            for step, sign in zip(plan.steps, signs, strict=True)
        }
        held: dict[str, float] = {}
        for each in contents.stocks:
            share = weights[each.code] / sum(weights.values())
            for key, pct in each.analysis.items():
                held[key] = held.get(key, 0.0) + share * pct
                if "chelate" in each.figures.traits:
                    held[f"{key}.chelated"] = held.get(f"{key}.chelated", 0.0) + share * pct
        held["N"] = sum(pct for key, pct in held.items() if key.startswith("N."))
        held["slow_release"] = held["N.slow"]
        assert all(float(pct) <= held[key] + 2.5e-6 for key, pct in printed.items())


def test_the_page_and_the_paper_name_the_line_that_the_charge_misses(
    batch: Batch,
    charged: Charge,
    plant_worker: User,
    formulator: User,
    signed_in: Callable[[User], Client],
) -> None:
    client = signed_in(formulator)
    assert "Not kept by what was charged" not in page(client, batch.parts.get())
    weak = received("KAC", plant_worker, figures={"K2O": 22.0})
    part = charged(KAC=weak)
    (missed,) = batch_label(part).missed
    assert (missed.label, missed.printed) == ("Soluble Potash (K2O)", "3%")
    held = batch_label(part).contents.analysis["K2O"]
    assert missed.held_pct == pytest.approx(held)
    assert held < 3
    words = f"Soluble Potash (K2O) 3%, charged {held:.4f}%"
    assert f"Not kept by what was charged:</strong> {words}." in page(client, part)
    # Potash follows the weights down; what still holds says what was wished.
    assert lines(part)["K2O"] == Decimal(f"{held:.6f}").quantize(Decimal("0.1"), "ROUND_FLOOR")
    assert lines(part)["N"] == 24
    assert f"Missed: {words}." in _flat(text_of(render_label_draft(label_draft_view(part))))


def test_a_label_in_a_state_of_whole_numbers_rounds_the_promise_down(maker: User) -> None:
    # Ind. Code 15-16-2-31(g): whole numbers.
    part = label_part(maker, "Humic, fulvic and seaweed", state="IN")
    printed = lines(part)
    promised = part.batch.load_plan.printed_pct
    assert promised["K2O"] > 0
    assert "K2O" not in printed, "below one percent nothing whole is left"
    forms = sum(pct for key, pct in printed.items() if key.startswith("N."))
    assert forms == printed["N"] == int(promised["N"])


def test_page_papers_and_api_say_the_same_figures(
    maker: User, signed_in: Callable[[User], Client]
) -> None:
    part = label_part(maker, "Summer half-slow with micros")
    label = batch_label(part)
    basis = label.draft.basis
    assert basis is not None
    answer = label_draft(
        {
            "analysis": dict(basis.analysis),
            "kind": basis.kind,
            "sources": [
                {"name": s.name, "supplies": dict(s.supplies), "share_pct": s.share_pct}
                for s in basis.sources
            ],
            "density_lb_per_gal": basis.density_lb_per_gal,
            "volume_gal": basis.volume_gal,
            "chelated": dict(basis.chelated),
            "promised": dict(basis.promised),
            "jurisdiction": "MD",
        }
    )
    said = [(line.label, line.printed) for line in answer.guarantees]
    assert said == [(line.label, line.printed) for line in label.draft.guarantees]
    view, html = label_draft_view(part, label), page(signed_in(maker), part)
    assert view.derived_from == tuple(answer.derived_from)
    net = answer.net_printed
    weight = f"{net['lb']} lb ({net['kg']} kg)"
    volume = f"{net['gal']} gal ({net['L']} L)"
    texts = [
        _flat(text_of(render(view)))
        for render in (render_label_draft, render_label_placard, render_label_small)
    ]
    flat = re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", html))
    for text in (*texts, flat):
        assert weight in text
        assert volume in text
        assert f"*{answer.slow_release_statement}." in text
        for line in answer.guarantees:
            figure, name = re.escape(line.printed), re.escape(line.label)
            printed = rf"{figure}% {name}" if line.parent else rf"{name}[ .]+{figure}%"
            assert re.search(printed, text), (line, text)


def test_net_contents_of_the_label_are_never_more_than_is_in_the_tote(batch: Batch) -> None:
    part = batch.parts.get()
    freeze_otherwise(batch, density_lb_per_gal=10.70019)
    view, net = label_draft_view(part), batch_label(part).draft.net
    for printed, held in (
        (view.net_mass_lb, net.lb),
        (view.net_mass_kg, net.kg),
        (view.net_volume_gal, net.gal),
        (view.net_volume_l, net.L),
    ):
        assert 0 <= held - printed < 0.1
        assert f"{printed:,.1f}" in sheet(part)


def test_net_weight_and_density_follow_the_reading_and_the_guarantees_do_not(
    batch: Batch, charged: Charge, plant_worker: User
) -> None:
    before = label_draft_view(batch.parts.get())
    part = charged()
    window = batch.load_plan.density_window
    for read_lb_per_gal in (window.high_lb_per_gal, window.low_lb_per_gal):
        read_density(batch, plant_worker, density_lb_per_gal=read_lb_per_gal)
        view = label_draft_view(part)
        assert view.density_lb_per_gal == pytest.approx(read_lb_per_gal, abs=1e-6)
        assert view.net_mass_lb == pytest.approx(view.net_volume_gal * read_lb_per_gal, abs=1.1)
        assert view.guarantees == before.guarantees
    assert view.net_mass_lb < before.net_mass_lb


def test_a_plan_without_lines_prints_its_own_worst_case(batch: Batch) -> None:
    with_room(batch, has_lines=False)
    printed = lines(batch.parts.get())
    least = batch.load_plan.least_pct
    assert printed["N"] == 24
    assert printed["N.slow"] == Decimal(f"{least['N.slow']:.6f}").quantize(
        Decimal("0.01"), "ROUND_FLOOR"
    )


def test_a_plan_of_before_keeps_its_label(batch: Batch) -> None:
    as_before(batch)
    freeze_otherwise(batch, analysis={**batch.load_plan.analysis, "K2O": 3.24})
    part = batch.parts.get()
    assert lines(part)["K2O"] == Decimal("3.2"), "its analysis, not the wished 3"
    assert "the weights decide" in " ".join(label_draft_view(part).review_notes)


def test_chlorine_has_a_line_only_in_a_blend_that_was_asked_for_it(maker: User) -> None:
    part = label_part(maker, "Summer half-slow with micros")
    assert part.batch.load_plan.least_pct["Cl"] > 1
    assert "Cl" not in lines(part)
    promised = part.batch.load_plan.promised
    asked = replace(promised, minima_pct={**promised.minima_pct, "Cl": 1.0})
    freeze_otherwise(part.batch, promised=asked, printed_pct={})
    assert lines(part)["Cl"] > 1


def test_beside_a_heel_no_metal_is_passed_and_the_reviewer_is_told(batch: Batch) -> None:
    plan = batch.load_plan
    steps = tuple(
        replace(step, metals=dict.fromkeys(METALS, StockMetal(0.5, "certificate 3")))
        for step in plan.steps
    )
    freeze_otherwise(batch, steps=steps)
    part = batch.parts.get()
    assert all(c.found == pytest.approx(0.5) for _, c in batch_label(part).metals)
    heel = PlannedHeel(
        mass_lb=plan.mass_lb / 9, volume_gal=plan.volume_gal / 9, analysis=plan.analysis,
        words="28 gal of B-2026-0099", batches=("B-2026-0099",),
    )  # fmt: skip
    freeze_otherwise(batch, heel=heel, mass_lb=plan.mass_lb * 10 / 9)
    label = batch_label(part)
    assert sum(share.pct for share in label.contents.shares) == pytest.approx(90, abs=0.01)
    assert MetalVerdict.WITHIN not in {check.verdict for _, check in label.metals}
    notes = " ".join(label_draft_view(part).review_notes)
    assert "10.0% of the load stood in the tank before (28 gal of B-2026-0099)" in notes


def test_planned_lots_count_with_their_certificates(batch: Batch) -> None:
    plan = batch.load_plan
    step = next(step for step in plan.steps if step.code == "KAC")
    lot = PlannedLot(
        code="L-1", weight_lb=step.weight_lb / 4, density_lb_per_gal=10.0, analysis={"K2O": 30.0}
    )
    steps = tuple(replace(s, lots=(lot,)) if s.code == "KAC" else s for s in plan.steps)
    freeze_otherwise(batch, steps=steps)
    kac = next(each for each in planned_contents(batch).stocks if each.code == "KAC")
    # By hand: a quarter at 30 %, three quarters at the typical figure.
    assert kac.analysis["K2O"] == pytest.approx((30.0 + 3 * step.analysis["K2O"]) / 4)


def test_a_paper_issued_after_the_charge_says_what_the_one_before_said(
    batch: Batch, charged: Charge, plant_worker: User
) -> None:
    before = issue_label_draft(part=batch.parts.get(), acting_user=plant_worker)
    after = issue_label_draft(part=charged(), acting_user=plant_worker)
    told = before.snapshot["guarantees"], before.snapshot["net_mass_lb"]
    assert (after.snapshot["guarantees"], after.snapshot["net_mass_lb"]) == told


def test_the_chelated_part_is_the_least_of_it_though_more_iron_comes_from_a_salt(
    batch: Batch,
) -> None:
    chelate, salt, *rest = batch.load_plan.steps
    of_iron = (
        replace(chelate, traits=("chelate",), analysis={"Fe": 4.0}, tolerance_lb=9.0),
        replace(salt, traits=("unchelated_metal",), analysis={"Fe": 5.0}),
    )
    freeze_otherwise(batch, steps=(*of_iron, *rest))
    plan = batch.load_plan
    least = least_chelated(plan, planned_contents(batch))
    # By hand: the chelate at its least, everything else at its most.
    low = chelate.weight_lb - 9.0
    others = sum(step.weight_lb + step.tolerance_lb for step in (salt, *rest))
    assert least == {"Fe": pytest.approx(4.0 * low / (low + others))}
