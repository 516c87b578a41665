"""A charge that counts no more is reversed, as everywhere else; its rows stay where they are."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0007_recall'),
    ]

    operations = [
        migrations.AlterModelTable(
            name='chargetakenback',
            table='orders_chargetakenback',
        ),
        migrations.RenameModel(
            old_name='ChargeTakenBack',
            new_name='ReversedCharge',
        ),
        migrations.AlterModelOptions(
            name='reversedcharge',
            options={'ordering': ('pk',)},
        ),
        migrations.AlterField(
            model_name='reversedcharge',
            name='charge',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='reversal', to='orders.charge'),
        ),
        migrations.RemoveConstraint(
            model_name='reversedcharge',
            name='charge_taken_back_for_a_reason',
        ),
        migrations.AddConstraint(
            model_name='reversedcharge',
            constraint=models.CheckConstraint(condition=models.Q(('why', ''), _negated=True), name='reversed_charge_has_a_reason', violation_error_message='Say why the charge is reversed.'),
        ),
    ]
