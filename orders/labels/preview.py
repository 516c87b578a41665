"""The words of a printed label for the page that shows it: those of the papers, in no other tongue.

A reader of another language sees the label as it will stick on the package, not a translation.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from blendshop.figures.readers import house
from orders.labels import blocks
from orders.labels.view_models import LabelDraftView


@dataclass(frozen=True, slots=True)
class Entry:
    """A heading in English and Spanish, with what stands beside it."""

    english: str
    spanish: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class PrintedWords:
    """What the papers print between and beside the values of the view."""

    standing: str
    net: tuple[Entry, ...]
    analysis_heading: str
    nothing_guaranteed: str
    derived_from: str
    other_heading: str
    other_ingredients: tuple[tuple[str, str], ...]
    purpose: str
    particulars: tuple[Entry, ...]
    directions: Entry
    cautions: Entry


def printed_words(view: LabelDraftView) -> PrintedWords:
    """The words of a label as its papers print them."""
    return PrintedWords(
        standing=blocks.standing(view),
        net=tuple(_entry(*words) for each in view.each_weight() for words in _net(each, view)),
        analysis_heading=blocks.ANALYSIS_HEADING,
        nothing_guaranteed=blocks.NOTHING_GUARANTEED,
        derived_from=blocks.derived_from(view),
        other_heading=blocks.OTHER_INGREDIENTS_HEADING,
        other_ingredients=tuple(
            (blocks.ingredient_name(item), house().guarantee(item.pct))
            for item in view.other_ingredients
        ),
        purpose=blocks.purpose(view),
        particulars=tuple(_entry(*each) for each in blocks.particulars(view, compact=True)),
        directions=_entry(blocks.DIRECTIONS),
        cautions=_entry(blocks.CAUTIONS),
    )


def _net(each: LabelDraftView, view: LabelDraftView) -> Iterator[tuple[str, str]]:
    """Net contents; where packages were weighed behind the serials that have them."""
    if view.packages:
        yield blocks.LOT, each.lot
    yield from blocks.net_words(each)


def _entry(heading: str, text: str = "") -> Entry:
    english, _, spanish = heading.partition(" / ")
    return Entry(english, spanish, text)
