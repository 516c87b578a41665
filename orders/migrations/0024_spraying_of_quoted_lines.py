"""Lines of before get how their customer sprays today, which is what their strip went by so far."""

from django.db import migrations


def fill(apps, schema_editor):
    line_model = apps.get_model("orders", "QuoteLine")
    ship_to_model = apps.get_model("orders", "ShipTo")
    habits = {row.company_id: row for row in apps.get_model("orders", "SprayHabit").objects.all()}
    quoted = set(line_model.objects.values_list("quote__company", "quote__ship_to"))
    ship_tos = ship_to_model.objects.in_bulk({ship_to for _company, ship_to in quoted})
    for company, ship_to in sorted(quoted):
        habit, place = habits.get(company), ship_tos[ship_to]
        is_typed = habit is not None and bool(habit.state)
        line_model.objects.filter(quote__company=company, quote__ship_to=ship_to).update(
            sprayed={
                "version": 1,
                "carrier_gal_per_1000sqft": habit.carrier_gal_per_1000sqft if habit else None,
                "state": habit.state if is_typed else place.state,
                "county": habit.county if is_typed else place.county,
                "place": habit.place if is_typed else place.city,
                "is_typed": is_typed,
            }
        )


class Migration(migrations.Migration):
    dependencies = [("orders", "0023_negotiation")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
