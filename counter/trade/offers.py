"""What a customer is likely to hand over in cash: the amount itself, and the next round ones."""

from __future__ import annotations

from collections.abc import Sequence

MOST = 5
SMALL = 20  # nobody rounds a price up to the next coin worth less than a twentieth of it


def cash_offers(due: int, values: Sequence[int]) -> list[int]:
    """Likely amounts for ``due`` in minor units, the exact one first, at most five.

    ``values`` are the notes and coins of the shop. Common practice, no source.

    >>> cash_offers(1275, [10000, 5000, 2000, 1000, 500, 100, 25, 10, 5])
    [1275, 1300, 1500, 2000, 5000]
    >>> cash_offers(0, [100])
    [0]
    """
    if due <= 0:
        return [0]
    rounded = {-(-due // value) * value for value in values if value * SMALL >= due}
    return [due, *sorted(rounded - {due})][:MOST]
