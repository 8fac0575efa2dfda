from django.db import migrations


def fill(apps, _editor):
    """Give every cut the blanks it names a row of their own."""
    cuts = apps.get_model("inventory", "Cut").objects.filter(pieces__gte=1)
    pieces = apps.get_model("inventory", "CutPiece").objects
    pieces.bulk_create(
        pieces.model(cut_id=cut, blank_id=blank, count=count, piece_nm=nm)
        for cut, blank, count, nm in cuts.values_list("pk", "blank_id", "pieces", "piece_nm")
    )


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0004_cut_pieces"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
