"""What the blend page writes: the tray of what was tried."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any, Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput
from blendshop.roles import BLENDS, require_role
from formulas.blends.actions import save_blend
from formulas.models import BlendRevision
from orders.frozen.tried_blend import TriedFigures
from orders.models import Package, PlantProfile, Quote, ShipTo, TriedBlend
from orders.quoting.actions.quotes import draft_quote
from orders.quoting.actions.refusals import CHOICES, WRITES_QUOTES
from orders.quoting.draft_prices import DraftLine
from orders.quoting.usual import usual_ship_to

#: What one person keeps at most, and how long.
MOST_TRIED: Final = 6
KEPT_DAYS: Final = 14


def keep_tried(
    *,
    acting_user: User,
    link: str,
    wish: Mapping[str, Any],
    figures: TriedFigures,
    package: Package,
    quantity: int,
    company: Company | None,
    ship_to: ShipTo | None,
) -> TriedBlend:
    """Put a wish into the person's tray; the same wish again takes the place of the old row.

    The oldest rows make room, and what anybody kept for longer than ``KEPT_DAYS`` goes.
    """
    require_role(acting_user, *BLENDS)
    with transaction.atomic():
        mine = TriedBlend.objects.filter(person=acting_user)
        mine.filter(link=link).delete()
        past = timezone.now() - timedelta(days=KEPT_DAYS)
        TriedBlend.objects.filter(tried_at__lt=past).delete()
        tried = TriedBlend.objects.create(
            person=acting_user,
            link=link,
            wish=dict(wish),
            kept=figures.to_json(),
            package=package,
            quantity=quantity,
            company=company,
            ship_to=ship_to,
        )
        newest = mine.order_by("-pk").values_list("pk", flat=True)[:MOST_TRIED]
        mine.exclude(pk__in=list(newest)).delete()
    return tried


def drop_tried(*, acting_user: User, pk: int) -> None:
    """Take a wish out of one's own tray; one that is gone is gone."""
    require_role(acting_user, *BLENDS)
    TriedBlend.objects.filter(person=acting_user, pk=pk).delete()


def save_tried(
    *, acting_user: User, taken: Sequence[tuple[TriedBlend, str]], once_key: str = ""
) -> list[BlendRevision]:
    """Rows of the tray as saved blends, each under its name, solved on today's stocks.

    In the plant's own book while they are for nobody yet: for a caller who is no customer so far.
    Asked again under the same ``once_key`` they are the blends there are.
    """
    company, today = _whose(acting_user, taken), timezone.localdate()
    with transaction.atomic():
        return [
            save_blend(
                acting_user=acting_user,
                name=name,
                company=company,
                wish=tried.wished.contract_json(),
                today=today,
                once_key=_key_of_row(once_key, tried),
            )
            for tried, name in taken
        ]


def _whose(acting_user: User, taken: Sequence[tuple[TriedBlend, str]]) -> Company | None:
    """The one customer of what is quoted together, None while it is for nobody."""
    require_role(acting_user, *WRITES_QUOTES)
    if len(taken) not in CHOICES:
        raise BadInput(_("Take two or three of them."))
    if len({tried.company_id for tried, _name in taken}) > 1:
        raise BadInput(_("Work them out for one and the same customer first."))
    return taken[0][0].company


def _key_of_row(once_key: str, tried: TriedBlend) -> str:
    """Of a press that saves several: a key for each."""
    told = f"{once_key} {tried.pk}".encode()
    return hashlib.sha256(told).hexdigest() if once_key else ""


def quote_tried(
    *, acting_user: User, taken: Sequence[tuple[TriedBlend, str]], once_key: str = ""
) -> Quote:
    """One draft that lets the customer choose between rows of the tray, each under its name.

    The blends are saved first, solved on today's stocks. Asked again under the same ``once_key``
    it is the draft there is.
    """
    require_role(acting_user, *WRITES_QUOTES)
    if once_key and (made := Quote.objects.filter(once_key=once_key).first()):
        return made
    company = _whose(acting_user, taken)
    if company is None:
        raise BadInput(_("Say for which customer."))
    ship_to = taken[0][0].ship_to or usual_ship_to(company.pk)
    if ship_to is None:
        raise BadInput(_("{company} has no address to ship to yet.").format(company=company))
    with transaction.atomic():
        lines = [
            DraftLine(
                revision=revision,
                package=tried.package,
                quantity=tried.quantity,
                n_rate_lb_per_1000sqft=tried.figures.n_rate_lb_per_1000sqft,
                alternative=True,
            )
            for revision, (tried, _name) in zip(
                save_tried(acting_user=acting_user, taken=taken), taken, strict=True
            )
        ]
        return draft_quote(
            acting_user=acting_user,
            company=company,
            ship_to=ship_to,
            lines=lines,
            validity_days=PlantProfile.load().quote_validity_days,
            once_key=once_key,
        )
