"""The owner's page of holidays and shutdowns."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.dateformat import format as written_as

from shop.flows import changing_settings
from shop.shared import clock, shop_row, shut_days, units
from shop.shared.models import ShutDays
from shop.staff import posting
from shop.staff.fields import Day, SlipForm, Words


class ShutForm(SlipForm):
    """Days on which the shop is not open."""

    first = Day(label="First day")
    last = Day(label="Last day", required=False, help_text="Empty: one day.")
    why = Words(longest=80, label="Why", help_text="As everybody calls it: works holiday, midsummer.")


class TakeAwayForm(SlipForm):
    """The button beside shut days: nothing is typed."""


def shut(request: HttpRequest) -> HttpResponse:
    """Show the days on which the shop is shut, write down more, take some away."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    taking = here.method == "POST" and "take_away" in here.POST
    form = ShutForm(here.POST if here.method == "POST" and not taking else None, shop=shop)
    take_away = TakeAwayForm(here.POST if taking else None, shop=shop)

    def act(who: posting.Doing) -> tuple[str, str]:
        address, by = reverse("staff:shut_days"), who.by.label
        if taking:
            number = units.plain_number(here.POST["take_away"]) or 0
            gone = changing_settings.open_again(number, at=who.at, by=by)
            return address, f"The shop is open on {_days(gone)}: {gone.why} is taken away."
        typed = form.cleaned_data
        made = changing_settings.shut(typed["first"], typed["last"] or typed["first"], typed["why"], at=who.at, by=by)
        return address, f"The shop is shut on {_days(made)}: {made.why}."

    sent: SlipForm = take_away if taking else form
    if here.method == "POST" and sent.is_valid():
        done = posting.book(here, sent, act)
        if done:
            return done
    today = clock.local_date(clock.now(), shop.zone)
    facts = {"shut": [(one, _days(one), _count(one)) for one in shut_days.ahead(today)], "add": form}
    return posting.sheet(here, "staff/access/shut_days.html", "", facts, form=sent)


def _days(one: ShutDays) -> str:
    if one.first == one.last:
        return written_as(one.first, "D j M Y")
    return f"{written_as(one.first, 'D j M Y')} to {written_as(one.last, 'D j M Y')}"


def _count(one: ShutDays) -> int:
    return (one.last - one.first).days + 1
