import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0003_as_ordered"),
    ]

    operations = [
        migrations.CreateModel(
            name="CutPiece",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "cut",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="kinds", to="inventory.cut"
                    ),
                ),
                (
                    "blank",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="inventory.item"),
                ),
                ("count", models.PositiveIntegerField()),
                ("piece_nm", models.BigIntegerField()),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("cut", "blank"), name="cut_piece_once"),
                    models.CheckConstraint(
                        condition=models.Q(("count__gte", 1), ("piece_nm__gte", 1)), name="cut_piece_is_some"
                    ),
                ],
            },
        ),
    ]
