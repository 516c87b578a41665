"""Why what a customer wants to order waits for somebody of the plant to look at it first."""

from __future__ import annotations

from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import override

from formulas.blends.reviews import is_reviewed
from orders.models import Order
from orders.ordering.limits import above_limits
from orders.reordering.preview import OfferedLine, Reorder


def why_request(reorder: Reorder, *, but: Order | None = None) -> tuple[str, ...]:
    """Sentences for the customer; empty where it may order this at once.

    ``but`` is the order that is changed to this. Asked again by the action that holds the
    company's row, so that two orders at once cannot both slip under what may be open.
    """
    if reorder.price is None:
        return ()
    gallons = sum(float(line.price.volume_gal) for line in reorder.lines)
    told = [text for line in reorder.lines if (text := _of_recipe(line))]
    told += above_limits(reorder.company, gallons=gallons, total=reorder.price.total, but=but)
    return tuple(dict.fromkeys(told))


def reasons_to_keep(reorder: Reorder, *, but: Order | None = None) -> tuple[str, ...]:
    """The same in the words of the house, as they are stored with the order."""
    with override(settings.LANGUAGE_CODE):
        return why_request(reorder, but=but)


def _of_recipe(line: OfferedLine) -> str:
    blend = line.wanted.revision.blend
    if not is_reviewed(line.wanted.revision):
        return _("Our formulator has not reviewed the recipe of {blend} yet.").format(blend=blend)
    if line.new_stocks:
        return _("The recipe of {blend} is solved again with {stocks}, to be reviewed.").format(
            blend=blend, stocks=", ".join(line.new_stocks)
        )
    if line.new_cautions:
        return _("The recipe of {blend} is solved again and has a new caution: {caution}").format(
            blend=blend, caution=line.new_cautions[0]
        )
    return ""
