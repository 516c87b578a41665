"""Quality readings of mixed batches: inside the windows, or held for the formulator."""

import math
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from formulas.engine.composition import WISH_KEYS
from formulas.engine.problem import BadProblem
from formulas.models import BlendRevision
from orders.models import Batch, MeasuredDensity, QualityReading, ReadingSetAside
from orders.production.actions.charging import already_written, locked, require_key
from orders.production.notices import tell_held
from orders.production.release_checks import Reading, at_reference, findings
from orders.records.moves import move, note

READERS: Final = (Role.PLANT, Role.FORMULATOR)
ADOPTERS: Final = (Role.FORMULATOR,)
#: A reading outside its window is somebody's word against the plan's: the formulator decides.
JUDGES: Final = (Role.FORMULATOR,)
#: Names of the density correction's figures, and of ours.
_FIELDS: Final = {"measured_lb_per_gal": "density_lb_per_gal"}
_TAKES_READINGS: Final = (Batch.Status.MADE, Batch.Status.HELD)


def record_reading(
    *, batch: Batch, reading: Reading, key: str, acting_user: User
) -> QualityReading:
    """Write down what was read; outside a window the batch is held.

    IllegalMove unless the batch is made or held, BadInput for figures that cannot be.
    """
    require_role(acting_user, *READERS)
    require_key(key)
    _check(reading)
    try:
        corrected, reference_f = at_reference(batch, reading)
    except BadProblem as bad:
        fields = {_FIELDS.get(error.field, error.field): error.message for error in bad.errors}
        raise BadInput(" ".join(fields.values()), fields=fields) from bad
    with transaction.atomic():
        batch = locked(batch)
        if done := already_written(QualityReading, key):
            return done
        if batch.status not in _TAKES_READINGS:
            raise IllegalMove(
                _(
                    "%(batch)s is %(status)s; a reading is taken once the batch is mixed"
                    " and before it is released."
                )
                % {"batch": batch.number, "status": batch.get_status_display()}
            )
        found = findings(batch, reading, corrected)
        written = save_valid(
            QualityReading(
                batch=batch,
                density_lb_per_gal=reading.density_lb_per_gal,
                temperature_f=reading.temperature_f,
                density_at_reference=round(corrected, 4),
                reference_f=reference_f,
                ph=reading.ph,
                appearance=reading.appearance,
                note=reading.note,
                lab_analysis=dict(reading.lab_analysis or {}),
                lab_source=reading.lab_source,
                findings=found,
                key=key,
                by=acting_user,
                who=str(acting_user),
            ),
            acting_user,
        )
        if found and batch.status == Batch.Status.MADE:
            move(batch, Batch.Status.HELD, acting_user=acting_user, why=" ".join(found))
            tell_held(batch, " ".join(found), by=acting_user)
        else:
            told = " ".join(found) or "Everything read lies inside its window."
            note(batch, acting_user=acting_user, why=f"Reading: {told}")
    return written


def set_aside_reading(
    *, reading: QualityReading, why: str, key: str, acting_user: User
) -> ReadingSetAside:
    """A reading that was wrong counts no more: no density, no finding, nothing on a paper.

    It stays readable, with who set it aside and why; plans of a density adopted from it stand as
    they are, later ones do not follow it.
    """
    require_role(acting_user, *JUDGES)
    require_key(key)
    if not why.strip():
        raise BadInput(_("Say why the reading is wrong."), fields={"why": _("Give a reason.")})
    with transaction.atomic():
        batch = locked(reading.batch)
        done: ReadingSetAside | None = ReadingSetAside.objects.filter(reading=reading).first()
        if done is not None:
            return done
        written: ReadingSetAside = ReadingSetAside.objects.create(
            reading=reading, why=why.strip()[:400], key=key, by=acting_user, who=str(acting_user)
        )
        told = f"Reading of {house().density(reading.density_lb_per_gal)} set aside as wrong"
        note(batch, acting_user=acting_user, why=f"{told}: {why.strip()}")
    return written


def adopt_density(*, reading: QualityReading, key: str, acting_user: User) -> MeasuredDensity:
    """Let the blend's later plans expect the density this released batch was read at."""
    require_role(acting_user, *ADOPTERS)
    require_key(key)
    with transaction.atomic():
        batch = locked(reading.batch)
        done: MeasuredDensity | None = MeasuredDensity.objects.filter(reading=reading).first()
        if done is not None:
            return done
        if batch.status != Batch.Status.RELEASED:
            raise IllegalMove(
                _("%(batch)s is not released; its density is not adopted.")
                % {"batch": batch.number}
            )
        if ReadingSetAside.objects.filter(reading=reading).exists():
            raise IllegalMove(_("This reading was set aside as wrong; its density is not adopted."))
        revision = BlendRevision.objects.select_related("blend").get(pk=batch.load_plan.revision_id)
        adopted: MeasuredDensity = MeasuredDensity.objects.create(
            revision=revision,
            reading=reading,
            density_lb_per_gal=reading.density_at_reference,
            reference_f=reading.reference_f,
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
        why = f"Density {house().density(reading.density_at_reference)} adopted by {revision}."
        note(batch, acting_user=acting_user, why=why)
    return adopted


def _check(reading: Reading) -> None:
    for name in ("density_lb_per_gal", "temperature_f"):
        if not math.isfinite(getattr(reading, name)):
            raise BadInput(_("Readings are numbers."), fields={name: _("Must be a number.")})
    if reading.appearance not in QualityReading.Appearance.values:
        message = _("Choose how the liquid looks.")
        raise BadInput(message, fields={"appearance": message})
    for key, pct in (reading.lab_analysis or {}).items():
        if key not in WISH_KEYS or not (math.isfinite(pct) and 0 <= pct <= 100):
            message = _("%(key)s must be a known content from 0 to 100 percent.") % {"key": key}
            raise BadInput(message, fields={"lab_analysis": message})
