"""The key of a form as one person sent it: the same press twice is the same key."""

from __future__ import annotations

import hashlib
import json

from django.http import QueryDict

from blendshop.accounts.models import User

#: The field in which a form carries its mark; ``{% once_mark %}`` writes it.
MARK = "once"
_LEFT_OUT = frozenset({"csrfmiddlewaretoken"})


def key_of_sent(person: User, sent: QueryDict) -> str:
    """64 characters; empty for a form without a mark. With anything else in it it is another."""
    if not sent.get(MARK, "").strip():
        return ""
    told = sorted((name, values) for name, values in sent.lists() if name not in _LEFT_OUT)
    return hashlib.sha256(json.dumps([person.pk, told]).encode()).hexdigest()
