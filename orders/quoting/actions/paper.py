"""Issue a quote as a paper."""

from blendshop.accounts.models import User
from blendshop.roles import Role, require_role
from orders.models import Paper, Quote
from orders.papers.actions import issue_paper
from orders.quoting.quote_pdf import render_quote
from orders.quoting.quote_view import quote_view
from orders.quoting.view_models import QuoteView


def issue_quote_paper(
    *, quote: Quote, acting_user: User | None, accept_url: str | None = None
) -> Paper:
    """The quote as a PDF. ``acting_user`` is None for a reader who came by the signed link.

    A signed link differs each time it is made, so it is given once, when the quote is sent;
    without ``accept_url`` the newest paper's own link is kept, and the paper with it.
    """
    if acting_user is not None:
        require_role(acting_user, Role.CUSTOMER, Role.REP, Role.OFFICE, Role.FORMULATOR)
    newest = quote.papers.order_by("-pk").first()
    issued = QuoteView.from_json(newest.snapshot) if newest else None
    if accept_url is None:
        accept_url = issued.accept_url if issued else ""
    view = quote_view(quote, accept_url=accept_url, issued=issued)
    return issue_paper(Paper.Kind.QUOTE, quote, view, render_quote, acting_user)
