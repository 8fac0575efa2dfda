"""How a quantity is written so that the Door reads it back exactly."""

from inventory.models import Item


def goods(item: Item, qty: int) -> str:
    """Write a quantity as a hand would, so that it is read back exactly: 2 dozen, 30, 1.25 kg."""
    packs, rest = divmod(qty, item.issue_per_buy)
    if item.buy_unit and not rest:
        return f"{packs} {item.buy_unit}"
    if item.unit == Item.Unit.PIECE:
        return str(qty)
    exact = f"{qty // 1_000_000}.{qty % 1_000_000:06d}".rstrip("0").rstrip(".")
    return f"{exact} {'kg' if item.unit == Item.Unit.MG else 'L'}"
