import django.core.validators
from django.db import migrations, models


def weigh_what_is_reserved(apps, schema_editor):
    """By the load its price was figured for; without a price by its recipe."""
    rounds = apps.get_model("orders", "StandingRound").objects
    weighed = []
    for each in rounds.select_related("package", "revision").iterator(chunk_size=500):
        gallons = each.quantity * (
            1.0 if each.package.kind == "bulk" else float(each.package.fill_gal)
        )
        by_recipe = gallons * each.revision.density_lb_per_gal
        each.mass_lb = float((each.price or {}).get("mass_lb", by_recipe))
        weighed.append(each)
    rounds.bulk_update(weighed, ["mass_lb"], batch_size=500)


class Migration(migrations.Migration):
    dependencies = [("orders", "0035_rules_change")]

    operations = [
        migrations.AddField(
            model_name="standinground",
            name="mass_lb",
            field=models.FloatField(
                default=0,
                help_text="What its packages weigh, as an order of them on the day it was reserved.",
                validators=[django.core.validators.MinValueValidator(0)],
            ),
            preserve_default=False,
        ),
        migrations.RunPython(weigh_what_is_reserved, migrations.RunPython.noop, elidable=True),
    ]
