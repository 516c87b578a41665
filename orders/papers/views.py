"""Issued papers, served byte for byte as they were stored, or their English print."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final, Protocol, TypeVar

from django.http import HttpRequest, HttpResponse

from blendshop.downloads import private_pdf
from orders.models import Paper
from orders.records.written import ENGLISH

#: In the address of a paper: ``?lang=en`` asks for its English print.
ASKED: Final = "lang"

V = TypeVar("V", bound="CustomersView")


class CustomersView(Protocol):
    """The record of a paper that a customer gets."""

    @property
    def in_english(self: V) -> V | None: ...

    @classmethod
    def from_json(cls: type[V], data: Mapping[str, Any]) -> V: ...


def pdf_response(issued: Paper) -> HttpResponse:
    """The stored bytes, shown in the browser."""
    return private_pdf(bytes(issued.pdf), _name(issued))


def asked_print(
    request: HttpRequest, issued: Paper, view_model: type[V], render: Callable[[V], bytes]
) -> HttpResponse:
    """The stored bytes; with ``?lang=en`` the English print that was frozen with a paper in another
    language or other units. Drawn each time: the paper itself is what was issued.
    """
    if request.GET.get(ASKED) == ENGLISH.language:
        english = view_model.from_json(issued.snapshot).in_english
        if english is not None:
            return private_pdf(render(english), f"{_name(issued)}-{ENGLISH.language}")
    return pdf_response(issued)


def _name(issued: Paper) -> str:
    return f"{issued.record}-{issued.kind.replace('_', '-')}"
