"""An issued paper, for whoever may read it."""

from typing import Any, Final, cast

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from blendshop.accounts.signed_in import signed_in
from blendshop.roles import STAFF, Role, role_required
from orders.models import Paper
from orders.papers.views import asked_print, pdf_response
from orders.portal.stored_papers import DRAWN_BY
from orders.records.access import get_paper_for

#: Papers in their customer's language; labels stay English and the rest is the plant's own.
_IN_ANY_LANGUAGE: Final = frozenset(
    {Paper.Kind.QUOTE, Paper.Kind.CERTIFICATE, Paper.Kind.PACKING_LIST, Paper.Kind.RECALL_LETTER}
)


@role_required(Role.CUSTOMER, *STAFF)
@require_safe
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    """As it was issued; with ``?lang=en`` in English, where it was written in another language."""
    issued = get_paper_for(signed_in(request), pk)
    if issued.kind not in _IN_ANY_LANGUAGE:
        return pdf_response(issued)
    view_model, render = DRAWN_BY[issued.kind]
    return asked_print(request, issued, cast("type[Any]", view_model), render)
