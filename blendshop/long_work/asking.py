"""Before work begins somebody presses a button: who only reads an address begins nothing."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from blendshop.long_work.kinds import Kind


def ask_to_begin(request: HttpRequest, kind: Kind, words: str) -> HttpResponse:
    """A page with ``words`` (what is asked, how much it is) whose button posts to this address."""
    context = {"kind": kind, "words": words, "action": request.get_full_path()}
    return render(request, "long_work/ask_to_begin.html", context)
