"""Money in whole smallest units of its currency (cents)."""

from dataclasses import dataclass

from shop.shared.units.measures import grouped
from shop.shared.units.typed import Typed, in_threes, number, plain, tokens, typed

MOST_MINOR = 10**12
_NO_MINOR = frozenset(  # ISO 4217
    [
        "BIF",
        "CLP",
        "DJF",
        "GNF",
        "ISK",
        "JPY",
        "KMF",
        "KRW",
        "PYG",
        "RWF",
        "UGX",
        "UYI",
        "VND",
        "VUV",
        "XAF",
        "XOF",
        "XPF",
    ]
)
_THREE_DIGITS = frozenset(["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"])  # ISO 4217


@dataclass(frozen=True, slots=True)
class Money:
    """An amount in smallest units and the text it was typed as."""

    minor: int
    typed: str


def money_exponent(currency: str) -> int:
    """Say how many decimals the currency has."""
    return 0 if currency in _NO_MINOR else 3 if currency in _THREE_DIGITS else 2


def parse_money(text: object, currency_exponent: int = 2, *, allow_zero: bool = True, field: str = "amount") -> Money:
    """Read an amount such as `12.50`, `12,50`, `1,250.00` or `1 250.00`; never rounded.

    A comma with exactly three digits after it sets thousands apart, with one or two it is a decimal comma. Where the
    currency has three decimals `1,250` can be read two ways and is refused.

    Raises:
        Invalid: not an amount, negative, or with more decimals than the currency has.
    """
    example = f"12.{'50'.ljust(currency_exponent, '0')}" if currency_exponent else "1250"
    entry = typed(text, field, example)
    row = tokens(entry, plain(entry, example), example)
    if row[0].kind == "dash":
        raise entry.refuse(f"cannot be negative: write it as {example}")
    if len(row) != 1 or row[0].kind != "number":
        raise entry.refuse(f"is not one number: write figures without a currency sign, such as {example}")
    scaled = number(entry, row[0].text, comma_groups=currency_exponent < 3) * 10**currency_exponent
    if scaled.denominator != 1 or _decimals(row[0].text) > currency_exponent:
        raise entry.refuse(f"has more than {currency_exponent} decimals: write it as {example}")
    return Money(_checked(entry, int(scaled), currency_exponent, allow_zero=allow_zero), entry.text)


def amount(minor: int, exponent: int = 2) -> str:
    """Print an amount alone, `1 250.00`, thousands set apart by thin spaces."""
    before, after = divmod(abs(minor), 10**exponent)
    text = grouped(f"{before}.{after:0{exponent}d}" if exponent else str(before))
    return f"\u2212{text}" if minor < 0 else text


def money(minor: int, currency: str) -> str:
    """Print an amount with its currency: `1 250.00 USD`."""
    return f"{amount(minor, money_exponent(currency))} {currency}"


def _decimals(text: str) -> int:
    """Count the decimals typed, so that 1.250 dollars is asked about and not taken for 1.25."""
    last = max(text.rfind("."), text.rfind(","))
    if last < 0 or (text[last] == "," and in_threes(text, ",")):
        return 0
    return len(text) - last - 1


def _checked(entry: Typed, minor: int, exponent: int, *, allow_zero: bool) -> int:
    """Refuse nought where it is no amount, and what no shop is paid."""
    if minor > MOST_MINOR:
        raise entry.refuse(f"is more than an amount can be here: write at most {amount(MOST_MINOR, exponent)}")
    if minor == 0 and not allow_zero:
        raise entry.refuse("is nought: write an amount above nought")
    return minor
