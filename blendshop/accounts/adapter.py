from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedSignup(DefaultAccountAdapter):  # type: ignore[misc] # allauth has no types
    """People are added by the office; nobody signs up alone."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
