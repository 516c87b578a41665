"""Whether the label of a part stands approved, for the pages of every room that shows parts."""

from django import template

from orders.labels import standing
from orders.models import BatchPart

register = template.Library()


@register.inclusion_tag("orders/labels/partials/label_state.html")
def label_state(part: BatchPart) -> dict[str, object]:
    """Approved by whom and when, or not, with the way to the label."""
    return {"part": part, "state": standing.label_state(part)}
