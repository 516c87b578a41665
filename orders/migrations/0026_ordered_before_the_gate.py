"""A plant that was working before reviews and limits goes on as it could, and then confirms.

Recipes that were ordered count as reviewed, in words that say nobody read them. A company that has
ordered starts with limits of three times its largest order (and three times what it has open, where
that is more); the office confirms them. A company without orders has none: what it orders is a
request. People may order as they could (the column's default).

Back, what is no order yet or was declined is cancelled, as the state before knows neither.
"""

import math
from typing import Any

from django.db import migrations
from django.db.models import Max, Sum

BEFORE = "ordered before reviews existed"
NOTE = "Nobody has read it again: it was ordered before reviews existed."
TIMES = 3
OPEN = ("open", "planned", "made")


def keep_what_was_ordered(apps: Any, schema_editor: Any) -> None:
    Order, OrderLine = apps.get_model("orders", "Order"), apps.get_model("orders", "OrderLine")
    RecipeReview = apps.get_model("formulas", "RecipeReview")
    orders = Order.objects.exclude(status="cancelled")
    lines = OrderLine.objects.filter(order__in=orders)
    revisions = sorted(set(lines.order_by().values_list("revision", flat=True)))
    RecipeReview.objects.bulk_create(
        [RecipeReview(revision_id=pk, who=BEFORE, note=NOTE) for pk in revisions], batch_size=500
    )
    totals = orders.order_by().values("company").annotate(most=Max("total"))
    opened = dict(
        orders.filter(status__in=OPEN)
        .order_by()
        .values("company")
        .annotate(sum=Sum("total"))
        .values_list("company", "sum")
    )
    gallons: dict[int, float] = {}
    of_orders = lines.order_by().values("order__company", "order").annotate(gal=Sum("volume_gal"))
    for row in of_orders:
        company = row["order__company"]
        gallons[company] = max(gallons.get(company, 0.0), row["gal"])
    apps.get_model("orders", "OrderLimits").objects.bulk_create(
        [
            apps.get_model("orders", "OrderLimits")(
                company_id=row["company"],
                most_gal=max(1, math.ceil(TIMES * gallons.get(row["company"], 0.0))),
                most_total=TIMES * row["most"],
                most_open=TIMES * max(row["most"], opened.get(row["company"]) or 0),
            )
            for row in totals
        ],
        batch_size=500,
    )


def as_before_the_gate(apps: Any, schema_editor: Any) -> None:
    """Reviews and limits that a person gave go with their tables; an order needs a known state."""
    apps.get_model("formulas", "RecipeReview").objects.filter(by=None, who=BEFORE).delete()
    apps.get_model("orders", "OrderLimits").objects.filter(confirmed_at=None).delete()
    OrderEvent = apps.get_model("orders", "OrderEvent")
    waiting = apps.get_model("orders", "Order").objects.filter(status__in=("requested", "declined"))
    for order in waiting:
        OrderEvent.objects.create(
            order=order,
            who="a step back to an earlier version",
            from_status=order.status,
            to_status="cancelled",
            why=f"Was {order.status}, which the earlier version does not know.",
        )
        order.status = "cancelled"
        order.save(update_fields=["status"])


class Migration(migrations.Migration):
    dependencies = [("orders", "0025_order_gate"), ("formulas", "0007_recipe_review")]

    operations = [migrations.RunPython(keep_what_was_ordered, as_before_the_gate)]
