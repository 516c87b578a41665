"""After the release: packages with serials, and the balance of the batch."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.db.models import Sum
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import Role, require_role
from orders.inventory.holds import require_no_hold
from orders.models import Batch, BatchClosing, BatchPart, PackageSerial, TankEntry
from orders.models.pounds import exact_pounds
from orders.production.actions.charging import already_written, locked, positive_pounds, require_key
from orders.production.steps import batch_steps, charged_lb
from orders.records.moves import note
from orders.tanks.actions.draining import MEASURED, leave_heel
from orders.tanks.heel import USUAL_HEEL, newest_entry, usual_heel
from orders.tanks.mixing import under

PACKERS: Final = (Role.PLANT, Role.FORMULATOR)
#: A larger difference between charged and filled needs a word of where it went.
USUAL_LOSS_PCT: Final = Decimal(1)


def fill_packages(
    *, part: BatchPart, net_lb: Sequence[Decimal], key: str, acting_user: User
) -> list[PackageSerial]:
    """One serial for each filled package of a part, with its net weight, of a released batch.

    Serials count through the whole batch, whatever the part.
    """
    require_role(acting_user, *PACKERS)
    require_key(key)
    masses = [positive_pounds(mass) for mass in net_lb]
    with transaction.atomic():
        batch = locked(part.batch)
        of_batch = PackageSerial.objects.filter(part__batch=batch)
        done = list(of_batch.filter(key__startswith=f"{key}:"))
        if done:
            return done
        _require_fillable(batch, part, masses)
        first = of_batch.count() + 1
        filled = [
            PackageSerial.objects.create(
                part=part,
                serial=f"{batch.number}-{number:02d}",
                net_lb=mass,
                key=f"{key}:{number}",
                by=acting_user,
                who=str(acting_user),
            )
            for number, mass in enumerate(masses, start=first)
        ]
        note(batch, acting_user=acting_user, why=f"Filled {len(filled)} packages.")
    return filled


def close_batch(
    *,
    batch: Batch,
    why: str,
    key: str,
    acting_user: User,
    heel_lb: Decimal | None = None,
) -> BatchClosing:
    """Write the balance and drain the tank to its heel. A large difference needs a reason.

    ``heel_lb`` is what was measured in the tank; None takes the usual heel, and never more than
    was not filled, so that no pound is counted twice. What is left as a heel is no loss; it is
    the next batch's.
    """
    require_role(acting_user, *PACKERS)
    require_key(key)
    measured = None if heel_lb is None else _heel(heel_lb)
    with transaction.atomic():
        batch = locked(batch)
        if done := already_written(BatchClosing, key):
            return done
        if BatchClosing.objects.filter(batch=batch).exists():
            raise IllegalMove(_("%(batch)s is already closed.") % {"batch": batch.number})
        charged, heel_in, filled = charged_or_planned_lb(batch), heel_in_lb(batch), filled_lb(batch)
        if not filled:
            raise IllegalMove(_("%(batch)s has no filled package yet.") % {"batch": batch.number})
        not_filled = charged + heel_in - filled
        left = _left_in_tank(batch, measured, not_filled, acting_user)
        loss = not_filled - left
        if abs(loss) > charged * USUAL_LOSS_PCT / 100 and not why.strip():
            says = (
                _("%(loss)s were not filled: say where the difference comes from.")
                if loss > 0
                else _("%(loss)s too much: say where the difference comes from.")
            )
            message = says % {"loss": house().weighed(abs(loss))}
            raise BadInput(message, fields={"why": message})
        closing: BatchClosing = BatchClosing.objects.create(
            batch=batch,
            heel_in_lb=heel_in,
            charged_lb=charged,
            filled_lb=filled,
            heel_left_lb=left,
            loss_lb=loss,
            why=why.strip(),
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
        told = f"Closed: {house().every_digit(filled)} of {house().weighed(charged)} filled."
        if left:
            told = f"{told} {house().weighed(left)} stay in {batch.tank.name} as its heel."
        note(batch, acting_user=acting_user, why=told)
    return closing


def _left_in_tank(
    batch: Batch, measured: Decimal | None, not_filled: Decimal, acting_user: User
) -> Decimal:
    """Pounds that stay in the tank, written into its ledger.

    What its page says already where it was drained there; nothing once it was rinsed or holds
    something else.
    """
    entry = newest_entry(batch.tank)
    if entry is None or entry.batch_id != batch.pk:
        return Decimal(0)
    if entry.kind == TankEntry.Kind.DRAINED:
        return _to_the_thousandth(entry.held.mass_lb)
    usual = _to_the_thousandth(usual_heel(entry.held, batch.tank).mass_lb)
    left = min(usual, max(Decimal(0), not_filled)) if measured is None else measured
    written = leave_heel(
        batch=batch,
        heel_lb=float(left),
        basis=USUAL_HEEL if measured is None else MEASURED,
        key=f"closed:{batch.number}",
        acting_user=acting_user,
    )
    return Decimal(0) if written is None else left


def charged_or_planned_lb(batch: Batch) -> Decimal:
    """What was charged; of a batch weighed from the printed ticket, what was planned."""
    return charged_lb(batch_steps(batch)) or _to_the_thousandth(batch.load_plan.charged_lb)


def heel_in_lb(batch: Batch) -> Decimal:
    """What was in the tank when the batch was begun; its own from then on."""
    heel = under(batch)
    return Decimal(0) if heel is None else _to_the_thousandth(heel.mass_lb)


def stays_in_tank_lb(batch: Batch) -> Decimal:
    """The heel it left, once the tank was drained; before that, what stays is not known."""
    entry = newest_entry(batch.tank)
    if entry is None or entry.batch_id != batch.pk or entry.kind != TankEntry.Kind.DRAINED:
        return Decimal(0)
    return _to_the_thousandth(entry.held.mass_lb)


def _to_the_thousandth(mass_lb: float) -> Decimal:
    return exact_pounds(round(mass_lb, 3))


def _heel(heel_lb: Decimal) -> Decimal:
    try:
        heel = exact_pounds(heel_lb)
    except ValueError as error:
        raise BadInput(str(error), fields={"heel_lb": str(error)}) from error
    if heel < 0:
        message = _("A tank does not hold less than nothing.")
        raise BadInput(message, fields={"heel_lb": message})
    return heel


def filled_lb(batch: Batch) -> Decimal:
    """Net pounds in all packages of the batch."""
    packages = PackageSerial.objects.filter(part__batch=batch)
    return packages.aggregate(sum=Sum("net_lb"))["sum"] or Decimal(0)


def _require_fillable(batch: Batch, part: BatchPart, masses: Sequence[Decimal]) -> None:
    if batch.status != Batch.Status.RELEASED:
        raise IllegalMove(
            _("%(batch)s is %(status)s; only a released batch is filled.")
            % {"batch": batch.number, "status": batch.get_status_display()}
        )
    require_no_hold([batch])
    if BatchClosing.objects.filter(batch=batch).exists():
        raise IllegalMove(
            _("%(batch)s is closed; nothing more is filled from it.") % {"batch": batch.number}
        )
    if not masses:
        raise BadInput(_("Fill at least one package."), fields={"count": _("At least one.")})
    package = part.order_line.package
    limit = None if package.max_gross_lb is None else package.max_gross_lb - package.tare_lb
    for mass in masses:
        if limit is not None and mass > limit:
            message = _(
                "%(mass)s is more than a %(package)s may hold (%(limit)s without its own weight)."
            ) % {
                "mass": house().weighed(mass),
                "package": package.name,
                "limit": house().weighed(limit),
            }
            raise BadInput(message, fields={"net_lb": message})
