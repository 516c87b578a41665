"""A select of very many rows: a search field beside it, and of the rows only what fits.

While the rows are few it is a plain select. With JavaScript htmx fetches what fits as somebody
types; without it the words go along with the form, and the page comes back with what fits.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from django import forms
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

#: More rows than this are searched rather than scrolled.
FEW: Final = 30
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
) -> None:
    """Let the field ``name`` choose from ``rows``; of more than a few those that fit ``words``.

    ``chosen`` (a key, perhaps typed by anybody) stays on offer whatever is searched for.
    """
    field = form.fields[name]
    if not isinstance(field, forms.ModelChoiceField):
        raise TypeError(f"{name} does not choose a row.")
    field.queryset = rows
    if len(rows.order_by().values_list("pk", flat=True)[: FEW + 1]) <= FEW:
        return
    offered = list(find(rows, words)[:FEW])
    key = str(chosen or "")
    if key.isdecimal() and len(key) < 19 and not any(str(row.pk) == key for row in offered):
        offered = [*rows.filter(pk=key), *offered]
    choices: list[tuple[Any, Any]] = [(row.pk, field.label_from_instance(row)) for row in offered]
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
) -> HttpResponse:
    """What fits, as options of a select: the answer to somebody who types."""
    offered = [(row.pk, label(row)) for row in rows[:FEW]]
    return render(request, "partials/searched_options.html", {"options": offered})
