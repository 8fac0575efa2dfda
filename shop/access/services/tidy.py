"""What is thrown away once it has ended: sessions, counted tries, one-time links."""

import datetime as dt

from django.contrib.sessions.models import Session

from shop.access.models import OneTimeLink
from shop.access.services import tries
from shop.shared import transactions

_KEEP_LINKS = dt.timedelta(days=30)


def tidy(*, at: dt.datetime) -> int:
    """Delete ended sessions, old tries and long-ended links; return how many rows went."""
    transactions.assert_open()
    gone = tries.forget(at=at)
    gone += Session.objects.filter(expire_date__lt=at).delete()[0]
    gone += OneTimeLink.objects.filter(expires_at__lt=at - _KEEP_LINKS).delete()[0]
    return gone
