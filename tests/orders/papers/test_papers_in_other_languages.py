"""Customers' papers in a language that brackets what is marked: what stands outside is data."""

import dataclasses
import datetime as dt
import re
from decimal import Decimal

import paper_samples as samples
import pytest
from django.utils import translation

from formulas.engine.composition import NAMES, SHORT_NAMES, SLOW_RELEASE, guarantee_name
from formulas.engine.law.mixture_hazards import MixtureHazard
from formulas.reference.mixture_hazards import mixture_table
from formulas.reference.tables import traits
from formulas.wording.contents import CONTENTS, HAZARDS, TRAITS, hazard_sentence
from orders.models import QualityReading
from orders.papers.certificate_pdf import render_certificate
from orders.papers.gather_certificate import APPEARANCES
from orders.papers.packing_list_pdf import render_packing_list
from orders.papers.plant_view_models import (
    CertificateView,
    CertifiedFigure,
    PackageLine,
    PackedLine,
    PackingListView,
)
from orders.papers.standing_texts import cautions, told_to_customers
from orders.papers.wording import translated
from orders.quoting.quote_pdf import render_quote
from orders.recall.letter_pdf import render_recall_letter
from orders.recall.letter_view import RecalledGoods, RecallLetterView
from orders.records.written import Written, writing
from tests.whole_site.test_pseudo_translation import leaves

SPANISH = Written("es", "metric")
#: What no language changes: signs, symbols of nutrients, the ending of an invented address.
_SAME = re.compile(r"\b(?:pH|kg|lb|SDS|IBC|de|L|N|Fe|[a-z]+ de \d{4})\b|P₂O₅|K₂O|https?://\S+")
_MONTH = re.compile(r"\d{1,2} de [a-z]+ de \d{4}")
_PIECE = re.compile(r"(\{\w*\}|%\(\w+\)s)")


def bracketed(message):
    """A message with « and », which the font has, around each piece between placeholders."""
    return "".join(
        f"«{piece}»" if at % 2 == 0 and re.search(r"\w", piece) else piece
        for at, piece in enumerate(_PIECE.split(str(message)))
    )


@pytest.fixture
def brackets(monkeypatch):
    def many(singular, plural, number):
        return bracketed(singular if number == 1 else plural)

    monkeypatch.setattr(translation._trans, "gettext", bracketed)
    monkeypatch.setattr(translation._trans, "pgettext", lambda _context, text: bracketed(text))
    monkeypatch.setattr(translation._trans, "ngettext", many)


def certificate():
    return CertificateView(
        plant=samples.PLANT,
        number="B-2026-00107",
        product_name="Half slow summer 24-0-3",
        grade="24-0-3",
        customer=samples.CUSTOMER,
        order_number="O-2026-00031",
        made_on=dt.date(2026, 3, 9),
        released_on=dt.date(2026, 3, 10),
        released_by="Fran Form",
        figures=(CertifiedFigure("Nitrogeno", 24.0, 24.3, "Field Lab", "cumple"),),
        density_lb_per_gal=10.774,
        density_temperature_f=68.0,
        ph=None,
        appearance="",
        density_is_calculated=True,
        page_url="https://blendshop.example/p/",
        customer_reference="PO 4711",
        written=SPANISH,
    )


def packing_list():
    packed = PackedLine(
        product_name="Half slow summer",
        grade="24-0-3",
        batch_number="B-2026-00107",
        package_name="totes",
        tare_lb=Decimal(130),
        packages=(PackageLine("B-2026-00107-01", Decimal("2749.5")),),
        not_weighed=1,
        estimated_lb=Decimal(2750),
    )
    return PackingListView(
        plant=samples.PLANT,
        number="O-2026-00031",
        customer=samples.CUSTOMER,
        ship_to=samples.CUSTOMER,
        customer_reference="PO 4711",
        lines=(packed,),
        cautions=("Riesgo.",),
        transport="Transporte.",
        customer_note="Por la puerta.",
        written=SPANISH,
    )


def recall_letter():
    return RecallLetterView(
        plant=samples.PLANT,
        number="R-2026-00001",
        dated=dt.date(2026, 3, 9),
        customer=samples.CUSTOMER,
        reason="Puede quemar.",
        goods=(
            RecalledGoods(
                product_name="Half slow summer",
                grade="24-0-3",
                batch_number="B-2026-00107",
                order_number="O-2026-00031",
                package_name="totes",
                serials=("B-2026-00107-01",),
                net_lb=Decimal("2749.5"),
                not_numbered=1,
                shipped_on=dt.date(2026, 3, 12),
            ),
        ),
        what_to_do=("Pare.",),
        cautions=("Riesgo.",),
        written=SPANISH,
    )


def quote():
    line = samples.quote_line(cautions=("Riesgo.",), includes=(samples.FREIGHT,), weighed="Pesado.")
    due = dt.date(2026, 3, 20)
    return samples.quote(lines=(line, line), written=SPANISH, due_on=due, replaces="Q-2026-00041")


PAPERS = {
    "quote": (quote, render_quote),
    "certificate": (certificate, render_certificate),
    "packing list": (packing_list, render_packing_list),
    "recall letter": (recall_letter, render_recall_letter),
}
every_paper = pytest.mark.parametrize(("view", "render"), PAPERS.values(), ids=PAPERS.keys())


@every_paper
def test_every_word_of_a_customer_s_paper_is_marked_or_its_data(view, render, read, brackets):
    record = view()
    text = read(render(record)).flat
    assert text.count("«") > 10
    assert text.count("«") == text.count("»")
    text = re.sub("«[^«»]*»", " ", text)
    known = {*leaves(record.to_json()), *SHORT_NAMES.values()}
    words = {bit for each in known for bit in (each, each.replace("P2O5", "P₂O₅"))}
    for word in sorted(words, key=len, reverse=True):
        if re.search("[A-Za-z]{2}", word):
            text = text.replace(word, " ")
    left = _SAME.sub(" ", _MONTH.sub(" ", text))
    assert re.findall("[A-Za-z]{2,}", left) == []


@every_paper
def test_a_paper_in_spanish_says_so_and_is_drawn_alike_whoever_asks(view, render, read):
    record = view()
    with translation.override("es"):
        drawn = render(record)
    assert render(record) == drawn
    assert read(drawn).reader.trailer["/Root"]["/Lang"] == "es-US"
    in_us_units = render(dataclasses.replace(record, written=None))
    assert in_us_units != drawn
    assert read(in_us_units).reader.trailer["/Root"]["/Lang"] == "en-US"


@every_paper
def test_a_translation_nobody_has_checked_says_that_the_english_text_decides(view, render, read):
    record = view()
    with writing(SPANISH):
        (note,) = translated(SPANISH)
    assert note in read(render(record)).flat
    checked = dataclasses.replace(SPANISH, checked_by="Lee Lector")
    for written in (checked, Written("en", "metric"), None):
        with writing(written):
            assert translated(written) == []
        assert note not in read(render(dataclasses.replace(record, written=written))).flat


def test_weights_of_a_metric_list_are_the_scale_s_pounds_converted(read):
    flat = read(render_packing_list(packing_list())).flat
    # By hand, NIST SP 811 appendix B: 2,749.5 lb x 0.45359237 = 1,247.15 kg; 5,499.5 and 5,759.5
    # lb together are 2,494.53 and 2,612.47 kg.
    for figure in ("1,247.2 kg", "2,494.5", "2,612.5", "5,499.5 lb", "5,759.5 lb"):
        assert figure in flat


def test_what_the_engine_names_has_its_word_here():
    named = {*NAMES.values(), *SHORT_NAMES.values(), guarantee_name(SLOW_RELEASE)}
    assert {name for name in named if re.search("[a-z]{2}", name)} == CONTENTS
    table = mixture_table()
    told = {each.words for each in table.classes} | {part.name for part in table.parts}
    assert {words for words in told if re.search("[a-z]{2}", words)} == HAZARDS
    carried = {each.name for each in traits()}
    assert {name for name in carried if re.search("[a-z]{2}", name)} == TRAITS


def test_in_english_a_customer_reads_what_the_label_says():
    table = mixture_table()
    for hazard in table.classes:
        parts = tuple((part, 1.0) for part in table.parts if hazard.code in part.classes)
        found = MixtureHazard(hazard, parts)
        assert hazard_sentence(found) == found.sentence
    holds = {"Fe": 1.0, "P2O5": 1.0}
    assert told_to_customers(holds) == cautions(holds)


def test_how_a_batch_looks_is_said_in_every_language():
    assert {str(label) for label in QualityReading.Appearance.labels} == set(APPEARANCES)
    with translation.override("es"):
        assert not {str(label) for label in QualityReading.Appearance.labels} & set(APPEARANCES)
