"""How the shop cuts: what losses count in a cut plan, and the saws with their blades."""

import datetime as dt
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F

from inventory.models import Blade, CutRules
from inventory.queries import cut_question
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid
from shop.shared.units import NM_PER_INCH

MOST_HELD_NM = 1_000_000_000  # No source: no vice of a small saw is longer than a metre


def save_rules(rules: CutRules, *, at: dt.datetime, by: Actor) -> None:
    """Change how the shop plans its cuts; plans asked for before keep theirs."""
    transactions.assert_open()
    if rules.min_remnant_nm < 1:
        raise Invalid.field("min_remnant", "Shortest remnant: what is worth keeping; 12 in would work.")
    before = _facts(cut_question.rules())
    if not CutRules.objects.filter(pk=1).update(**_facts(rules), version=F("version") + 1):
        CutRules.objects.create(pk=1, **_facts(rules))
    audit.write(
        at=at, by=by.label, action="rules of cut plans changed", subject="cuts", before=before, after=_facts(rules)
    )


def rules_held() -> CutRules:
    """Return the rules, their row held until the transaction ends; made where there is none yet."""
    transactions.assert_open()
    if not CutRules.objects.filter(pk=1).update(version=F("version")):
        CutRules.objects.bulk_create([CutRules(pk=1)], ignore_conflicts=True)
        CutRules.objects.filter(pk=1).update(version=F("version"))
    return CutRules.objects.get(pk=1)


def hold_still(blade: Blade) -> Blade:
    """Return a saw as it stands, its row held until the transaction ends."""
    transactions.assert_open()
    Blade.objects.filter(pk=blade.pk).update(active=F("active"))
    return Blade.objects.get(pk=blade.pk)


def _facts(rules: CutRules) -> dict[str, Any]:
    names = ("min_remnant_nm", "trim_nm", "remnant_price_nm", "handled_price_nm", "full_price_nm", "one_heat")
    return {name: getattr(rules, name) for name in names}


def save_blade(blade: Blade, *, at: dt.datetime, by: Actor) -> Blade:
    """Write down a saw with its blade: what a cut takes and when that was measured."""
    transactions.assert_open()
    if not blade.name.strip():
        raise Invalid.field("name", "Name: write which saw and blade; band saw, 34 mm blade would work.")
    if not 0 <= blade.kerf_nm <= NM_PER_INCH:
        raise Invalid.field("kerf", "Kerf: one cut takes more than an inch; 1/16 in would work.")
    if not 0 <= blade.tail_hold_nm <= MOST_HELD_NM:
        raise Invalid.field("tail_hold", "The vice: it holds more than a metre; 3 in would work.")
    blade.name = blade.name.strip()
    taken = Invalid.field("name", f"Name: {blade.name} is in the list already; change it there.")
    if Blade.objects.filter(name__iexact=blade.name).exclude(pk=blade.pk).exists():
        raise taken
    try:
        with transaction.atomic():
            blade.save()
    except IntegrityError as exc:  # somebody else wrote it down in the same moment
        raise taken from exc
    after = {"kerf_nm": blade.kerf_nm, "tail_hold_nm": blade.tail_hold_nm, "measured_on": str(blade.measured_on)}
    audit.write(at=at, by=by.label, action="blade written down", subject=f"blade {blade.name}", after=after)
    return blade
