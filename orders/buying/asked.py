"""How many weeks ahead an address asks for, and what to buy for them."""

from __future__ import annotations

from django.http import HttpRequest
from django.utils import timezone

from orders.buying.forms import WeeksForm
from orders.buying.proposal import Buying, buying
from orders.records.forms import require_valid


def asked_of(request: HttpRequest) -> tuple[WeeksForm, Buying]:
    form = WeeksForm({"weeks": request.GET.get("weeks", "")})
    weeks = require_valid(form)["weeks"]
    return WeeksForm(initial={"weeks": weeks}), buying(timezone.localdate(), weeks)
