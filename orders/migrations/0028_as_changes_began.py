"""Tanks, places and quantity breaks as they stood when their changes began to be kept.

Without it the first change of each would not know what was there before.
"""

from django.db import migrations
from django.utils import timezone

MODELS = ("QuantityBreak", "ShipTo", "Tank")
REASON = "as it stood when changes began to be kept"


def keep(apps, schema_editor):
    now = timezone.now()
    for name in MODELS:
        model = apps.get_model("orders", name)
        kept = apps.get_model("orders", f"Historical{name}")
        columns = [field.attname for field in model._meta.concrete_fields]
        kept.objects.bulk_create(
            (
                kept(history_date=now, history_type="+", history_change_reason=REASON, **row)
                for row in model.objects.values(*columns)
            ),
            batch_size=500,
        )


def forget(apps, schema_editor):
    for name in MODELS:
        apps.get_model("orders", f"Historical{name}").objects.filter(
            history_change_reason=REASON
        ).delete()


class Migration(migrations.Migration):
    dependencies = [("orders", "0027_found_and_changed")]

    operations = [migrations.RunPython(keep, forget)]
