"""The request of a signed-in person, as the sign-in middleware guarantees it."""

from django.http import HttpRequest

from blendshop.accounts.models import User


class SignedInRequest(HttpRequest):
    user: User
