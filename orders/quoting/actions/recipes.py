"""A draft's line made by another recipe of the same wish."""

from dataclasses import replace

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import require_role
from formulas.blends.actions import save_recipe_for_order
from formulas.engine_bridge import load_catalogue
from formulas.models import BlendRevision
from orders.models import Quote
from orders.quoting.actions.drafts import rewrite_lines, totals
from orders.quoting.actions.refusals import WRITES_QUOTES, require_draft
from orders.quoting.draft_prices import draft_lines_of
from orders.quoting.stock_allows import line_as_stock_allows, place_of
from orders.records.moves import note


def take_as_stock_allows(*, quote: Quote, position: int, acting_user: User) -> BlendRevision:
    """Make a line of a draft by what is on hand: a new revision, for this quote only.

    Wish, grade and whatever was negotiated stay; the draft is priced anew. BadInput where stock
    allows no such blend, IllegalMove where the stock of the line is on hand.
    """
    require_role(acting_user, *WRITES_QUOTES)
    require_draft(quote)
    today = timezone.localdate()
    with transaction.atomic():
        allows = line_as_stock_allows(quote, position, today)
        if allows is None:
            raise IllegalMove(_("Stock on hand covers line {line}.").format(line=position))
        if not allows.shares:
            raise BadInput(allows.problem or _("Stock on hand allows no such blend."))
        lines = list(quote.lines.select_related("revision__blend", "package"))
        line = next(each for each in lines if each.position == position)
        revision = save_recipe_for_order(
            acting_user=acting_user,
            revision=line.revision,
            shares=allows.shares,
            catalogue=load_catalogue(today),
            note=f"As stock allows, for {quote.number} only; instead of {line.revision.number}.",
        )
        place, asked = place_of(lines, line), list(draft_lines_of(lines))
        asked[place] = replace(asked[place], revision=revision)
        rewrite_lines(quote, asked, today)
        told = f"Line {position} as stock allows: revision {revision.number}."
        note(quote, acting_user=acting_user, why=told, data=totals(quote))
    return revision
