"""The owner of each company: until somebody says otherwise the first of its people."""

from django.db import migrations, models


def first_person_owns(apps, schema_editor):
    """Of the people who can sign in; of all where nobody can."""
    User = apps.get_model("accounts", "User")
    companies = User.objects.filter(company__isnull=False).order_by().values_list("company")
    for (company,) in companies.distinct():
        people = User.objects.filter(company=company).order_by("-is_active", "pk")
        User.objects.filter(pk=people.first().pk).update(is_owner=True)


class Migration(migrations.Migration):
    dependencies = [("accounts", "0007_roles_in_the_log")]

    operations = [
        migrations.AddField(
            model_name="user",
            name="is_owner",
            field=models.BooleanField(
                default=False,
                help_text="Of a customer's person: invites colleagues and says what they may do.",
            ),
        ),
        migrations.RunPython(first_person_owns, migrations.RunPython.noop),
    ]
