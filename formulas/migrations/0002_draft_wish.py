import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """A parked wish is called a draft wish; its table keeps its name, no row is touched."""

    dependencies = [("accounts", "0001_initial"), ("formulas", "0001_initial")]

    operations = [
        migrations.AlterModelTable(name="parkedwish", table="formulas_parkedwish"),
        migrations.RenameModel(old_name="ParkedWish", new_name="DraftWish"),
        migrations.AlterModelOptions(
            name="draftwish",
            options={"ordering": ("-created_at", "-pk"), "verbose_name_plural": "draft wishes"},
        ),
        migrations.AlterField(
            model_name="draftwish",
            name="company",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="draft_wishes",
                to="accounts.company",
            ),
        ),
    ]
