"""What is asked of the week sheet: which line, to which day, behind what; which week."""

import datetime as dt
import re
from typing import Any

from django import forms

from orders.queries.shop_state.for_shelf import MOST
from orders.queries.week import Proposed
from shop.staff.fields import Day, SlipForm, Whole, Words
from shop.staff.forms import ShopForm
from shop.staff.views import week_shelf

FIRST, LAST = "first", "last"
FURTHEST = 53  # weeks ahead that can be looked at
DAYS_AHEAD = 21  # offered to move a line to
_WEEK = re.compile(r"([0-9]{4})-W([0-9]{2})")
_DO = [(one, one) for one in ("move", "unpin", "pin_week", "unpin_week", *week_shelf.DOES)]

Key = tuple[str, int]


def week_of(text: str, today: dt.date) -> dt.date | None:
    """Return the Monday of a week written as 2026-W48; nothing for what is none, is over, or lies a year off."""
    read = _WEEK.fullmatch(text)
    if read is None:
        return None
    try:
        monday = dt.date.fromisocalendar(int(read[1]), int(read[2]), 1)
    except ValueError:
        return None
    running = today - dt.timedelta(days=today.weekday())
    return monday if running <= monday <= running + dt.timedelta(weeks=FURTHEST) else None


def key_of(text: str) -> Key | None:
    """Return a run and a step written as K9/2."""
    run, _, step = text.rpartition("/")
    if not run or len(run) > 40 or not re.fullmatch(r"[0-9]{1,4}", step, re.ASCII):
        return None
    return run, int(step)


class WeekForm(SlipForm):
    """What a button of the sheet asks for."""

    do = forms.ChoiceField(label="What", choices=_DO)
    week = Words(longest=8, label="Week", required=False)
    line = Words(longest=50, label="Line", required=False)
    day = Day(label="To day", required=False)
    after = Words(longest=50, label="In order", required=False)
    item = Words(longest=30, label="Item", required=False)
    pieces = Whole(label="Pieces", required=False, most=MOST)

    def clean(self) -> dict[str, Any]:
        """Want a line, and for a move a day; for the shelf an item, and a number of it unless it is dropped."""
        typed: dict[str, Any] = super().clean() or {}
        if typed.get("do") in week_shelf.DOES:
            if "item" in typed and not typed["item"]:
                self.add_error("item", "No item is named; one that is made here would work.")
            if typed["do"] != week_shelf.DROP and "pieces" in typed and typed["pieces"] is None:
                self.add_error("pieces", f"No number is written yet; 1 to {MOST} would work.")
        if typed.get("do") not in ("move", "unpin"):
            return typed
        if "line" in typed and key_of(typed["line"]) is None:
            self.add_error("line", "This is no line of the sheet; one written as K9/2, run and step, would work.")
        if typed["do"] == "move" and "day" in typed and not typed["day"]:
            self.add_error("day", "No day is chosen yet; choose one.")
        return typed


class MoveForm(ShopForm):
    """Where a chosen line is moved to: a day of the next weeks, first, last or behind another line of its place."""

    day = forms.ChoiceField(label="to day")
    after = forms.ChoiceField(label="in order", required=False)

    def __init__(self, *args: Any, chosen: Any, found: Proposed, today: dt.date) -> None:
        initial = {"day": max(chosen.operation.date, today).isoformat(), "after": FIRST}
        super().__init__(*args, initial=initial)
        days, behind = chosen.choices(found, today, DAYS_AHEAD)
        self.fields["day"].choices = days  # type: ignore[attr-defined]
        self.fields["after"].choices = [(FIRST, "first of the day"), (LAST, "last of the day"), *behind]  # type: ignore[attr-defined]
