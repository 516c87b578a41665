"""A select of very many rows: a search field beside it, and of the rows only what fits.

While the rows are few it is a plain select. With JavaScript htmx fetches what fits as somebody
types; without it the words go along with the form, and the page comes back with what fits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django import forms
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

#: More rows than this are searched rather than scrolled.
FEW: Final = 30
#: Of what those who choose know by name, as base stocks, a longer list is still looked through.
FEW_KNOWN: Final = 60
#: What the search field is called beside its select.
SEARCH: Final = "_search"


class SearchedSelect(forms.Select):
    """``url`` answers ``?q=`` with options; ``include`` names fields that are sent along."""

    template_name = "partials/searched_select.html"

    def __init__(self, *, url: str, words: str, include: str = "", **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.url, self.words, self.include = url, words, include

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        context["search"] = {
            "name": f"{name}{SEARCH}", "words": self.words, "url": self.url,
            "include": self.include,
        }  # fmt: skip
        return context


@dataclass(frozen=True, slots=True)
class Offer:
    """Keys and words a select offers; ``is_part`` where there are more to search for."""

    choices: tuple[tuple[str, str], ...]
    is_part: bool


def offer_of_rows(
    rows: QuerySet[Any],
    *,
    find: Callable[[QuerySet[Any], str], QuerySet[Any]],
    words: str = "",
    chosen: object = None,
    label: Callable[[Any], str] = str,
    by: str = "pk",
    few: int = FEW,
) -> Offer:
    """All of a few rows; of more the chosen one whatever fits, and those that fit ``words``.

    Without words the chosen one stands alone, and where none is chosen the first few.

    ``by`` is the field whose value is the key of a choice.
    """
    offered = list(rows[: few + 1])
    is_part = len(offered) > few
    if is_part:
        key = str(chosen or "")
        kept = list(rows.filter(**{by: key})) if key and (by != "pk" or is_key(key)) else []
        fitting = offered[: min(few, FEW)]
        if words.strip():
            fitting = list(find(rows, words)[:FEW])
        elif kept:
            fitting = []
        offered = [*kept, *(row for row in fitting if str(getattr(row, by)) != key)]
    return Offer(tuple((str(getattr(row, by)), label(row)) for row in offered), is_part)


def is_key(text: str) -> bool:
    """Whether what was sent can be the key of a row."""
    return text.isascii() and text.isdigit() and len(text) < 19


def offer_of_values(
    values: Sequence[tuple[str, str]], *, words: str = "", chosen: str = "", most: int = FEW
) -> Offer:
    """The same of keys and words that are at hand anyway; no more than ``most`` are a few."""
    if len(values) <= most:
        return Offer(tuple(values), is_part=False)
    found = fitting_values(values, words)[:FEW]
    kept = [each for each in values if each[0] == chosen and each not in found]
    return Offer((*kept, *found), is_part=True)


def fitting_values(values: Sequence[tuple[str, str]], words: str) -> list[tuple[str, str]]:
    """Those with the words in what is shown, or in their key."""
    text = words.casefold()
    return [each for each in values if any(text in part.casefold() for part in each)]


def search_choices(
    field: forms.ChoiceField,
    offer: Offer,
    *,
    url: str,
    words: str = "",
    include: str = "",
    empty: str | None = None,
) -> None:
    """Let the field's select show the offer; what it takes is what its choices say."""
    shown = offer.choices if empty is None else (("", empty), *offer.choices)
    if offer.is_part:
        attrs = field.widget.attrs
        field.widget = SearchedSelect(url=url, words=words, include=include, attrs=attrs)
        field.widget.is_required = field.required
    field.widget.choices = shown


def offer_searched(
    form: forms.Form,
    name: str,
    rows: QuerySet[Any],
    *,
    find: Callable[[QuerySet[Any], str], QuerySet[Any]],
    url: str,
    words: str = "",
    chosen: object = None,
    include: str = "",
    few: int = FEW,
) -> None:
    """Let the field ``name`` choose from ``rows``; of more than a few those that fit ``words``.

    ``chosen`` (a key, perhaps typed by anybody) stays on offer whatever is searched for.
    """
    field = form.fields[name]
    if not isinstance(field, forms.ModelChoiceField):
        raise TypeError(f"{name} does not choose a row.")
    field.queryset = rows
    offer = offer_of_rows(
        rows,
        find=find,
        words=words,
        chosen=chosen,
        label=field.label_from_instance,
        by=field.to_field_name or "pk",
        few=few,
    )
    if not offer.is_part:
        return
    choices: list[tuple[Any, Any]] = list(offer.choices)
    if field.empty_label is not None:
        choices = [("", field.empty_label), *choices]
    field.widget = SearchedSelect(url=url, words=words, include=include, choices=choices)
    field.widget.is_required = field.required


def typed_words(request: HttpRequest) -> str:
    """What was typed into the search field that asks."""
    return request.GET.get(request.GET.get("as", ""), "").strip()[:80]


def options_page(
    request: HttpRequest,
    rows: QuerySet[Any],
    label: Callable[[Any], object] = str,
    *,
    by: str = "pk",
    among: QuerySet[Any] | None = None,
) -> HttpResponse:
    """What fits, as options of a select: the answer to somebody who types.

    ``among`` are the rows of which the select may have chosen one already, which stays chosen.
    """
    chosen = chosen_key(request)
    kept = among.filter(pk=chosen) if among is not None and is_key(chosen) else ()
    fitting, of_kept = (
        [(str(getattr(row, by)), str(label(row))) for row in some] for some in (rows[:FEW], kept)
    )
    return values_page(request, fitting, next(iter(of_kept), None))


def values_page(
    request: HttpRequest, fitting: Sequence[tuple[str, str]], kept: tuple[str, str] | None = None
) -> HttpResponse:
    """The same of keys and words; ``kept`` is chosen and stays so, whatever fits."""
    offered = [each for each in fitting[:FEW] if each != kept]
    context = {"options": offered, "kept": kept}
    return render(request, "partials/searched_options.html", context)


def chosen_key(request: HttpRequest) -> str:
    """What the select that is searched has chosen, where the search sends it along."""
    return request.GET.get(request.GET.get("as", "").removesuffix(SEARCH), "")
