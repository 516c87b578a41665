"""The label promise of a revision: written with its first quote or plan, kept by every load."""

from __future__ import annotations

from decimal import Decimal

from django.db import IntegrityError, transaction

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.figures.readers import house
from formulas.models import BlendRevision
from orders.frozen.label_lines import LabelLines
from orders.models import LabelPromise
from orders.planning.batch_plan import AskedLoad, planned_weights
from orders.planning.default_load import DefaultLoad, default_loads, tanks_in_use
from orders.planning.label_lines import label_lines
from orders.planning.load_question import LoadRecipe
from orders.planning.lot_plan import LotPlan


def promise_for(*, revision: BlendRevision, lines: LabelLines, acting_user: User) -> LabelPromise:
    """The promise of a revision; ``lines`` are written down if it has none yet, else kept.

    Part of sending a quote or of planning, so no permission of its own.
    """
    if (promise := promise_of(revision)) is not None:
        return promise
    try:
        with transaction.atomic():
            return LabelPromise.objects.create(
                revision=revision, lines=lines.to_json(), by=acting_user, who=str(acting_user)
            )
    except IntegrityError:
        # Two people at the same moment: what the other wrote counts.
        if (promise := promise_of(revision)) is None:
            raise
        return promise


def promise_of(revision: BlendRevision) -> LabelPromise | None:
    """What was promised already, if anything was."""
    return LabelPromise.objects.filter(revision=revision).first()


def promise_of_default_load(
    *, recipe: LoadRecipe, volume_gal: Decimal, acting_user: User
) -> LabelPromise:
    """The promise of a revision, worked out for its default load if it has none yet.

    The default load is weighed of typical stocks into an empty tank. Raises as planning does.
    """
    if (promise := promise_of(recipe.revision)) is not None:
        return promise
    default, planned = _first_weighed(recipe, volume_gal)
    together = sum(step.weight_lb for step in planned.load.steps)
    lines = label_lines(
        recipe,
        planned.least_pct,
        {step.code: 100 * step.weight_lb / together for step in planned.load.steps},
        density_lb_per_gal=planned.load.density_lb_per_gal,
        load=f"{house().volume(default.volume_gal, 0)} in {default.tank.name}, typical stocks",
    )
    return promise_for(revision=recipe.revision, lines=lines, acting_user=acting_user)


def _first_weighed(recipe: LoadRecipe, volume_gal: Decimal) -> tuple[DefaultLoad, LotPlan]:
    """The first of the default loads that can be weighed, as a price takes it."""
    refusals = []
    for load in default_loads(volume_gal, tanks_in_use()):
        volume = float(load.volume_gal)
        asked = AskedLoad(recipe=recipe, tank=load.tank, volume_gal=volume)
        try:
            return load, planned_weights(asked)
        except BadInput as refused:
            refusals.append(refused)
    raise refusals[0]
