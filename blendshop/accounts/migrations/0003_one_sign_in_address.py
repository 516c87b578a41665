"""Somebody signs in with the address the office wrote down and with no other."""

from django.db import migrations


def forget_other_addresses(apps, schema_editor):
    """A page let people add addresses that opened the account too; that page is gone."""
    apps.get_model("account", "EmailAddress").objects.all().delete()


class Migration(migrations.Migration):

    dependencies = [
        ("accounts", "0002_security_log"),
        ("account", "0009_emailaddress_unique_primary_email"),
    ]

    operations = [migrations.RunPython(forget_other_addresses, migrations.RunPython.noop)]
