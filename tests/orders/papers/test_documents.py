"""The shared base: cleaning text, writing figures, drawing QR codes."""

import pytest
import segno
from reportlab.lib.units import mm
from reportlab.platypus import Paragraph

from blendshop.documents import styles
from blendshop.documents.document import Masthead, render
from blendshop.documents.flowables import LeaderLine, QrCode, _dark_runs, prose
from blendshop.documents.fonts import missing_glyphs, text_width
from blendshop.documents.paragraph import SetOnce
from blendshop.documents.text import MissingGlyphWarning, clean, exact, markup, plain


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("cafe\u0301", "café"),
        ("a\r\nb\rc", "a\nb\nc"),
        ("a\x00b\x1bc\u202ed\u200be\ue000f", "abcdef"),
        ("5\u2009%\u2011x\u2194y", "5\u00a0%-x<->y"),
        ("a" + "\u0301" * 50, "á\u0301\u0301"),
    ],
)
def test_text_is_cleaned(typed, printed):
    assert clean(typed) == printed


def test_a_missing_glyph_is_named_and_replaced():
    with pytest.warns(MissingGlyphWarning, match=r"U\+6F22"):
        assert clean("a漢b") == "a?b"


def test_subscripts_are_set_only_where_the_formula_stands_alone():
    assert markup("P2O5, K2O (H3PO4)") == "P₂O₅, K₂O (H₃PO₄)"
    assert plain("XK2O K2O5 aP2O5\nP2O5") == "XK2O K2O5 aP2O5 P₂O₅"
    assert exact("https://x.example/K2O") == "https://x.example/K2O"


def test_markup_is_escaped_and_keeps_line_breaks():
    assert markup("<b>&\n</b>") == "&lt;b&gt;&amp;<br/>&lt;/b&gt;"


@pytest.mark.parametrize(
    "text",
    [
        "Total Nitrogen (N) ",
        " two\n  lines  of it ",
        "<b>Lot &amp; date:</b> 5 &lt; 6 &amp; A&amp;B&nbsp; <b>Density:</b> 10.2 lb",
        "no\u00a0break P₂O₅",
        "one<br/><i>other</i> &amp; <b>bold</b>",
        " ",
        "",
    ],
)
@pytest.mark.parametrize("style", [styles.BODY, styles.BODY_BOLD, styles.SMALL_ITALIC])
def test_a_paragraph_reads_its_words_as_reportlab_does(text, style):
    def read(kind):
        letters = [
            (letter, frag.fontName, frag.fontSize, frag.textColor, hasattr(frag, "lineBreak"))
            for frag in kind(text, style).frags
            for letter in frag.text or "|"
        ]
        return letters, kind(text, style).wrap(60, 1000)

    assert read(SetOnce) == read(Paragraph)


def test_the_font_draws_what_the_trade_writes():
    assert missing_glyphs("₀₁₂₃₄₅₆₇₈₉ ° × ± ≤ ≥ ½ – — · … ☐ ☑ ✓ é ü ñ ł ş €") == []


def test_dark_runs_cover_exactly_the_dark_modules():
    for row in segno.make("https://blendshop.example/b/1/", error="m").matrix:
        covered = {i for start, length in _dark_runs(row) for i in range(start, start + length)}
        assert covered == {i for i, dark in enumerate(row) if dark}


def test_a_qr_code_fills_its_square_and_draws_every_dark_module(read):
    code = QrCode("https://blendshop.example/b/1/", 30 * mm)
    assert code.wrap(500, 500) == (30 * mm, 30 * mm)
    masthead = Masthead("Slip", "S-1", "Demo plant", (), "March 2, 2026", "A QR code")
    page = read(render(masthead, [prose("Scan"), code])).reader.pages[0]
    rectangles = page.get_contents().get_data().count(b" re")
    matrix = segno.make(code.value, error="m").matrix
    assert rectangles == sum(len(_dark_runs(row)) for row in matrix)


@pytest.mark.parametrize("figure", ["3%", "0.0005%"])
def test_a_leader_line_ends_flush_with_the_right_edge(figure):
    line = LeaderLine("Soluble Potash (K2O)", figure, styles.BODY)
    width, height = line.wrap(300, 500)
    text, _, spacing = line._led_line()
    font = (styles.BODY.fontName, styles.BODY.fontSize)
    assert text.startswith("Soluble Potash (K₂O) ...")
    assert text_width(text, *font) + len(text) * spacing == pytest.approx(width)
    assert 0 <= spacing < 0.1
    assert height == styles.BODY.leading
