"""What the owner may set about buying: what keeping and ordering cost, how seldom things run dry, limits, money, the letter's day."""

import datetime as dt
from dataclasses import asdict, dataclass, fields

from shop.shared import audit, transactions
from shop.shared.errors import Invalid
from shop.shared.models import STEEL_PAPERS, Recipient, Shop

MOST_MINOR = 10**12
_MOST_MG, _MOST_UL = 10**11, 10**11  # a hundred tonnes, a hundred cubic metres


@dataclass(frozen=True, slots=True)
class Buying:
    """Holding cost in percent of value a year, cost of an order and money in minor units, reorders of 100 that do not run dry
    by how often a thing is counted, LP-gas in mg, flammables in µL, the weekday of the owner's letter, the sentence that asks for papers with steel.
    """

    holding_percent: int = 20
    order_cost_minor: int = 1_500
    spend_minor: int | None = None
    dry_often: int = 98
    dry_sometimes: int = 95
    dry_seldom: int = 90
    lp_gas_most_mg: int = 136_077_711
    flammable_most_ul: int = 227_124_707
    weekly_day: int = 6
    steel_papers: str = STEEL_PAPERS


def of(shop: Shop) -> Buying:
    """Return the settings as they stand."""
    return Buying(**{one.name: getattr(shop, one.name) for one in fields(Buying)})


def change(wanted: Buying, *, at: dt.datetime, by: str) -> Buying:
    """Change them."""
    transactions.assert_open()
    wrong = dict(_wrong(wanted))
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    shop = Shop.objects.get(pk=1)
    before, after = asdict(of(shop)), asdict(wanted)
    if before != after:
        Shop.objects.filter(pk=1).update(**after)
        audit.write(at=at, by=by, action="buying settings changed", subject="shop 1", before=before, after=after)
    return wanted


def _wrong(wanted: Buying) -> list[tuple[str, str]]:
    found = []
    if not 0 <= wanted.holding_percent <= 100:
        found.append(("holding_percent", "Keeping stock: 0 to 100 in 100 of its value a year would work; 20 is usual."))
    for name, label, minor in (
        ("order_cost", "An order costs", wanted.order_cost_minor),
        ("spend", "May be spent", wanted.spend_minor or 0),
    ):
        if not 0 <= minor <= MOST_MINOR:
            found.append((name, f"{label}: an amount of 0 or more would work."))
    for name in ("dry_often", "dry_sometimes", "dry_seldom"):
        if not 50 <= getattr(wanted, name) <= 99:
            found += [(name, "Not dry in: 50 to 99 of 100 reorders would work.")]
    if not 0 <= wanted.lp_gas_most_mg <= _MOST_MG:
        found.append(("lp_gas", "LP-gas: a mass of 0 or more would work, such as 300 lb."))
    if not 0 <= wanted.flammable_most_ul <= _MOST_UL:
        found.append(("flammable", "Flammables: a volume of 0 or more would work, such as 60 gal."))
    if len(wanted.steel_papers) > 300:
        found.append(("steel_papers", "With steel: at most 300 characters would work."))
    if not 0 <= wanted.weekly_day <= 6:
        found.append(("weekly_day", "Letter of the week: a day from 0 for Monday to 6 for Sunday would work."))
    return found


def choose_letters(
    recipient: Recipient, parts: list[str], *, weekly: bool, known: tuple[str, ...], at: dt.datetime, by: str
) -> Recipient:
    """Choose which parts of the night's e-mail somebody gets, none for all, and whether the owner's letter of the week."""
    transactions.assert_open()
    strange = next((one for one in parts if one not in known), None)
    if strange is not None:
        raise Invalid.field("parts", f"Parts: {strange[:20]!r} is none; choose some of {', '.join(known)}.")
    chosen = [one for one in known if one in parts]
    chosen = [] if len(chosen) == len(known) else chosen
    before = {"parts": recipient.parts, "weekly": recipient.weekly}
    after = {"parts": chosen, "weekly": weekly}
    if before != after:
        Recipient.objects.filter(pk=recipient.pk).update(**after)
        audit.write(
            at=at, by=by, action="letters chosen", subject=f"recipient {recipient.pk}", before=before, after=after
        )
        recipient.refresh_from_db()
    return recipient
