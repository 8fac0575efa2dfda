"""The demo's steel: the second look at each delivery, certificates that come by mail, cuts, and one wrong bar."""

import datetime as dt
import random
from collections.abc import Iterator

from django.db.models import Sum

from inventory.calc.grade_limits import percent_text
from inventory.models import Bar, Blade, Delivery, Holding, Item, Melt
from inventory.queries import cuttable, grade_book, rack
from inventory.services import certificates, checking_in, cut_asking, saws
from inventory.services.certificates import TypedCertificate
from inventory.services.cut_asking import Question, Wanted
from inventory.services.cutting import Blanks, SawJob
from inventory.services.delivery_lines import mass_of
from inventory.services.ledger import Stamp
from inventory.services.reading import BarLength
from shop.demo import goods
from shop.demo.opening import Stage, about
from shop.flows import checking_in as flow
from shop.flows import cut_answering, cut_plans, doubting, sawing
from shop.flows.checking_in import LineLook
from shop.shared import shop_row, transactions
from shop.shared.units import MG_PER_LB, NM_PER_INCH, NM_PER_SIXTY_FOURTH, length_inches, parse_length

ENOUGH = 40  # blanks of a pattern: no more are sawn while so many lie there
KEPT_NM = 6 * NM_PER_INCH  # a shorter rest is scrap


def look(stage: Stage, delivery: Delivery, *, at: dt.datetime, wrong: bool) -> None:
    """Tape, measure and weigh what the lorry brought; one bar of the wrong lorry is a size smaller."""
    dice = random.Random(delivery.number)
    for line in delivery.lines.filter(bars__isnull=False).select_related("item__section", "item__grade"):
        bars = list(Bar.objects.filter(lot__delivery_line=line).order_by("pk"))
        section, grade = line.item.section, line.item.grade
        if not bars or section is None or grade is None:
            continue
        usual = next(bar.usual for bar in goods.BARS if stage.bars[bar.key].pk == line.item_id)
        lengths = [about(dice, usual) for _ in bars]
        bad = wrong and len(bars) > 1
        sizes = [_sizes(dice, section.size_nm, small=bad and bar is bars[-1]) for bar in bars]
        nm = sum(parse_length(text).nm for text in lengths)
        mass = mass_of(section, nm, grade.density_ug_per_cm3) * (1 + dice.uniform(-0.004, 0.006))
        scale = f"{round(mass / float(MG_PER_LB))} lb"
        seen = LineLook(line, ", ".join(lengths), ", ".join(sizes), scale, "own scale")
        stamp = Stamp(at=at, by=stage.by)
        flow.look([seen], unit=None, place=None, stamp=stamp)
        if bad:
            _claim(stage, delivery, bars[-1], at)
            wrong = False


def _sizes(dice: random.Random, nominal: int, *, small: bool) -> str:
    """Make up two sizes of a good bar, or of one a sixteenth smaller."""
    low = nominal - (4 * NM_PER_SIXTY_FOURTH if small else 0)
    first, second = (low + dice.randint(10_000, 90_000) for _ in range(2))
    return f"{first / 1e6:.2f}/{second / 1e6:.2f} mm"


def _claim(stage: Stage, delivery: Delivery, bar: Bar, at: dt.datetime) -> None:
    bar.refresh_from_db()
    said = f"Bar {bar.number} measures {bar.sizes_typed}, under the size of {bar.section.typed}."
    stamp = Stamp(at=at, by=stage.by, reason="a sixteenth under its size; kept apart until the supplier answers")
    doubting.out_of_use([bar.lot], stamp=stamp)
    checking_in.claim(delivery, "wrong size", said, at=at, by=stage.by)


def post(stage: Stage, *, today: dt.date, at: dt.datetime) -> None:
    """File the certificates that came by mail: three in four, a few days after the steel."""
    for melt in Melt.objects.filter(certificate_awaited=True).select_related("grade").order_by("pk"):
        came = melt.delivery_lines.order_by("pk")[0].delivery.happened_at
        if came is None or (today - came.date()).days < 3 or melt.pk % 4 == 0:
            continue
        row = grade_book.rows_of(melt.grade).first()
        if row is None:
            continue
        dice = random.Random(melt.pk)
        figures = {}
        for one in row.elements.all():
            least, most = one.least_ppm or 0, one.most_ppm if one.most_ppm is not None else 2 * (one.least_ppm or 0)
            figures[one.element] = percent_text(
                one.element, (least + dice.randint(40, 80) * (most - least) // 100) // 10 * 10
            )
        typed = TypedCertificate(
            number=f"HF-{melt.pk:04d}", paper_type="3.1", document=row.document, edition=row.edition, figures=figures
        )
        certificates.file(melt, typed, at=at, by=stage.by)


def saw(stage: Stage, *, at: dt.datetime) -> None:
    """Saw blanks of one pattern off its oldest bar that may be cut."""
    dice = random.Random(at.toordinal())
    low = [blank for blank in Item.objects.filter(kind=Item.Kind.BLANK).order_by("code") if _sawn(blank) < ENOUGH]
    if not low:
        return
    blank = dice.choice(low)
    there = Holding.objects.filter(
        item__grade=blank.grade,
        item__section=blank.section,
        item__kind=Item.Kind.BAR,
        place__kind="rack",
        on_hand__gt=0,
    )
    for holding in there.select_related("lot__bar__section", "lot__item__grade", "lot__melt").order_by("lot_id"):
        bar = holding.lot.bar
        kerf = shop_row.the_shop().kerf_nm
        fit = rack.fitting([blank], [holding.on_hand], kerf)[0][1]
        if cuttable.why_not(bar) or fit < 2:
            continue
        pieces = min(fit, dice.randint(30, 70))
        rest = holding.on_hand - pieces * ((blank.blank_length_nm or 0) + kerf)
        left = []
        if rest > KEPT_NM:
            taped = rest // NM_PER_SIXTY_FOURTH * NM_PER_SIXTY_FOURTH - dice.choice((0, 0, 2)) * NM_PER_SIXTY_FOURTH
            left = [BarLength(taped, length_inches(taped))]
        job = SawJob(kerf, [Blanks(blank, pieces)], left=left, scrap=not left)
        sawing.cut(bar, job, stamp=Stamp(at=at, by=stage.by))
        return


def _sawn(blank: Item) -> int:
    there = Holding.objects.filter(item=blank, place__sellable=True)
    return int(there.aggregate(sum=Sum("on_hand"))["sum"] or 0)


def plan_cuts(stage: Stage, *, at: dt.datetime) -> None:
    """Measure the blade, plan cuts of the steel there is most of, and take the plan: it waits for the saw this morning."""
    blank, steel_item = max(_sawable(), key=lambda pair: (_free_nm(pair[1]), pair[0].code))
    with transactions.entry_point():
        saw = Blade(name="band saw", kerf_nm=shop_row.the_shop().kerf_nm, measured_on=at.date())
        blade = saws.save_blade(saw, at=at, by=stage.by)
        wanted = [Wanted(blank, 64), Wanted(blank, 24, at.date() + dt.timedelta(days=14), "the spring fair")]
        question = Question(steel_item, wanted, blade.kerf_nm, blade=blade, seconds=5)
        plan = cut_asking.ask(question, at=at, by=stage.by)  # no worker is there yet, so no job is left for it
    cut_answering.work({"plan": plan.pk}, at)
    with transactions.entry_point():
        cut_plans.take(plan.number, 0, version=None, at=at, by=stage.by)


def _sawable() -> Iterator[tuple[Item, Item]]:
    for steel_item in Item.objects.filter(kind=Item.Kind.BAR).order_by("code"):
        for blank in rack.blanks_of([steel_item])[steel_item.pk]:
            yield blank, steel_item


def _free_nm(steel_item: Item) -> int:
    free = Holding.objects.filter(item=steel_item, allocated=0, place__kind="rack", lot__bar__measured=True)
    return sum(free.values_list("on_hand", flat=True))
