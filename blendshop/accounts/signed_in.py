"""Who sent a request, as a person of ours."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

from blendshop.accounts.models import User


def signed_in(request: HttpRequest) -> User:
    """The person behind a request; the sign-in middleware has already turned visitors away."""
    if not isinstance(request.user, User):
        raise PermissionDenied
    return request.user
