"""One look-up an object: what a person may not see is not there (404)."""

from django.http import Http404
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import NotAllowed
from blendshop.roles import STAFF, has_role
from formulas.models import BaseStock, Blend, BlendRevision, DraftWish, JarTest


def get_blend_for(user: User, pk: int) -> Blend:
    blend = Blend.objects.visible_to(user).select_related("company").filter(pk=pk).first()
    if blend is None:
        raise Http404("There is no such blend.")
    return blend


def get_revision_for(user: User, pk: int | str) -> BlendRevision:
    """A revision of a blend the person may see, with its blend and company.

    ``pk`` may be what stands in an address; text that is no row number finds nothing.
    """
    revision: BlendRevision | None = (
        BlendRevision.objects.filter(blend__in=Blend.objects.visible_to(user))
        .select_related("blend__company", "created_by")
        .filter(pk=_row_number(pk))
        .first()
    )
    if revision is None:
        raise Http404("There is no such revision.")
    return revision


def may_read_wish(user: User, record: BlendRevision | DraftWish) -> bool:
    """Whether a person may read what was asked, as far as it names stocks with shares.

    A customer who does not see recipes reads those of its own people only.
    """
    wished = record.wished
    names_shares = bool(wished.recipe or wished.stock_limits)
    return not names_shares or user.sees_recipe or record.created_by.company_id == user.company_id


def require_may_read_wish(user: User, record: BlendRevision | DraftWish) -> None:
    """NotAllowed, in a sentence, unless ``may_read_wish``."""
    if not may_read_wish(user, record):
        raise NotAllowed(
            _("The plant has set the shares of stocks in this wish; ask your rep to change it.")
        )


def get_stock_for(user: User, code: str) -> BaseStock:
    """A base stock; the plant's catalogue is for staff."""
    stock = None
    if has_role(user, *STAFF):
        stock = BaseStock.objects.for_engine().filter(code=code).first()
    if stock is None:
        raise Http404("There is no such base stock.")
    return stock


def get_jar_test_for(user: User, pk: int) -> JarTest:
    """A jar test with its shares; the plant's own, so for staff."""
    found: JarTest | None = (
        JarTest.objects.visible_to(user)
        .select_related("revision__blend", "withdrawal")
        .prefetch_related("shares__stock")
        .filter(pk=pk)
        .first()
    )
    if found is None:
        raise Http404("There is no such jar test.")
    return found


def get_draft_for(user: User, pk: int | str) -> DraftWish:
    """A draft wish that this person may see."""
    found: DraftWish | None = DraftWish.objects.visible_to(user).filter(pk=_row_number(pk)).first()
    if found is None:
        raise Http404("There is no such wish.")
    return found


def _row_number(pk: int | str) -> int:
    """Row numbers start at 1, so 0 finds nothing."""
    text = str(pk)
    return int(text) if text.isdecimal() and len(text) < 10 else 0
