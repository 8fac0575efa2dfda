"""On the rack: what the second look at a delivery finds, written down: sizes, weight, another melt, an answer, a claim."""

import datetime as dt
import re

from django.db.models import F

from inventory.calc import workdays
from inventory.calc.shares import share
from inventory.models import Bar, Claim, Delivery, DeliveryLine, DeliveryPhoto
from inventory.services import delivery_lines
from shop.access.actor import Actor
from shop.shared import audit, clock, files, shop_row, transactions
from shop.shared.errors import Invalid
from shop.shared.files import Kept
from shop.shared.units import parse_length, parse_mass

ANSWERS = ("accepted", "accepted with a note", "not to be used", "refused")
_UNIT = re.compile(r"(mm|cm|in|\")\s*$", re.IGNORECASE)
_BETWEEN = re.compile(r"\s*[/×]\s*|\s+x\s+", re.IGNORECASE)


def two_sizes(text: str, *, unit: str | None, field: str) -> tuple[int, int]:
    """Read two sizes of one cross-section such as `2.004/1.998` or `50.2/50.0 mm`; one alone stands for both."""
    parts = [part for part in _BETWEEN.split(text.strip()) if part]
    if not 1 <= len(parts) <= 2:
        raise Invalid.field(field, f"Sizes: {text.strip()[:30]!r} are not two sizes; 2.004/1.998 would work.")
    tail = _UNIT.search(text)
    typed = [part if _UNIT.search(part) or not tail else f"{part} {tail[1]}" for part in parts]
    read = [parse_length(part, default_unit=unit, field=field) for part in typed]
    return read[0].nm, read[-1].nm


def write_sizes(bar: Bar, text: str, *, unit: str | None, at: dt.datetime, by: Actor, field: str = "sizes") -> None:
    """Write down two sizes of a bar, measured at a right angle to each other."""
    transactions.assert_open()
    first, second = two_sizes(text, unit=unit, field=field)
    nominal = bar.section.size_nm
    if not all(nominal // 2 <= nm <= nominal * 2 for nm in (first, second)) and not bar.section.width_nm:
        raise Invalid.field(
            field, f"Sizes: {text.strip()[:30]} is far from {bar.section.typed}; look at the unit, or at the tag."
        )
    before = {"sizes": bar.sizes_typed}
    Bar.objects.filter(pk=bar.pk).update(first_nm=first, second_nm=second, sizes_typed=text.strip()[:60])
    audit.write(
        at=at,
        by=by.label,
        action="bar sized",
        subject=f"bar {bar.number}",
        before=before,
        after={"sizes": text.strip()[:60]},
    )
    bar.refresh_from_db()


def weigh(line: DeliveryLine, text: str, weighed_by: str, *, at: dt.datetime, by: Actor, field: str = "scale") -> None:
    """Write down what the bars of a line weigh together; each bar gets its share by length."""
    transactions.assert_open()
    if weighed_by not in delivery_lines.WEIGHED_BY:
        raise Invalid.field("weighed_by", "Weighed by: choose own scale or supplier's ticket beside the weight.")
    mass = parse_mass(text, field=field)
    bars = list(Bar.objects.filter(lot__delivery_line=line).order_by("pk"))
    if not bars:
        raise Invalid.field(field, "Weight: this line has no bars.")
    parts = share(mass.mg, [bar.length_nm for bar in bars])
    for bar, part in zip(bars, parts, strict=True):
        Bar.objects.filter(pk=bar.pk).update(
            mass_mg=part, mass_typed=f"share of {mass.typed}"[:40], weighed_by=weighed_by
        )
    before = {"scale": line.scale_typed, "weighed_by": line.weighed_by}
    DeliveryLine.objects.filter(pk=line.pk).update(
        scale_mass_mg=mass.mg, scale_typed=mass.typed[:40], weighed_by=weighed_by
    )
    audit.write(
        at=at,
        by=by.label,
        action="bars weighed",
        subject=f"delivery {line.delivery.number}",
        before=before,
        after={"line": line.number, "scale": mass.typed, "weighed_by": weighed_by},
    )
    line.refresh_from_db()


def answer(line: DeliveryLine, said: str, note: str, *, at: dt.datetime, by: Actor) -> None:
    """Keep what was decided about a line; what moves because of it is moved by the flow."""
    transactions.assert_open()
    if said not in ANSWERS:
        raise Invalid.field("answer", f"Answer: {said[:20]!r} is none of {', '.join(ANSWERS)}; choose one.")
    if said != "accepted" and not note.strip():
        raise Invalid.field("note", "Note: say what is wrong, in a few words.")
    before = {"answer": line.answer, "note": line.answer_note}
    DeliveryLine.objects.filter(pk=line.pk).update(answer=said, answer_note=note.strip()[:300])
    Delivery.objects.filter(pk=line.delivery_id).update(version=F("version") + 1)
    audit.write(
        at=at,
        by=by.label,
        action="delivery answered",
        subject=f"delivery {line.delivery.number}",
        before=before,
        after={"line": line.number, "answer": said, "note": note.strip()[:300]},
    )
    line.refresh_from_db()


def claim(
    delivery: Delivery, about: str, words: str, *, at: dt.datetime, by: Actor, line: DeliveryLine | None = None
) -> Claim:
    """Keep a claim against the supplier, with the last day for it where the supplier's terms are known."""
    transactions.assert_open()
    if about not in Claim.About.values:
        raise Invalid.field("about", f"About: {about[:20]!r} is none of {', '.join(Claim.About.values)}; choose one.")
    if not words.strip():
        raise Invalid.field("words", "Words: write what is claimed; the supplier reads it.")
    made = Claim.objects.create(
        delivery=delivery,
        line=line,
        about=about,
        words=words.strip()[:1000],
        made_at=at,
        made_by=by.person,
        until=until(delivery),
    )
    audit.write(
        at=at,
        by=by.label,
        action="claim made",
        subject=f"delivery {delivery.number}",
        after={"claim": made.pk, "about": about},
    )
    return made


def until(delivery: Delivery) -> dt.date | None:
    """Return the supplier's last day for a claim about a delivery, where the supplier's terms are known."""
    days = delivery.supplier.claim_days
    if days is None:
        return None
    came = delivery.happened_at or delivery.started_at
    return workdays.claim_deadline(clock.local_date(came, shop_row.the_shop().zone), days)


def settle(found: Claim, *, sent_on: dt.date | None, settled: str, at: dt.datetime, by: Actor) -> None:
    """Note when a claim was sent and what came of it."""
    transactions.assert_open()
    found.sent_on = sent_on or found.sent_on
    if settled.strip():
        found.settled = settled.strip()[:300]
        found.settled_on = clock.local_date(at, shop_row.the_shop().zone)
    found.save(update_fields=["sent_on", "settled", "settled_on"])
    audit.write(
        at=at,
        by=by.label,
        action="claim followed",
        subject=f"delivery {found.delivery.number}",
        after={"claim": found.pk, "sent_on": str(found.sent_on or ""), "settled": found.settled},
    )


def add_photo(delivery: Delivery, paper: Kept, words: str, *, at: dt.datetime, by: Actor) -> DeliveryPhoto:
    """Keep a photo with a delivery."""
    transactions.assert_open()
    made = DeliveryPhoto.objects.create(
        delivery=delivery,
        file=paper.kept_as,
        file_name=paper.name,
        words=words.strip()[:120],
        added_at=at,
        added_by=by.person,
    )
    files.keep(paper)
    return made


def names_file(kept_as: str) -> bool:
    """Return whether a photo of a delivery names a kept file."""
    return DeliveryPhoto.objects.filter(file=kept_as).exists()
