"""Whole numbers of pieces."""

from shop.shared.units.typed import in_threes, number, plain, tokens, typed

MOST_PIECES = 1_000_000
_MOST_FIGURES = 9  # what every database's columns hold; the numbers in addresses are as long at the most


def plain_number(text: str | None) -> int | None:
    """Read a number that a page or an address sent back: plain figures, nine at the most.

    Returns:
        The number, or None for anything else; whoever asks knows what to do without one.
    """
    if text and text.isascii() and text.isdecimal() and len(text) <= _MOST_FIGURES:
        return int(text)
    return None


def parse_whole(text: object, field: str, *, least: int = 1, most: int = MOST_PIECES) -> int:
    """Read a whole number such as `12` or `1,250`.

    Args:
        text: what was typed, up to 40 characters.
        field: the field's name, for the sentence.
        least: the smallest number taken, 0 or more.
        most: the largest number taken.

    Raises:
        Invalid: not a whole number, or outside `least` to `most`.
    """
    entry = typed(text, field, "12")
    row = tokens(entry, plain(entry, "12"), "12")
    if len(row) != 1 or row[0].kind != "number":
        raise entry.refuse(f"is not a whole number: write figures only, from {least} to {most}")
    if not (row[0].text.isdigit() or in_threes(row[0].text, ",")):
        raise entry.refuse(f"is not a whole number: write figures without decimals, from {least} to {most}")
    value = number(entry, row[0].text, comma_groups=True)
    if not least <= value <= most:
        raise entry.refuse(f"is out of range: write a whole number from {least} to {most}")
    return int(value)
