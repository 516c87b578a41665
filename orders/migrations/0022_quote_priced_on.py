"""Quotes of before say of which day's costs their price is: of their last pricing."""

from django.db import migrations
from django.db.models import OuterRef, Q, Subquery
from django.db.models.functions import TruncDate


def say_when_priced(apps, schema_editor):
    quotes = apps.get_model("orders", "Quote")
    events = apps.get_model("orders", "QuoteEvent")
    priced = Q(to_status__in=["awaiting_approval", "sent"]) | Q(
        to_status="draft", data__has_key="total"
    )
    newest = (
        events.objects.filter(priced, quote=OuterRef("pk"), from_status__in=["", "draft"])
        .order_by("-pk")
        .annotate(day=TruncDate("at"))
    )
    quotes.objects.filter(priced_on__isnull=True).update(
        priced_on=Subquery(newest.values("day")[:1])
    )


class Migration(migrations.Migration):
    dependencies = [("orders", "0021_cost_change")]

    operations = [migrations.RunPython(say_when_priced, migrations.RunPython.noop)]
