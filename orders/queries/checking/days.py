"""Days given: what each was based on is kept whole, and says the chance that was stated."""

from collections.abc import Iterator

from orders.calc.dates_json import writing
from orders.models import Promise, PromiseBasis


def differences() -> Iterator[str]:
    """Yield what is wrong with days that were worked out."""
    yield from _bases()
    yield from _chances()


def _bases() -> Iterator[str]:
    for basis in PromiseBasis.objects.order_by("pk").iterator():
        packed = str(basis.inputs.get("packed", ""))
        try:
            writing.unpack(packed)
        except ValueError:
            yield f"Promise basis {basis.pk} is not what was kept when the day was given."
            continue
        if not packed.startswith(f"{basis.digest}:"):
            yield f"Promise basis {basis.pk} has digest {basis.digest[:12]}; what it keeps has {packed[:12]}."


def _chances() -> Iterator[str]:
    rows = Promise.objects.filter(source=Promise.Source.CALCULATED).order_by("pk")
    for pk, day, chance, curve in rows.values_list("pk", "day", "chance_ppm", "curve"):
        stated = dict(map(tuple, curve)).get(day.isoformat())
        if stated != chance:
            yield f"Promise {pk} states {chance} in a million for {day}; its curve says {stated}."
