"""The shop's settings changed by its owner; what waits for closing time is looked at anew."""

import datetime as dt
from collections.abc import Sequence

from shop.flows import untempered
from shop.shared import shop_row, transactions
from shop.shared.models import Shop
from shop.shared.shop_settings import Settings


def change(
    settings: Settings, *, at: dt.datetime, by: str, recipients: Sequence[tuple[str, str]] | None = None
) -> Shop:
    """Change the settings; where the shop closes at another time, hardened pieces are looked after at that one."""
    transactions.assert_open()
    before = shop_row.hours()
    shop = shop_row.change(settings, at=at, by=by, recipients=recipients)
    if shop_row.hours_of(shop) != before:
        untempered.watch_again()
    return shop
