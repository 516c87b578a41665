"""What every template may use: currency, version, the visitor's roles, the idle limit."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from blendshop import __version__
from blendshop.accounts.models import User
from blendshop.accounts.second_factor import is_required
from blendshop.accounts.typed import word_of
from blendshop.notices.standing import count_unread
from blendshop.outbox.standing import count_not_delivered
from blendshop.plant_steps import STEPS_LEFT
from blendshop.roles import BLENDS, SEES_COST, SEES_PRICES, STAFF, roles_of


def shop(request: HttpRequest) -> dict[str, Any]:
    user = getattr(request, "user", None)
    session = getattr(request, "session", None)
    roles = roles_of(user) if user is not None else frozenset()
    return {
        "currency": settings.CURRENCY,
        "version": __version__ if roles & STAFF else "",
        "roles": {role.value for role in roles},
        "may_blend": bool(roles & BLENDS),
        "sees_cost": bool(roles & SEES_COST),
        "sees_prices": bool(roles & SEES_PRICES),
        "is_plant_staff": bool(roles & STAFF),
        "is_framed": request.headers.get("Sec-Fetch-Dest") == "iframe",
        "sees_recipe": isinstance(user, User) and user.sees_recipe,
        "spanish_is_checked": bool(settings.SPANISH_CHECKED_BY),
        # The language of who reads a page that has none but English.
        "reads_otherwise": getattr(request, "reads_otherwise", ""),
        "idle_minutes": settings.SESSION_IDLE_MINUTES,
        "needs_second_factor": isinstance(user, User) and is_required(user),
        # Asked only where a template names them.
        "typed_by": lambda: word_of(user) if isinstance(user, User) else "",
        "mails_not_delivered": count_not_delivered,
        "unread_notices": lambda: count_unread(user) if isinstance(user, User) else 0,
        "steps_left": bool(roles & STAFF) and bool(session and session.get(STEPS_LEFT)),
    }
