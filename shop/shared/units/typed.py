"""What somebody typed, brought to plain ASCII and cut into numbers, words and signs; anything unknown is refused."""

import re
from dataclasses import dataclass
from fractions import Fraction

from shop.shared.errors import Invalid

MOST_CHARACTERS = 40
MOST_DIGITS = 15

VULGAR = {
    "\u00bc": "1/4", "\u00bd": "1/2", "\u00be": "3/4", "\u215b": "1/8", "\u215c": "3/8", "\u215d": "5/8",
    "\u215e": "7/8", "\u2153": "1/3", "\u2154": "2/3", "\u2155": "1/5", "\u2156": "2/5", "\u2157": "3/5",
    "\u2158": "4/5", "\u2159": "1/6", "\u215a": "5/6", "\u2150": "1/7", "\u2151": "1/9", "\u2152": "1/10",
}  # fmt: skip
PLAIN = {
    **dict.fromkeys("\t\u00a0\u2002\u2003\u2007\u2008\u2009\u200a\u202f", " "),  # the spaces keyboards and prints make
    **dict.fromkeys("\u2018\u2019\u2032\u00b4", "'"),  # curly quotes and primes
    **dict.fromkeys("\u201c\u201d\u2033", '"'),
    **dict.fromkeys("\u2010\u2011\u2012\u2013\u2212", "-"),  # hyphens, en dash, minus
    **dict.fromkeys("\u2044\u2215", "/"),  # fraction slashes
    **dict.fromkeys("\u00b5\u03bc", "u"),  # micro sign and Greek mu
    **{sign: f" {text} " for sign, text in VULGAR.items()},
}
_TABLE = str.maketrans(PLAIN)
_ALLOWED = re.compile(r"[0-9A-Za-z .,/'\"#-]*")
_GROUPS = re.compile(r"(?<![0-9.,/])[1-9][0-9]{0,2}(?: [0-9]{3})+(?![0-9/])")
_TOKEN = re.compile(
    r"(?P<number>[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)|(?P<dash> *- *)|(?P<space> +)|(?P<word>[a-z]+\.?)|(?P<sign>['\"#/])"
)


@dataclass(frozen=True, slots=True)
class Token:
    """One number, word, dash or sign."""

    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Typed:
    """A text as typed, with the name of the field it was typed into."""

    text: str
    field: str

    def refuse(self, why: str) -> Invalid:
        """Make the refusal; `why` goes on from the name of the field and the text typed."""
        label = self.field.replace("_", " ").capitalize()
        shown = self.text.strip()
        quoted = f" \u201c{shown}\u201d" if shown.isprintable() and 0 < len(shown) <= MOST_CHARACTERS else ""
        return Invalid.field(self.field, f"{label}{quoted} {why}.")


def typed(text: object, field: str, example: str) -> Typed:
    """Take a text whose length is in bounds."""
    if not isinstance(text, str):
        raise Typed("", field).refuse(f"is not a text: write it as typed, such as {example}")
    entry = Typed(text, field)
    if len(text) > MOST_CHARACTERS:
        raise entry.refuse(f"is longer than {MOST_CHARACTERS} characters: write it as {example}")
    if not text.strip():
        raise entry.refuse(f"is empty: write it as {example}")
    return entry


def plain(entry: Typed, example: str) -> str:
    """Bring the text to lower-case ASCII with single spaces and ungrouped thousands, or refuse it."""
    if any(sign.isdecimal() and not sign.isascii() for sign in entry.text):
        raise entry.refuse(f"has figures of another script: use 0 to 9, such as {example}")
    text = entry.text.translate(_TABLE)
    if not _ALLOWED.fullmatch(text):
        raise entry.refuse(f"has a sign that is not used here: write it as {example}")
    text = " ".join(text.lower().replace("''", '"').split(" ")).strip()
    text = re.sub(" {2,}", " ", text).replace(" /", "/").replace("/ ", "/")
    return _GROUPS.sub(lambda found: found.group().replace(" ", ""), text)


def tokens(entry: Typed, text: str, example: str) -> list[Token]:
    """Cut plain text into tokens; spaces are dropped, but a dash keeps the spaces around it."""
    found: list[Token] = []
    at = 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            raise entry.refuse(f"has a point, comma or sign out of place: write it as {example}")
        kind = str(match.lastgroup)
        if kind != "space":
            found.append(Token(kind, match.group()))
        at = match.end()
    return found


def number(entry: Typed, text: str, *, comma_groups: bool) -> Fraction:
    """Read `12`, `94.5`, `94,5`, `1,250.00` or `1.250,00`.

    One comma with exactly three digits after it (`1,250`) may be a thousand or a decimal: with `comma_groups` it is a
    thousand, without it is refused, since a wrong guess would be a thousand times off.
    """
    if sum(sign.isdigit() for sign in text) > MOST_DIGITS:
        raise entry.refuse(f"has more than {MOST_DIGITS} digits in one number: round it")
    last = max(text.rfind("."), text.rfind(","))
    if last < 0:
        return Fraction(int(text))
    whole, tail = text[:last], text[last + 1 :]
    if text[last] == "," and in_threes(text, ","):
        if text.count(",") == 1 and not comma_groups:
            raise entry.refuse(f"can be read two ways: write {text.replace(',', '')} or {text.replace(',', '.')}")
        whole, tail = text.replace(",", ""), ""
    elif not whole.isdigit() and whole:
        group = "," if text[last] == "." else "."
        if not in_threes(whole, group):
            raise entry.refuse("has points or commas out of place: write a number as 1250.5 or 1250,5")
        whole = whole.replace(group, "")
    return Fraction(int(f"{whole}{tail}"), 10 ** len(tail))


def in_threes(text: str, sign: str) -> bool:
    """Tell whether the text is digits in threes separated by the sign, and does not begin with a nought."""
    first, *rest = text.split(sign)
    return bool(
        rest
        and first.isdigit()
        and len(first) <= 3
        and first[0] != "0"
        and all(len(g) == 3 and g.isdigit() for g in rest)
    )


def fraction(entry: Typed, above: str, below: str) -> Fraction:
    """Read a proper fraction such as 3/8."""
    if not (above.isdigit() and below.isdigit()) or len(above + below) > MOST_DIGITS:
        raise entry.refuse("has a fraction that is not made of two whole numbers: write it as 3/8")
    top, bottom = int(above), int(below)
    if bottom == 0:
        raise entry.refuse("divides by nought: write a fraction as 3/8")
    if top >= bottom:
        rest = f" {top % bottom}/{bottom}" if top % bottom else ""
        raise entry.refuse(
            f"has {top}/{bottom}, which is not less than one: write {top // bottom}{rest} if that is meant"
        )
    return Fraction(top, bottom)
