"""What may be done with a quote; each subject is a module of its own."""

from orders.quoting.actions.answers import accept_quote, decline_quote, quote_opened
from orders.quoting.actions.drafts import QUOTE_PREFIX, change_draft, draft_quote, reprice_draft
from orders.quoting.actions.sending import (
    approve_quote,
    expire_quotes,
    send_back,
    send_quote,
    submit_quote,
    withdraw_quote,
)

__all__ = [
    "QUOTE_PREFIX",
    "accept_quote",
    "approve_quote",
    "change_draft",
    "decline_quote",
    "draft_quote",
    "expire_quotes",
    "quote_opened",
    "reprice_draft",
    "send_back",
    "send_quote",
    "submit_quote",
    "withdraw_quote",
]
