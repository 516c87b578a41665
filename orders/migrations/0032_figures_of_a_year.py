"""Figures of a year: what order lines earn, and what went into batches by its day."""

from decimal import Decimal
from itertools import islice

from django.db import migrations, models

AT_ONCE = 500


def say_what_lines_earn(apps, schema_editor):
    lines = apps.get_model("orders", "OrderLine").objects
    rows = lines.only("pk", "price").order_by("pk").iterator(chunk_size=AT_ONCE)
    while together := list(islice(rows, AT_ONCE)):
        for line in together:
            line.material, line.earned = _money_of(line.price)
        lines.bulk_update(together, ["material", "earned"])


def _money_of(price):
    """As ``PriceBreakdown.amount`` and ``PriceBreakdown.earned`` read it on this day."""
    amounts = {}
    for step in price.get("steps", ()):
        amounts[step["code"]] = amounts.get(step["code"], Decimal(0)) + Decimal(step["amount"])
    earned = amounts.get("margin", Decimal(0)) + amounts.get("discount", Decimal(0))
    if (tariff := price.get("freight_tariff")) is not None:
        earned += min(Decimal(0), amounts.get("freight", Decimal(0)) - Decimal(tariff))
    return amounts.get("material", Decimal(0)), earned


class Migration(migrations.Migration):
    dependencies = [("orders", "0031_the_year")]

    operations = [
        migrations.AddField(
            model_name="orderline",
            name="earned",
            field=models.DecimalField(
                decimal_places=2,
                default=0,
                editable=False,
                help_text="The margin its price leaves, after discount and freight below its tariff.",
                max_digits=12,
            ),
        ),
        migrations.AddField(
            model_name="orderline",
            name="material",
            field=models.DecimalField(
                decimal_places=2,
                default=0,
                editable=False,
                help_text="What its price counts for material.",
                max_digits=12,
            ),
        ),
        migrations.AddIndex(
            model_name="stockmovement",
            index=models.Index(
                condition=models.Q(("batch__isnull", False)),
                fields=["at"],
                name="stock_movement_of_a_batch_at",
            ),
        ),
        migrations.RunPython(say_what_lines_earn, migrations.RunPython.noop),
    ]
