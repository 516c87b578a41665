"""The five roles and the doors they open. A role is a Django group of the same name."""

from collections.abc import Callable
from enum import StrEnum
from functools import wraps
from typing import TYPE_CHECKING, Any, Protocol, cast

from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext as _
from rest_framework.permissions import BasePermission

from blendshop.errors import NotAllowed

if TYPE_CHECKING:
    from django.contrib.auth.models import AbstractUser, AnonymousUser


class Role(StrEnum):
    CUSTOMER = "customer"
    REP = "rep"
    PLANT = "plant"
    FORMULATOR = "formulator"
    OFFICE = "office"


STAFF = frozenset({Role.REP, Role.PLANT, Role.FORMULATOR, Role.OFFICE})
#: May see what a blend costs the plant.
SEES_COST = frozenset({Role.REP, Role.FORMULATOR, Role.OFFICE})
#: May see prices (a customer only those of its own company).
SEES_PRICES = frozenset({Role.CUSTOMER, Role.REP, Role.OFFICE, Role.FORMULATOR})
#: May open, hold and close a recall.
RECALLERS = frozenset({Role.FORMULATOR, Role.OFFICE})
#: May use the blend page.
BLENDS = frozenset({Role.CUSTOMER, Role.REP, Role.FORMULATOR, Role.OFFICE})


class _RolesRead(Protocol):
    _roles: frozenset[Role]


def roles_of(user: "AbstractUser | AnonymousUser") -> frozenset[Role]:
    """The user's roles, read once per request; a superuser holds every staff role."""
    if not user.is_authenticated:
        return frozenset()
    cached: frozenset[Role] | None = getattr(user, "_roles", None)
    if cached is None:
        names = set(user.groups.values_list("name", flat=True))
        cached = frozenset(role for role in Role if role.value in names)
        if user.is_superuser:
            cached |= STAFF
        cast("_RolesRead", user)._roles = cached
    return cached


def has_role(user: "AbstractUser | AnonymousUser", *roles: Role) -> bool:
    return not roles_of(user).isdisjoint(roles)


def require_role(user: "AbstractUser | AnonymousUser", *roles: Role) -> None:
    """Raise NotAllowed unless the user holds one of the roles; used by every action."""
    if not has_role(user, *roles):
        wanted = " or ".join(sorted(roles))
        raise NotAllowed(_("This needs the role %(wanted)s.") % {"wanted": wanted})


def role_required(*roles: Role) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """View decorator: 403 for a signed-in person without one of the roles."""

    def decorate(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            require_role(request.user, *roles)
            return view(request, *args, **kwargs)

        return guarded

    return decorate


def role_permission(*roles: Role) -> type[BasePermission]:
    """DRF permission class for API views."""

    class RolePermission(BasePermission):
        message = _("This needs the role %(roles)s.") % {"roles": " or ".join(sorted(roles))}

        def has_permission(self, request: Any, view: Any) -> bool:
            return has_role(request.user, *roles)

    return RolePermission
