"""One line of the change log, and which kinds of lines there are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _


class Kind(TextChoices):
    COSTS = "costs", _("costs")
    PRICES = "prices", _("prices, margins and fees")
    FREIGHT = "freight", _("freight")
    CUSTOMERS = "customers", _("customers and terms")
    STOCKS = "stocks", _("base stocks")
    RULES = "rules", _("compatibility rules")
    PLANT = "plant", _("plant, tanks and days")
    BLENDS = "blends", _("blends")
    LABELS = "labels", _("labels")
    PEOPLE = "people", _("people and roles")
    QUOTES = "quotes", _("quotes")
    ORDERS = "orders", _("orders")
    BATCHES = "batches", _("batches")
    LOTS = "lots", _("lots")
    RECALLS = "recalls", _("recalls")


@dataclass(frozen=True, slots=True)
class FieldChange:
    """A field in words, with its unit; ``old`` is empty where there was nothing before."""

    label: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Line:
    """Who did what to which record. ``source`` and ``pk`` say which stored row it is.

    ``why_not`` says why what is kept here cannot be taken back by who looks; it is empty too for
    what leaves an event of its own.
    """

    source: str
    pk: int
    at: datetime
    who: str
    kind: Kind
    record: str
    verb: str
    fields: tuple[FieldChange, ...] = ()
    why: str = ""
    url: str = ""
    can_be_taken_back: bool = False
    why_not: str = ""
