"""A chosen line of the week sheet: where it can go, and what a move does before anything is saved."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from orders.calc.dates import pinning
from orders.calc.dates.sheet import Operated
from orders.queries import week as proposing
from orders.queries.shop_state import Named
from orders.queries.week import Effect, Proposed
from orders.services import week
from shop.shared.errors import Invalid
from shop.staff import wording
from shop.staff.views.week_form import FIRST, LAST, Key, MoveForm, key_of
from shop.staff.views.week_words import Words

MOST_MOVED = 8  # other lines that change their day and are named

Choices = list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Chosen:
    """A line of the sheet that a hand has chosen: its steps of runs, more than one for an oven load; those pinned."""

    order: tuple[Key, ...]
    operation: Operated
    pieces: int
    pinned: tuple[Key, ...]

    @property
    def name(self) -> str:
        """The run and what is done, as a sentence names it."""
        return f"{', '.join(dict.fromkeys(run for run, _ in self.order))} {self.operation.name}"

    @property
    def keys(self) -> frozenset[Key]:
        """All its steps."""
        return frozenset(self.order)

    @property
    def line(self) -> str:
        """The line as an address names it."""
        return f"{self.order[0][0]}/{self.order[0][1]}"

    def there(self, found: Proposed, day: dt.date) -> list[Operated]:
        """Return what else begins in its place on a day."""
        return [
            one
            for one in found.operations
            if one.place == self.operation.place and one.date == day and (one.run, one.step) not in self.keys
        ]

    def choices(self, found: Proposed, today: dt.date, days: int) -> tuple[Choices, list[tuple[str, Choices]]]:
        """Return the open days it can be moved to, and by day what it can go behind."""
        hours = found.stated.shop.hours
        dates = [today + dt.timedelta(days=number) for number in range(days)]
        dates = [day for day in dates if day.weekday() in hours.weekdays and day not in hours.closed]
        dates = sorted({*dates, self.operation.date})
        behind: dict[str, Choices] = defaultdict(list)
        for day in dates:
            for one in self.there(found, day):
                behind[wording.on_day(day)].append((f"{one.run}/{one.step}", f"after {one.run} {one.name}"))
        return [(day.isoformat(), wording.on_day(day)) for day in dates], [
            (day, list(dict(rows).items())) for day, rows in behind.items()
        ]

    def after(self, text: str, day: dt.date, found: Proposed) -> Key | None:
        """Return what it goes behind on a day, by what was chosen; nothing where it goes first."""
        if text == LAST:
            there = self.there(found, day)
            return (there[-1].run, there[-1].step) if there else None
        if text == FIRST:
            return None
        key = key_of(text)
        if key is None:
            raise Invalid.field("after", "In order: choose first, last, or a line of that day and place.")
        return key


def chosen_of(found: Proposed, key: Key | None) -> Chosen | None:
    """Return the line that a step of a run stands on; nothing where the sheet does not know it."""
    one = found.find(*key) if key else None
    if key is None or one is None:
        return None
    order, alive = found.together(*key), {pin.key for pin in found.alive}
    pieces = sum(other.pieces for other in found.operations if other.group == one.group)
    return Chosen(order, one, pieces, tuple(key for key in order if key in alive))


@dataclass(frozen=True, slots=True)
class Swing:
    """A promised order before and after a move, in words."""

    number: int
    customer: str
    words: str
    address: str


@dataclass(frozen=True, slots=True)
class Moving:
    """The slip of a chosen line: its fields, its run's other steps of that day, and what the move does once asked."""

    form: MoveForm
    chosen: Chosen
    week: str
    title: str
    now: str
    page: str
    steps: tuple[tuple[str, str], ...] = ()
    refused: str = ""
    effect: Effect | None = None
    said: tuple[str, ...] = ()
    named: tuple[Swing, ...] = ()
    others: tuple[Swing, ...] = ()
    moved: tuple[str, ...] = ()

    @classmethod
    def of(cls, form: MoveForm, found: Proposed, chosen: Chosen, words: Words, week_name: str) -> "Moving":
        """Fill the slip; a move that cannot be is said in one sentence."""
        one = chosen.operation
        title = f"{chosen.name}, {wording.figures(chosen.pieces)}"
        page = words.page_of(one.run, one.item)
        slip = cls(form, chosen, week_name, title, _stands(chosen, words), page, _steps(found, chosen, week_name))
        if not form.is_bound:
            return slip
        if not form.is_valid():
            return replace(slip, refused=" ".join(str(say) for says in form.errors.values() for say in says))
        day = dt.date.fromisoformat(form.cleaned_data["day"])
        try:
            after = chosen.after(form.cleaned_data["after"] or FIRST, day, found)
            puts, before = week.checked(found, chosen.order, day, after)
        except Invalid as refusal:
            return replace(slip, refused=refusal.sentence)
        done = proposing.effect(found, pinning.moved(found.alive, puts, before))
        return replace(
            slip,
            effect=done,
            said=tuple(_said(found, done, chosen, day, words)),
            named=tuple(_swing(pair) for pair in done.named),
            others=tuple(_swing(pair) for pair in done.others),
            moved=tuple(_others_moved(found.operations, done.after.operations, chosen.keys)),
        )


def _steps(found: Proposed, chosen: Chosen, week_name: str) -> tuple[tuple[str, str], ...]:
    """Return the other steps of the run that stand on the same line: name and address by which they are chosen."""
    one = chosen.operation
    return tuple(
        (other.name, "?" + urlencode({"week": week_name, "line": f"{other.run}/{other.step}"}))
        for other in chosen.there(found, one.date)
        if other.run == one.run
    )


def _stands(chosen: Chosen, words: Words) -> str:
    """Say where it stands now, who does it, and what it waits for."""
    one = chosen.operation
    who = f", {words.names(one.people)}" if one.people else ""
    why = words.why(one.why)
    return f"It stands on {wording.on_day(one.date)}{who}{f'; it {why}' if why else ''}."


def _said(found: Proposed, done: Effect, chosen: Chosen, day: dt.date, words: Words) -> list[str]:
    """Say when it would begin, and what that does to the tooling."""
    after = done.after.find(*chosen.order[0])
    if after is None:
        return [f"On {wording.on_day(day)} it could not begin at all: something before it on the sheet never comes."]
    begins = f"It would begin on {wording.on_day(after.date)}"
    why = words.why(after.why)
    said = [
        f"{begins}." if after.date == day else f"{begins}, not on {wording.on_day(day)}{f': it {why}' if why else ''}."
    ]
    was, now = _changes(found), _changes(done.after)
    said.append(f"Tooling: {_times(now)} instead of {_times(was)}." if was != now else "No further tooling change.")
    return said


def _changes(found: Proposed) -> tuple[int, int]:
    changes = [one.step.change for one in found.plan.operations if one.change]
    return len(changes), round(sum(changes))


def _times(changes: tuple[int, int]) -> str:
    number, minutes = changes
    return f"{number} {'change' if number == 1 else 'changes'}, {wording.figures(minutes)} min"


def _swing(pair: tuple[Named, pinning.Swayed]) -> Swing:
    named, one = pair
    given = f"given for {wording.on_day(named.day)}, " if named.day else ""
    before, after = (wording.in_hundred(chance, wanted=one.wanted) for chance in (one.before, one.after))
    same = before == after
    chance = f"{after} times in 100, as before" if same else f"{before} times in 100 before, {after} after"
    wanted = f"; {round(one.wanted * 100)} are wanted" if one.after < one.wanted else ""
    return Swing(named.number, named.customer, f"{given}{chance}{wanted}", wording.address("staff:order", named.number))


def _others_moved(before: Sequence[Operated], after: Sequence[Operated], mine: frozenset[Key]) -> list[str]:
    """Name the other lines that would begin on another day, the soonest first."""
    was = {(one.run, one.step): one.date for one in reversed(before)}
    moved = [
        f"{one.run} {one.name}: {wording.on_day(was[one.run, one.step])} to {wording.on_day(one.date)}"
        for one in after
        if (one.run, one.step) not in mine and was.get((one.run, one.step), one.date) != one.date
    ]
    found = list(dict.fromkeys(moved))
    more = len(found) - MOST_MOVED
    return [*found[:MOST_MOVED], f"and {more} more"] if more > 0 else found
