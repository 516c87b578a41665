"""A quote drafted again: its next version, or the same for another customer."""

from dataclasses import replace
from datetime import date

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import require_role
from formulas.blends.actions import save_blend
from formulas.engine_bridge import Catalogue
from formulas.models import BlendRevision
from orders.models import Quote
from orders.quoting.actions.drafts import draft_quote
from orders.quoting.actions.refusals import WRITES_QUOTES, may_be_replaced
from orders.quoting.deals import deal_of_quote
from orders.quoting.draft_prices import DraftLine, draft_lines_of
from orders.quoting.usual import usual_ship_to


def draft_next_version(
    *, quote: Quote, acting_user: User, catalogue: Catalogue | None = None
) -> Quote:
    """A draft of the same lines at today's costs that takes the place of ``quote`` once sent.

    What was negotiated stays: a discount as it was given, a price that was asked for at that price.

    Asked again it is the version there is. Until that is sent the customer may still answer
    ``quote``. ``catalogue`` is one of other costs than today's.
    """
    require_role(acting_user, *WRITES_QUOTES)
    if not may_be_replaced(quote):
        raise IllegalMove(
            _("{number} is {status}; only a quote that went out has a next version.").format(
                number=quote.number, status=quote.get_status_display()
            )
        )
    if drafted := quote.next_version:
        return drafted
    try:
        with transaction.atomic():
            return draft_quote(
                acting_user=acting_user,
                company=quote.company,
                ship_to=quote.ship_to,
                lines=_lines(quote),
                validity_days=quote.validity_days,
                notes=quote.notes,
                mailed_to=quote.mailed_to,
                payment_terms=quote.payment_terms,
                wanted_on=_still_to_come(quote),
                agreed_freight=quote.agreed_freight,
                deal=deal_of_quote(quote),
                replaces=quote,
                catalogue=catalogue,
            )
    except IntegrityError:
        if drafted := quote.next_version:
            return drafted  # the same click, twice at once
        raise


def copy_quote(*, quote: Quote, company: Company, acting_user: User) -> Quote:
    """A draft of the same lines for another customer, to its usual address, at its own terms.

    What was negotiated with the first customer (margin, discount, price, freight) stays with it.

    What is blended for the first customer only is saved for the other under the same name, solved
    anew from its wish; the plant's own blends are quoted as they are.
    """
    require_role(acting_user, *WRITES_QUOTES)
    ship_to = usual_ship_to(company.pk)
    if ship_to is None:
        raise BadInput(
            _("{company} has no address to ship to yet.").format(company=company),
            fields={"company": _("Add an address first.")},
        )
    with transaction.atomic():
        lines = [
            replace(
                line,
                revision=_blended_for(company, line.revision, quote, acting_user),
                margin_pct=None,
                deal=None,
            )
            for line in _lines(quote)
        ]
        return draft_quote(
            acting_user=acting_user,
            company=company,
            ship_to=ship_to,
            lines=lines,
            validity_days=quote.validity_days,
            notes=quote.notes,
        )


def _lines(quote: Quote) -> tuple[DraftLine, ...]:
    return draft_lines_of(list(quote.lines.select_related("revision__blend", "package")))


def _still_to_come(quote: Quote) -> date | None:
    wanted = quote.wanted_on
    return wanted if wanted and wanted >= timezone.localdate() else None


def _blended_for(
    company: Company, revision: BlendRevision, quote: Quote, acting_user: User
) -> BlendRevision:
    blend = revision.blend
    if blend.company_id in (None, company.pk):
        # What was made of scarce stock for this quote only is not sold to the next customer.
        return revision.for_anybody
    same = BlendRevision.objects.filter(
        blend__company=company, blend__name=blend.name, blend__archived=False, wish=revision.wish
    )
    return same.order_by("-pk").first() or save_blend(
        acting_user=acting_user,
        name=blend.name,
        company=company,
        wish=revision.wished.contract_json(),
        today=timezone.localdate(),
        note=_("As quoted in {number}.").format(number=quote.number),
    )
