"""Where a page says that the plant has not set something yet: the way to the step."""

from typing import Any

from django import template
from django.template.context import Context

from blendshop.plant_steps import PlantStep

register = template.Library()


@register.inclusion_tag("partials/step_link.html", takes_context=True)
def step_link(context: Context, step: PlantStep | str | None) -> dict[str, Any]:
    """A link to the step for those who may take it, else who does; nothing without a step."""
    if not step:
        return {"step": None}
    found = PlantStep(step)
    roles: set[str] = context.get("roles") or set()
    return {
        "step": found,
        "may": bool({role.value for role in found.roles} & roles),
        "is_plant_staff": context.get("is_plant_staff", False),
        "doers": [role.value for role in found.roles],
    }
