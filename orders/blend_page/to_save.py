"""What a button that keeps a wish takes from the page: what is typed, if it may be kept."""

from __future__ import annotations

from typing import Any

from django.http import QueryDict
from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from blendshop.plant_steps import NotSetUp
from orders.blend_page.page_options import PageOptions
from orders.blend_page.page_state import PageState, state_of
from orders.blend_page.quick_entry import with_line_taken
from orders.blend_page.wish_form import WishForm


def typed_wish(sent: QueryDict, options: PageOptions) -> PageState:
    """The wish as it is typed, or as a link (``wish``) says it."""
    link = sent.get("wish")
    typed = with_line_taken(sent, options) if link is None else QueryDict(link)
    return state_of(WishForm(typed, options=options, focus=False))


def contract_of(worked: PageState) -> dict[str, Any]:
    """The wish as the contract has it; BadInput where nothing above zero is asked for."""
    if worked.missing is not None:
        raise NotSetUp(worked.failure, worked.missing)
    if worked.wish is None or worked.wish.is_empty:
        raise BadInput(_("There is no wish to save yet."))
    if not worked.wish.asks_above_zero:
        raise BadInput(_("This wish asks for nothing: give one minimum above zero, then save it."))
    return worked.wish.wish.contract_json()
