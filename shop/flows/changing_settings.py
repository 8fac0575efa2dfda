"""The shop's settings and shut days changed by its owner; what waits for closing time is looked at anew."""

import datetime as dt
from collections.abc import Sequence

from shop.flows import untempered
from shop.shared import shop_row, shut_days, transactions
from shop.shared.models import Shop, ShutDays
from shop.shared.shop_settings import Settings


def change(
    settings: Settings, *, at: dt.datetime, by: str, recipients: Sequence[tuple[str, str]] | None = None
) -> Shop:
    """Change the settings; where the shop closes at another time, hardened pieces are looked after at that one."""
    transactions.assert_open()
    before = shop_row.hours(at)
    shop = shop_row.change(settings, at=at, by=by, recipients=recipients)
    if shop_row.hours_of(shop, at) != before:
        untempered.watch_again()
    return shop


def shut(first: dt.date, last: dt.date, why: str, *, at: dt.datetime, by: str) -> ShutDays:
    """Shut the shop on these days; what was to be in the temper by their closing is looked after at its own time."""
    made = shut_days.add(first, last, why, at=at, by=by)
    untempered.watch_again()
    return made


def open_again(shut_id: int, *, at: dt.datetime, by: str) -> ShutDays:
    """Open the shop on days it was to be shut; hardened pieces are looked after at their closing again."""
    gone = shut_days.take_away(shut_id, at=at, by=by)
    untempered.watch_again()
    return gone
