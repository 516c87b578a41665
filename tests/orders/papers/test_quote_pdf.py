"""The quote: everything the customer must know, and nothing of the plant's books."""

import dataclasses
import re
from decimal import Decimal

import paper_samples as samples
import pytest

from formulas.engine.result import Severity
from orders.papers.view_models import PaperFinding
from orders.quoting.quote_pdf import render_quote
from orders.quoting.view_models import QuoteCharge, QuoteLine, QuoteView


def test_a_quote_shows_what_is_bought_at_what_price_and_until_when(read):
    flat = read(render_quote(samples.quote())).flat
    for text in (
        "Quote Q-2026-00042 March 2, 2026",
        "Valid until March 16, 2026",
        "Your contact Robin Rep",
        "Example Lawn Care",
        "What 2 × 275 gal returnable tote, filled to 265 gal of Half slow summer 24-0-3",
        "$4,209.95, of which $500.00 is a refundable deposit",
        "$6.4150 per gal",
        "Attn. Pat Example",
        "4 Far Road",
        "Half slow summer 24-0-3",
        "B-00042 rev 1",
        "N 24.0%, P₂O₅ 1.0%, K₂O 3.0%, Fe 0.13%; 50.0% of N slow release; 10.77 lb/gal",
        "2 × 275 gal returnable tote, filled to 265 gal",
        "530 gal 5,710 lb $6.4150 $1,699.98 $3,399.95",
        "$1.74 per 1,000 sq ft at 0.7 lb N; $2.48 per lb N",
        "Goods $3,399.95",
        "Freight (zone B, 1 load) $310.00",
        "Tote deposit (2 returnable totes at $250.00) $500.00",
        "Total $4,209.95",
        "Two totes, lift gate needed.",
        "CAUTION. Above 85 °F spray in the evening or lower the rate.",
        "Net 30 days.",
        "it is not a label",
        "Local codes",
    ):
        assert text in flat


def test_a_name_that_holds_the_grade_is_printed_without_it(read):
    assert "24-0-3 24-0-3" not in read(render_quote(samples.quote())).flat


def test_a_package_is_priced_to_the_cent_and_a_bulk_line_by_the_gallon(read):
    packed = samples.quote_line(price_per_package=Decimal("1699.9750"))
    bulk = samples.quote_line(is_bulk=True, package_count=1, price_per_package=Decimal("3399.95"))
    flat = read(render_quote(samples.quote(lines=(packed, bulk)))).flat
    assert "$1,699.98 $3,399.95" in flat
    assert "530 gal in bulk of Half slow summer 24-0-3" in flat
    assert "1 ×" not in flat


def test_a_quote_never_speaks_of_cost_or_margin(read):
    view = samples.quote(lines=(samples.quote_line(), samples.quote_line(cautions=("Hot.",))))
    text = read(render_quote(view)).text
    assert not re.search(r"cost|margin|markup|shrink|profit|floor", text, re.IGNORECASE)
    names = {f.name for cls in (QuoteView, QuoteLine) for f in dataclasses.fields(cls)}
    assert not [name for name in names if "cost" in name or "margin" in name]


def test_the_accept_address_stands_as_text_and_as_a_link(read):
    view = samples.quote()
    paper = read(render_quote(view))
    assert view.accept_url in paper.flat
    assert paper.links == {view.accept_url}


def test_without_an_accept_address_nothing_invites_to_scan(read):
    paper = read(render_quote(samples.quote(accept_url="")))
    assert "Scan" not in paper.text
    assert paper.links == set()


def test_an_address_that_is_not_a_web_address_is_printed_but_not_linked(read):
    paper = read(render_quote(samples.quote(accept_url="javascript:alert(1)")))
    assert "javascript:alert(1)" in paper.text
    assert paper.links == set()


def test_thirty_lines_repeat_the_header_row_and_keep_their_order(read):
    lines = tuple(samples.quote_line(blend_name=f"Blend {n:02d}") for n in range(30))
    paper = read(render_quote(samples.quote(lines=lines)))
    with_rows = [page for page in paper.pages if "Blend 0" in page or "Blend 2" in page]
    assert len(with_rows) >= 3
    assert all("Per package" in page for page in with_rows)
    named = re.findall(r"Blend (\d\d)", paper.text)
    assert named[:4] == ["00", "01", "02", "03"], "the box names a few"
    assert "and 26 more lines" in paper.flat
    assert named[4:] == [f"{n:02d}" for n in range(30)]


def test_sixty_lines_add_up_to_the_printed_total(read):
    paper = read(render_quote(samples.quote(60)))
    amounts = re.findall(r"\$1,699\.98\s+\$([\d,.]+)", paper.text)
    goods = sum(Decimal(amount.replace(",", "")) for amount in amounts)
    assert len(amounts) == 60
    assert f"Total ${goods + 810:,.2f}" in paper.flat


def test_a_row_is_never_torn_between_two_pages(read):
    long_lines = tuple(samples.quote_line(blend_name=samples.LONG_NAME) for _ in range(30))
    for page in read(render_quote(samples.quote(lines=long_lines))).pages:
        text = " ".join(page.split()).rpartition("Per gal Per package Total")[2]
        assert text.count(samples.LONG_NAME) == text.count("$2.48 per lb N")


def test_the_same_caution_on_several_lines_is_printed_once(read):
    line = samples.quote_line(cautions=("Chelated iron only.",))
    view = samples.quote(lines=(line, samples.quote_line(), line))
    flat = read(render_quote(view)).flat
    assert "CAUTION. Lines 1, 3: Chelated iron only." in flat


def test_a_source_stands_beside_its_caution(read):
    finding = PaperFinding(Severity.STOP, "Do not mix.", "handbook, p. 12")
    flat = read(render_quote(samples.quote(cautions=(finding,)))).flat
    assert "STOP. Do not mix. Source: handbook, p. 12" in flat


def test_a_credit_is_printed_with_its_sign(read):
    credit = QuoteCharge("Empty totes returned", Decimal("-250.00"))
    view = samples.quote(other_charges=(credit,), total=Decimal("3959.95"))
    assert "Empty totes returned -$250.00" in read(render_quote(view)).flat


def test_a_total_that_is_not_the_sum_is_refused():
    with pytest.raises(ValueError, match=r"total 4209\.96 is not the sum 4209\.95"):
        samples.quote(total=Decimal("4209.96"))


def test_a_price_with_more_digits_than_can_be_shown_is_refused_not_rounded():
    view = samples.quote(lines=(samples.quote_line(price_per_gal=Decimal("6.41501")),))
    with pytest.raises(ValueError, match="round it before printing"):
        render_quote(view)
