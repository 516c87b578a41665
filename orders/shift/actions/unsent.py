"""A tablet says how many weights it still has to send; a person says that it is settled."""

from collections.abc import Mapping
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import NotAllowed
from blendshop.roles import require_role
from orders.models import Batch, UnsentWeights
from orders.production.actions.charging import CHARGERS
from orders.records.moves import note

#: More batches than a tablet ever has weights of, and more weights than a batch has.
MOST_BATCHES: Final = 30
MOST_WEIGHTS: Final = 999


def report_unsent(
    *, tablet: str, person: int, waiting: Mapping[str, int], acting_user: User
) -> None:
    """The newest word of a tablet about its person's own weights, by the number of the batch.

    A batch it does not name has nothing left. NotAllowed about anybody else's weights.
    """
    require_role(acting_user, *CHARGERS)
    if person != acting_user.pk:
        raise NotAllowed(_("A tablet speaks only of the weights of whoever is signed in."))
    batches = Batch.objects.in_bulk(list(waiting), field_name="number")
    now = timezone.now()
    with transaction.atomic():
        mine = UnsentWeights.objects.filter(tablet=tablet, by=acting_user)
        mine.exclude(batch__in=batches.values()).delete()
        for number, batch in batches.items():
            UnsentWeights.objects.update_or_create(
                tablet=tablet,
                by=acting_user,
                batch=batch,
                defaults={"count": waiting[number], "seen_at": now},
            )


def settle_unsent(*, report: UnsentWeights, acting_user: User) -> None:
    """What a tablet said is settled, a broken tablet's say; the batch's history keeps it."""
    require_role(acting_user, *CHARGERS)
    with transaction.atomic():
        gone, _rows = UnsentWeights.objects.filter(pk=report.pk).delete()
        if gone:
            told = _("%(who)s's tablet still had unsent weights (%(n)s): said to be settled.")
            words = told % {"who": report.by, "n": report.count}
            note(report.batch, acting_user=acting_user, why=words)
