"""Every paper, page and table of one load as people fetch them, and what all of them say alike."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from playwright.sync_api import Page

from tests.browser.plant_pages import pdf_text

LABELS: Final = ("letter", "placard", "4x6")
GRADE: Final = r"\b\d+(?:\.\d+)?-0-\d+(?:\.\d+)?\b"
PACKAGE_LABELS: Final = ("package labels", "package labels 4x6", "package labels 4x2")


@dataclass(frozen=True)
class Load:
    """What was typed, scanned and read of a load; its papers are held to this."""

    number: str
    order_number: str
    grade: str
    guarantees: Mapping[str, Decimal]
    density: str
    package_lb: Mapping[str, Decimal]
    lots: tuple[str, ...]

    @property
    def together_lb(self) -> Decimal:
        return sum(self.package_lb.values(), Decimal(0))


def label_texts(page: Page, number: str) -> dict[str, str]:
    """The three layouts of the label of a load's only part."""
    where = f"/batches/{number}/parts/1/label"
    return {name: pdf_text(page, f"{where}/{name}.pdf") for name in LABELS}


def fetched(page: Page, load: Load, state: str, day: str) -> dict[str, str]:
    """Everything that is said of the load, by name, one space between words."""
    batch, order = f"/batches/{load.number}", f"/orders/{load.order_number}"
    papers = {
        "certificate": f"{batch}/parts/1/certificate.pdf",
        "record": f"{batch}/record.pdf",
        "packing list": f"{order}/packing-list.pdf",
        "package labels": f"{batch}/package-labels.pdf",
        "package labels 4x6": f"{batch}/package-labels.pdf?stock=4x6",
        "package labels 4x2": f"{batch}/package-labels.pdf?stock=4x2",
    }
    pages = {
        "order": f"{order}/",
        "trace": f"/trace/?q={load.number}",
        "trace table": f"/trace.csv?q={load.number}",
        "tons table": f"/tonnage.csv?state={state}&first={day}&last={day}",
    }
    texts = {name: pdf_text(page, url) for name, url in papers.items()}
    texts |= label_texts(page, load.number)
    return texts | {name: _page_text(page, url) for name, url in pages.items()}


def _page_text(page: Page, url: str) -> str:
    answer = page.request.get(url)
    assert answer.status == 200, answer.text()[:500]
    return " ".join(re.sub("<[^>]+>", " ", answer.text()).split())


def assert_said_alike(texts: Mapping[str, str], load: Load) -> None:
    """Grade, guarantees, density, pounds, lots and serials, wherever they have a place."""
    sayings = [*_sayings(load), *_guarantees(load)]
    missing = [
        f"{name}: {words}"
        for words, names in sayings
        for name in names
        if not re.search(words, texts[name], re.IGNORECASE)
    ]
    assert not missing, "\n".join(missing)
    grades = {name: set(re.findall(GRADE, text)) for name, text in texts.items()}
    assert all(found == {load.grade} for found in grades.values()), grades


def _sayings(load: Load) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What is to be read, as a pattern, and where."""
    # The state's report is in whole pounds, a half one up.
    tons_lb = load.together_lb.quantize(Decimal(1), "ROUND_HALF_UP")
    yield re.escape(f",{load.grade},{tons_lb},"), ("tons table",)
    yield re.escape(f" {load.together_lb:,} "), ("packing list", "order")
    yield re.escape(load.density), ("certificate", "record", *LABELS)
    for lot in load.lots:
        yield re.escape(lot), ("record", "trace", "trace table")
    for serial, lb in load.package_lb.items():
        yield re.escape(f"{serial} ({lb:,} lb)"), ("packing list",)
        yield re.escape(f"{serial} {lb:,} "), ("record",)
        yield re.escape(f"{serial}: {lb:,} lb"), ("order", "trace")
        yield re.escape(f"{serial},{lb:.3f}"), ("trace table",)
        # What stands between is never another package's serial.
        between = f"(?:(?!{load.number}-).)*"
        yield re.escape(serial) + between + re.escape(f"Net {lb:,} lb"), PACKAGE_LABELS
        weight = re.escape(f"Net weight / Peso neto: {lb:,.1f} lb")
        yield f"{weight}{between}{re.escape(serial)}", LABELS


def _guarantees(load: Load) -> Iterator[tuple[str, tuple[str, ...]]]:
    nitrogen, _phosphate, potash = map(Decimal, load.grade.split("-"))
    yield re.escape(f"Total nitrogen {nitrogen:.2f} "), ("record",)
    yield re.escape(f"Soluble potash {potash:.2f} "), ("record",)
    for line, pct in load.guarantees.items():
        name = re.escape(line.split(" (")[0])
        printed = re.escape(f"{pct}%")
        yield rf"{name} \([^)]*\) [. ]*{printed}|\b{printed} {name}", LABELS
        yield f"{name} {re.escape(f'{pct:.2f} %')}", ("certificate",)
