"""The messages to be sent: one row a kind, local day and recipient, and at most one accepted by the server.

waiting -> claimed -> handed -> sent. A worker that dies while claimed has given nothing out: plain retry. One that
dies while handed leaves an unknown outcome: one repeat with the same Message-ID, so that a reader's program can drop
the second copy.
"""

import datetime as dt
import logging
from collections.abc import Callable
from email.utils import format_datetime, formataddr, parseaddr

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.db.models import F, Q, QuerySet
from django.utils.crypto import salted_hmac
from django.utils.dateformat import format as written

from shop.shared import bell, transactions
from shop.shared.mail import carrier
from shop.shared.models import Message, Shop

STALE = dt.timedelta(minutes=10)  # a claim so old was left behind; also the pause before an unknown outcome is repeated
FIRST_WAIT = dt.timedelta(minutes=1)
LONGEST_WAIT = dt.timedelta(minutes=15)
MAX_ATTEMPTS = 100  # about a day at the longest wait
MAX_REFUSALS = 3  # tries where the server said no for good

State = Message.State
Clock = Callable[[], dt.datetime]

log = logging.getLogger(__name__)


def write(
    *,
    kind: str,
    local_date: dt.date,
    recipient: str,
    subject: str,
    text: str,
    html: str,
    at: dt.datetime,
    by_hand: bool = False,
) -> None:
    """Write a message with the caller's change; the one already there for that day and recipient stays as it is.

    One that nobody sends by hand says so in its header (RFC 3834), and no out-of-office answer comes back.
    """
    transactions.assert_open()
    _supersede(kind, local_date, recipient, at)
    row = Message(
        kind=kind,
        local_date=local_date,
        recipient=recipient,
        message_id=message_id(kind, local_date, recipient),
        subject=" ".join(subject.split())[:300],
        text=text,
        html=html,
        next_try_at=at,
        by_hand=by_hand,
    )
    Message.objects.bulk_create([row], ignore_conflicts=True)
    bell.ring_after_commit()


def message_id(kind: str, local_date: dt.date, recipient: str) -> str:
    """Return the id that this day's message to this recipient always has, in this shop and no other."""
    digest = salted_hmac("message", f"{kind}|{local_date}|{recipient.lower()}").hexdigest()[:24]
    domain = parseaddr(settings.MAIL_FROM)[1].rpartition("@")[2] or "localhost"
    return f"<{kind.replace(' ', '-')}.{local_date}.{digest}@{domain}>"


def send_due(clock: Clock) -> int:
    """Send every message that is due and return how many the server took; without a mail server all stay waiting."""
    sent = 0
    if carrier.configured():
        while row := claim(clock()):
            sent += _send(row, clock)
    return sent


def claim(at: dt.datetime) -> Message | None:
    """Take one message that is due, or nothing; two workers never take the same one."""
    old = Q(claimed_at__lt=at - STALE)
    due = Q(state=State.WAITING, next_try_at__lte=at) | (Q(state__in=[State.CLAIMED, State.HANDED]) & old)
    for row in Message.objects.filter(due).order_by("next_try_at", "id")[:50]:
        if taken := _take(row, at):
            return taken
    return None


def not_sent(*, before: dt.date) -> list[str]:
    """Return a sentence for each message of the day before that has not gone out, where there is a mail server."""
    if not carrier.configured():
        return []
    rows = Message.objects.filter(local_date__lt=before, local_date__gte=before - dt.timedelta(days=1))
    return [
        f"the message of {written(row.local_date, 'D j M')} to {row.recipient} was not sent. {row.log[-1]['said'] if row.log else ''}".strip()
        for row in rows.exclude(state=State.SENT).order_by("id")
    ]


def sentence() -> str:
    """Say how the mail stands, for the pages and the commands; empty where nothing waits."""
    waiting = Message.objects.filter(state=State.WAITING)
    number = waiting.count()
    if not number:
        return ""
    messages = "one message is" if number == 1 else f"{number} messages are"
    if not carrier.configured():
        return f"No mail server is set, so {messages} written and not sent; BICKERN_SMTP_HOST names the server."
    tried = waiting.exclude(attempts=0).order_by("-next_try_at").first()
    return f"{messages.capitalize()} waiting to be sent. {tried.log[-1]['said'] if tried and tried.log else ''}".strip()


def _take(row: Message, at: dt.datetime) -> Message | None:
    """Claim the row as it was read; nothing where somebody was faster."""
    mine = Message.objects.filter(pk=row.pk, state=row.state, claimed_at=row.claimed_at)
    if row.state == State.HANDED and row.repeats:
        said = "The outcome of the repeat is unknown as well; not sent a third time."
        mine.update(state=State.GIVEN_UP, log=_noted(row, at, said))
        return None
    changes: dict[str, object] = {"state": State.CLAIMED, "claimed_at": at, "attempts": F("attempts") + 1}
    if row.state == State.HANDED:
        said = "Nobody knows whether the server took it; repeated once under the same Message-ID."
        changes |= {"repeats": 1, "log": _noted(row, at, said)}
    elif row.state == State.CLAIMED:
        changes |= {"log": _noted(row, at, "The worker ended before anything was given out; tried again.")}
    return Message.objects.get(pk=row.pk) if mine.update(**changes) else None


def _send(row: Message, clock: Clock) -> bool:
    """Carry one claimed message; return whether the server took it."""
    try:
        letter = _letter(row, clock())
        answer = carrier.carry(letter, hand_over=lambda: bool(_mine(row, State.CLAIMED).update(state=State.HANDED)))
    except carrier.NotTaken as exc:
        _not_taken(row, exc, clock())
    except carrier.Unknown as exc:
        said = f"The connection failed after the text had begun: {exc}"
        _mine(row, State.HANDED).update(log=_noted(row, clock(), said))
    except carrier.NoLongerOurs:
        log.info("Message %s was taken over by another worker.", row.pk)
    except ValueError as exc:  # a header that cannot be written; no later try would differ
        _mine(row, State.CLAIMED).update(state=State.GIVEN_UP, log=_noted(row, clock(), f"Cannot be written: {exc}"))
    else:
        at = clock()
        # Not only while the claim stands: if somebody took it over meanwhile, this stops his repeat before the text.
        Message.objects.filter(pk=row.pk).exclude(state=State.SENT).update(
            state=State.SENT, sent_at=at, log=_noted(row, at, f"Taken by the server: {answer}")
        )
        return True
    return False


def _not_taken(row: Message, why: carrier.NotTaken, at: dt.datetime) -> None:
    noted = _noted(row, at, str(why))
    mine = Message.objects.filter(pk=row.pk, state__in=[State.CLAIMED, State.HANDED], claimed_at=row.claimed_at)
    if row.attempts >= (MAX_REFUSALS if why.permanent else MAX_ATTEMPTS):
        mine.update(state=State.GIVEN_UP, log=noted)
    else:
        wait = min(LONGEST_WAIT, FIRST_WAIT * 2 ** min(row.attempts - 1, 10))
        mine.update(state=State.WAITING, claimed_at=None, next_try_at=at + wait, log=noted)


def _letter(row: Message, at: dt.datetime) -> carrier.Letter:
    address = parseaddr(settings.MAIL_FROM)[1] or settings.MAIL_FROM
    name, answers = Shop.objects.values_list("name", "email").first() or ("", "")
    shop = " ".join(name.split())
    headers = {"Message-ID": row.message_id, "Date": format_datetime(at)}
    mail = EmailMultiAlternatives(
        subject=row.subject,
        body=row.text,
        from_email=formataddr((shop, address)),
        to=[row.recipient],
        reply_to=[answers] if answers else None,
        headers=headers if row.by_hand else headers | {"Auto-Submitted": "auto-generated"},
    )
    if row.html:
        mail.attach_alternative(row.html, "text/html")
    content = mail.message().as_bytes(linesep="\r\n")  # type: ignore[call-arg]  # Django's own message takes it
    return carrier.Letter(address, row.recipient, content)


def _supersede(kind: str, local_date: dt.date, recipient: str, at: dt.datetime) -> None:
    """Give up what still waits of earlier days: nobody reads last week's night after the mail server comes back."""
    earlier = Message.objects.filter(kind=kind, recipient=recipient, local_date__lt=local_date, state=State.WAITING)
    for row in earlier:
        noted = _noted(row, at, f"Never sent; the message of {local_date} took its place.")
        earlier.filter(pk=row.pk).update(state=State.GIVEN_UP, log=noted)


def _mine(row: Message, state: str) -> "QuerySet[Message]":
    return Message.objects.filter(pk=row.pk, state=state, claimed_at=row.claimed_at)


def _noted(row: Message, at: dt.datetime, said: str) -> list[dict[str, str]]:
    return [*row.log, {"at": at.isoformat(), "said": said}][-50:]
