"""The label draft: the uniform layout, and on every page that it is only a draft.

Layout checked against Montana ARM 4.12.604 (net weight, brand, grade, total nitrogen, forms
indented with the figure before the name, then phosphate, potash, other nutrients, sources below
the analysis, beneficial substances, name and address, directions).
"""

import datetime as dt
from decimal import Decimal

import paper_samples as samples
import pytest

from orders.labels.blocks import BANNER
from orders.labels.draft_pdf import render_label_draft
from orders.labels.view_models import DutyLine, GuaranteeLine, LabelChangeLine, MetalLine


def indent_of(read, pdf, words):
    """Distance from the page's left edge at which the line starting with ``words`` begins."""
    found = []
    read(pdf).reader.pages[0].extract_text(
        visitor_text=lambda text, cm, tm, *_: (
            found.append(cm[4] + tm[4]) if text.strip().startswith(words) else None
        )
    )
    return found[0]


def test_the_analysis_reads_in_the_uniform_order(read):
    text = read(render_label_draft(samples.label_draft())).text
    expected = [
        "Net weight",
        "Half slow summer 24-0-3",
        "\n24-0-3",
        "GUARANTEED ANALYSIS",
        "Total Nitrogen (N)",
        "2.1% Ammoniacal Nitrogen",
        "2.1% Nitrate Nitrogen",
        "7.8% Urea Nitrogen",
        "12.0% Slowly Available Water Soluble Nitrogen*",
        "Soluble Potash (K₂O)",
        "Iron (Fe)",
        "0.10% Chelated Iron",
        "Derived from: Urea-Triazone Solution, Urea Ammonium Nitrate Solution, Potassium",
        "*12.0% slowly available nitrogen from urea-triazone solution.",
        "CONTAINS BENEFICIAL SUBSTANCES",
        "Humic acids (derived from leonardite)",
        "NBPT",
        "Purpose Statement:",
        "Guaranteed by",
        "Directions for use",
        "Cautions",
        "For the reviewer",
    ]
    place = 0
    for words in expected:  # each after the one before
        place = text.index(words, place) + len(words)


def test_dots_lead_from_each_name_to_its_figure(read):
    lines = read(render_label_draft(samples.label_draft())).pages[0].splitlines()
    for name, figure in (("Total Nitrogen (N)", "24%"), ("Iron (Fe)", "0.10%"), ("NBPT", "0.04%")):
        (line,) = [line for line in lines if line.startswith(name)]
        assert line.endswith(figure)
        assert "." * 40 in line


def test_nitrogen_forms_are_indented_under_the_total(read):
    pdf = render_label_draft(samples.label_draft())
    total, form = indent_of(read, pdf, "Total Nitrogen"), indent_of(read, pdf, "7.8% Urea")
    assert form - total > 15


def test_net_contents_are_given_by_weight_and_volume_in_both_systems(read):
    flat = read(render_label_draft(samples.label_draft())).flat
    assert "Net weight / Peso neto: 2,855.1 lb (1,295.1 kg)" in flat
    assert "Net volume / Volumen neto: 265.0 gal (1,003.1 L) at 68 °F" in flat
    assert "Density / Densidad 10.77 lb/gal at 68 °F" in flat


def test_every_page_says_it_is_a_draft_above_and_below(read):
    directions = tuple(f"Step {n}: {samples.LONG_NAME}." for n in range(60))
    paper = read(render_label_draft(samples.label_draft(directions=directions)))
    assert len(paper.pages) >= 3
    assert all(page.count(BANNER) == 2 for page in paper.pages)


def test_guarantor_purchaser_and_what_is_not_claimed_are_named(read):
    flat = read(render_label_draft(samples.label_draft())).flat
    assert "Guaranteed by / Garantizado por Demo Liquid Blending Plant 1 Invented Road" in flat
    assert "Made for / Hecho para Example Lawn Care" in flat
    assert "Delivered / Entregado March 10, 2026" in flat
    assert "Not claimed: Zn 0.03%. Below the 0.05 % minimum. Source: WAC 16-200-711(2)." in flat
    assert "check every line against the law of the state" in flat


@pytest.mark.parametrize(
    ("pct", "printed"),
    [
        (Decimal(24), "24%"),
        (Decimal("0.10"), "0.10%"),
        (Decimal("0.0005"), "0.0005%"),
        (Decimal("1E+1"), "10%"),
    ],
)
def test_a_guarantee_keeps_exactly_its_digits(read, pct, printed):
    line = GuaranteeLine("Mo", "Molybdenum (Mo)", pct)
    lines = read(render_label_draft(samples.label_draft(guarantees=(line,)))).text.splitlines()
    (found,) = [text for text in lines if text.startswith("Molybdenum")]
    assert found.split(".. ")[-1] == printed


def test_a_float_is_not_a_guarantee():
    line = GuaranteeLine("Fe", "Iron (Fe)", 0.1)
    with pytest.raises(TypeError, match="A guarantee is a Decimal"):
        render_label_draft(samples.label_draft(guarantees=(line,)))


def test_a_long_ingredient_name_wraps_and_keeps_its_figure(read):
    line = GuaranteeLine("Fe", samples.LONG_NAME, Decimal("0.10"))
    flat = read(render_label_draft(samples.label_draft(guarantees=(line,)))).flat
    assert samples.LONG_NAME in flat
    assert flat.split(samples.LONG_NAME)[1].lstrip(" .").startswith("0.10%")


def test_a_blend_without_guarantees_says_so(read):
    flat = read(render_label_draft(samples.label_draft(guarantees=(), derived_from=()))).flat
    assert "No plant nutrient is guaranteed." in flat
    assert "Derived from" not in flat


def test_without_a_primary_nutrient_no_grade_is_printed(read):
    line = GuaranteeLine("Fe", "Iron (Fe)", Decimal("0.10"))
    view = samples.label_draft(grade="", guarantees=(line,), product_name="Iron only")
    assert "0-0-0" not in read(render_label_draft(view)).text


def test_the_statements_stand_where_the_engines_own_text_puts_them(read):
    view = samples.label_draft(
        stabilized_nitrogen_statement="Stabilized nitrogen: contains an inhibitor.",
        metals_statement="Information regarding the contents and levels of metals",
    )
    flat = read(render_label_draft(view)).flat
    order = [
        "*12.0% slowly",
        "Stabilized nitrogen:",
        "CONTAINS BENEFICIAL",
        "Information regarding",
    ]
    places = [flat.index(words) for words in order]
    assert places == sorted(places)


def test_the_review_lists_changes_duties_and_metals(read):
    view = samples.label_draft(
        changes=(
            LabelChangeLine(
                "Iron (Fe)", "0.12% lowered to 0.1%", "Fran", dt.date(2026, 3, 9), "lab"
            ),
        ),
        duties=(DutyLine("Demo state, records to keep", "Keep it 3 years.", "Demo Code 1"),),
        metals=(
            MetalLine("Lead (Pb)", 1.25, 787.1, "within the limit", "Demo rule"),
            MetalLine("Arsenic (As)", None, 190.4, "NOT ASSESSED", "Demo rule", "No figure for X."),
        ),
    )
    paper = read(render_label_draft(view))
    review = " ".join(" ".join(paper.pages[1:]).split())
    assert "Iron (Fe): 0.12% lowered to 0.1% by Fran on March 9, 2026: lab" in review
    assert "[ ] Demo state, records to keep: Keep it 3 years. Source: Demo Code 1." in review
    assert "Lead (Pb) 1.25 787.1 within the limit Demo rule" in review
    assert "Arsenic (As) no figure 190.4 NOT ASSESSED Demo rule. No figure for X." in review
    assert "NOT ASSESSED" not in paper.pages[0]


def test_an_unchanged_label_says_that_nobody_changed_it(read):
    flat = read(render_label_draft(samples.label_draft())).flat
    assert "None: every line stands as the analysis allows it." in flat


def test_a_full_label_still_stands_on_its_first_page_in_smaller_type(read):
    cautions = tuple(f"Caution {n}: {samples.LONG_NAME}." for n in range(12))
    paper = read(render_label_draft(samples.label_draft(cautions=cautions)))
    assert "Caution 11" in paper.pages[0]
    assert paper.pages[1].index("For the reviewer") < paper.pages[1].index("Not claimed")
