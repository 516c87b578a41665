"""Addresses that customers had named, and nobody had made active yet, wait in the queue."""

from django.db import migrations


def let_wait(apps, schema_editor):
    ShipTo = apps.get_model("orders", "ShipTo")
    kept = apps.get_model("orders", "HistoricalShipTo").objects
    for ship_to in ShipTo.objects.filter(active=False):
        rows = kept.filter(id=ship_to.pk).order_by("history_id").select_related("history_user")
        first = rows.first()
        if first is None or first.history_type != "+" or first.history_user is None:
            continue
        is_own = first.history_user.company_id == ship_to.company_id
        if is_own and not rows.filter(active=True).exists():
            ShipTo.objects.filter(pk=ship_to.pk).update(
                named_by=first.history_user_id, waits_since=first.history_date
            )


class Migration(migrations.Migration):

    dependencies = [
        ("orders", "0033_what_waits_and_what_rules_said"),
    ]

    operations = [
        migrations.RunPython(let_wait, migrations.RunPython.noop),
    ]
