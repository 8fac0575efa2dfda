"""What a pattern loses from blank to head, learned from its weighed heads."""

from inventory.calc import blank_length, steel
from inventory.calc.blank_length import Loss
from inventory.models import HeadWeight, Item, Pattern
from inventory.queries.findings import section_of

NEWEST = 200


def blank_mass_mg(blank: Item) -> int | None:
    """Return what a blank weighs, worked out from its length; nothing where its steel is not known."""
    if blank.section is None or blank.grade is None or not blank.blank_length_nm:
        return None
    return steel.mass_mg(section_of(blank.section), blank.blank_length_nm, blank.grade.density_ug_per_cm3)


def blank_of(pattern: Pattern) -> Item | None:
    """Return the blank of a pattern."""
    blanks = Item.objects.filter(kind=Item.Kind.BLANK, pattern=pattern, active=True).select_related("section", "grade")
    return blanks.order_by("pk").first()


def loss(pattern: Pattern) -> Loss | None:
    """Return what is lost from blank to head: learned from twenty heads on, else what the pattern says."""
    blank = blank_of(pattern)
    mass = blank_mass_mg(blank) if blank else None
    if mass is None:
        return None
    weighed = HeadWeight.objects.filter(count__run__pattern=pattern, count__entry__reversed_by=None, mass_mg__lte=mass)
    heads = list(weighed.order_by("-pk").values_list("mass_mg", flat=True)[:NEWEST])
    return blank_length.loss_from(heads, mass, usual_ppm=pattern.loss_ppm)


def length_wanted_nm(pattern: Pattern) -> int | None:
    """Return how long a blank should be for the wanted head with what is lost; nothing where either is not known."""
    blank, found = blank_of(pattern), loss(pattern)
    if blank is None or found is None or pattern.head_mass_mg is None or blank.section is None or blank.grade is None:
        return None
    metre = steel.mass_mg(section_of(blank.section), 10**9, blank.grade.density_ug_per_cm3)
    return blank_length.length_for_loss_nm(pattern.head_mass_mg, found.ppm, metre)


def head_from_blank_mg(pattern: Pattern) -> int | None:
    """Return what a head of the blank as it is sawn weighs bare, with what is lost; nothing where that is not known."""
    blank, found = blank_of(pattern), loss(pattern)
    mass = blank_mass_mg(blank) if blank else None
    return None if mass is None or found is None else round(mass * (1_000_000 - found.ppm) / 1_000_000)
