"""Words and figures come apart: marked words change with the language, figures with the reader.

Rooms of templates are marked one after the other; a room on the list stays marked.
"""

import importlib
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from django import forms
from django.core import mail
from django.urls import reverse
from django.utils import translation
from django.utils.safestring import SafeString

from blendshop.figures.locales import ES
from blendshop.figures.readers import read_in
from blendshop.figures.writing import Figures
from blendshop.outbox.actions import deliver_overdue
from orders.ordering.mail import mail_order
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.planning.plant_cases import make_shop, placed_order

pytestmark = pytest.mark.one_database

ROOT: Final = Path(__file__).resolve().parents[2]
TEMPLATES: Final = ROOT / "templates"
MARKED_ROOMS: Final = (
    "400.html",
    "403.html",
    "404.html",
    "500.html",
    "account",
    "admin",
    "allauth",
    "base.html",
    "formulas",
    "long_work",
    "mfa",
    "notices",
    "orders/allocation",
    "orders/blend_page",
    "orders/buying",
    "orders/changes",
    "orders/compliance",
    "orders/cost_change",
    "orders/crew_sheet",
    "orders/customers",
    "orders/drift",
    "orders/first_steps",
    "orders/inventory",
    "orders/labels",
    "orders/ordering",
    "orders/planning",
    "orders/portal",
    "orders/price_desk",
    "orders/production",
    "orders/quoting",
    "orders/recall",
    "orders/reordering",
    "orders/repricing",
    "orders/questions",
    "orders/requests",
    "orders/safety_sheets",
    "orders/scales",
    "orders/searching",
    "orders/season",
    "orders/shift",
    "orders/tanks",
    "orders/tracing",
    "orders/verdict",
    "orders/year_figures",
    "outbox",
    "partials",
    "refused.html",
    "simple_history",
)
#: The product's name, and its own mark beside a page's title.
NOT_WORDS: Final = {"Blendshop", "· Blendshop"}

_SEEN_BY_NOBODY: Final = re.compile(
    r"\{#.*?#\}"
    r"|<script\b.*?</script>"
    r"|\{%\s*comment.*?endcomment\s*%\}"
    r"|\{%\s*blocktranslate\b.*?endblocktranslate\s*%\}",
    re.DOTALL,
)
_TAG: Final = re.compile(r"\{%.*?%\}|\{\{.*?\}\}", re.DOTALL)
_ELEMENT: Final = re.compile(r"<[/a-zA-Z!][^>]*>", re.DOTALL)
_ATTRIBUTE: Final = re.compile(r'\b(?:aria-label|title|alt|placeholder)="([^"]*)"')
_LITERAL: Final = re.compile(
    r'(?:\|(?:default|default_if_none|yesno|pluralize):|\b(?:label|caption|hint|title)=|\bfirstof\b[^%]*?\s)("[^"]*")'
    r'|\bnav_link\s+"[^"]*"\s+("[^"]*")'
)


def unmarked_words(source: str) -> list[str]:
    """Words of a template that stand outside every translation tag."""
    source = _SEEN_BY_NOBODY.sub("", source)
    literals = [
        first or second for tag in _TAG.findall(source) for first, second in _LITERAL.findall(tag)
    ]
    html = _TAG.sub("\x00", source)
    attributes = _ATTRIBUTE.findall(html)
    texts = _ELEMENT.sub("\x01", html).replace("\x00", "\x01").split("\x01")
    found = [text.strip() for text in (*literals, *attributes, *texts)]
    return [
        text
        for text in found
        if re.search("[A-Za-z]", re.sub(r"&\w+;", "", text)) and text not in NOT_WORDS
    ]


def templates_of(room: str) -> Iterator[Path]:
    """The templates of a room whose text a person reads."""
    path = TEMPLATES / room
    files = [path] if path.is_file() else sorted(p for p in path.rglob("*.*") if p.is_file())
    yield from (file for file in files if file.suffix != ".js")


@pytest.mark.parametrize("room", MARKED_ROOMS)
def test_a_marked_room_has_no_word_outside_the_translation_tags(room):
    paths = list(templates_of(room))
    assert paths
    found = {str(path.relative_to(TEMPLATES)): unmarked_words(path.read_text()) for path in paths}
    assert {name: words for name, words in found.items() if words} == {}


def test_every_room_of_templates_is_on_the_list():
    rooms = set()
    for path in TEMPLATES.rglob("*.*"):
        first, *rest = path.relative_to(TEMPLATES).parts
        rooms.add(f"orders/{rest[0]}" if first == "orders" else first)
    assert rooms == {*MARKED_ROOMS}


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("<p>Lots</p>", ["Lots"]),
        ("<p>{{ lot }} held</p>", ["held"]),
        ('<nav aria-label="Menu">{{ x }}</nav>', ["Menu"]),
        ('{{ day|default:"covered" }}', ['"covered"']),
        ('lot{{ n|pluralize:"es" }}', ['"es"', "lot"]),
        ('{% include "a.html" with label="held" %}', ['"held"']),
        ('{% include "a.html" with rows=r caption="Held" %}', ['"Held"']),
        ('{% nav_link "lot_list" "Lots" %}', ['"Lots"']),
        ('{% firstof supplier "unknown" %}', ['"unknown"']),
        ('{% translate "Lots" %} · {{ n }} &nbsp; {# Takes: n #}', []),
        ("{% blocktranslate with n=a.b %}{{ n }} lots{% endblocktranslate %}", []),
        ('<nav aria-label="{% translate \'Menu\' %}">{{ day|date:"M j" }}</nav>', []),
        ('{% nav_link "lot_list" _("Lots") %}{{ day|default:_("covered") }}', []),
    ],
)
def test_the_check_itself_sees_an_unmarked_word(source, words):
    assert unmarked_words(source) == words


# --- Forms -------------------------------------------------------------------------------------
#: Fields that a template shows by hand or a script sends, so that their label is never seen.
WITHOUT_LABEL: Final = {
    "do",
    "seen_total",
    "seen_due_on",
    "decision",
    "lot",
    "chosen_lot",
    "weighed_at",
}
#: The same in every language.
SYMBOLS: Final = {"pH"}


def form_classes() -> Iterator[type[forms.BaseForm]]:
    for path in sorted(ROOT.glob("*/**/forms.py")):
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        if not module.startswith(("orders.", "formulas.")):
            continue
        for thing in vars(importlib.import_module(module)).values():
            if isinstance(thing, type) and issubclass(thing, forms.BaseForm):
                yield thing


def test_labels_and_help_texts_of_every_form_are_marked():
    checked, plain = 0, []
    for form in form_classes():
        for name, field in form.base_fields.items():
            if field.widget.is_hidden or name in WITHOUT_LABEL:
                continue
            checked += 1
            texts = [field.label, field.help_text or None]
            if field.label is None or any(
                isinstance(text, str) and text not in SYMBOLS for text in texts
            ):
                plain.append(f"{form.__name__}.{name}")
    assert checked > 60
    assert plain == []


# --- A language that brackets every marked word -------------------------------------------------
@pytest.fixture
def bracketed(monkeypatch):
    """From here on every translation is its original between ⟦ and ⟧."""

    def one(message):
        text = f"⟦{message}⟧" if message else ""
        return SafeString(text) if isinstance(message, SafeString) else text

    def many(singular, plural, number):
        return one(singular if number == 1 else plural)

    def switch_on():
        monkeypatch.setattr(translation._trans, "gettext", one)
        monkeypatch.setattr(translation._trans, "pgettext", lambda _context, text: one(text))
        monkeypatch.setattr(translation._trans, "ngettext", many)
        monkeypatch.setattr(translation._trans, "npgettext", lambda _context, *words: many(*words))

    return switch_on


@pytest.fixture
def order(rep, company, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    make_shop()
    return placed_order(rep, company)


@pytest.fixture
def pages(order, company, plant_worker):
    """Routes of the marked rooms, and who looks at each."""
    stock = order.lines.get().reservations.get(stock__code="UAN").stock
    lot = make_lot(stock, plant_worker, 40_000)
    return {
        "board": ("rep", reverse("order_board")),
        "order": ("rep", reverse("order_detail", args=[order.number])),
        "own orders": ("customer", reverse("order_board")),
        "lots": ("plant_worker", reverse("lot_list")),
        "lot": ("plant_worker", reverse("lot_detail", args=[lot.code])),
        "certificate": ("formulator", reverse("lot_certificate", args=[lot.code])),
        "receive": ("plant_worker", f"{reverse('lot_receive')}?stock={stock.code}"),
        "levels": ("plant_worker", reverse("stock_levels")),
        "trace": ("plant_worker", f"{reverse('trace')}?q={lot.code}"),
        "customers": ("rep", reverse("customer_list")),
        "customer": ("rep", reverse("customer_detail", args=[company.pk])),
    }


def shown(client, url):
    """A page without the keys that differ from one visit to the next."""
    response = client.get(url)
    assert response.status_code == 200
    html = response.content.decode()
    return re.sub(
        r'(csrfmiddlewaretoken" value="|X-CSRFToken": "|name="key" value=")\w+', r"\1", html
    )


NAMES: Final = (
    "board", "order", "own orders", "lots", "lot", "certificate", "receive", "levels", "trace",
    "customers", "customer",
)  # fmt: skip


def test_in_another_language_the_words_of_marked_pages_change_and_nothing_else(
    pages, bracketed, request, signed_in
):
    assert set(pages) == set(NAMES)
    clients = {name: signed_in(request.getfixturevalue(who)) for name, (who, _) in pages.items()}
    before = {name: shown(clients[name], url) for name, (_, url) in pages.items()}
    bracketed()
    for name, (_, url) in pages.items():
        after = shown(clients[name], url)
        assert re.sub("[⟦⟧]", "", after) == before[name], name
        main = after.split("<main", 1)[1].split("</main>", 1)[0]
        assert len(re.findall("⟦", main)) >= 8, name
        assert "⟦Sign out⟧" in after
        assert "⟦Skip to content⟧" in after


def test_a_reader_of_other_figures_sees_the_same_words(pages, plant_worker, signed_in, settings):
    client, url = signed_in(plant_worker), pages["levels"][1]
    usual = shown(client, url)
    settings.FIGURES_LOCALE = ES.tag
    other = shown(client, url)
    figure = re.compile(r"\d[\d.,]*")
    assert figure.sub("", other) == figure.sub("", usual)
    assert "40,000" in usual
    assert "40.000" in other


def test_a_mail_is_marked_and_written_in_the_figures_of_the_house(order, customer, bracketed):
    def sent():
        mail_order(order, "orders/ordering/mail/order_confirmed.txt", "confirmed")
        deliver_overdue.call()
        return mail.outbox[-1].body

    usual = sent()
    with read_in(Figures(locale=ES)):
        assert sent() == usual
    bracketed()
    after = sent()
    assert "⟦Thank you. Order" in after
    assert re.sub("[⟦⟧]", "", after) == usual
