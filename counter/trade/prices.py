"""What a quantity of one portion costs: prices for several, the last day, by weight."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from counter.trade.catalogue import Portion, Topping
from counter.trade.money import half_up
from counter.trade.stock import Draw
from labels.units import Measure


def line_price(
    portion: Portion, quantity: int, toppings: Sequence[Topping], weight: Measure | None
) -> tuple[int, str]:
    """Price of a quantity at the usual price or the cheapest mix of prices for several."""
    extra = sum(t.price for t in toppings) * quantity
    if portion.per:
        assert weight is not None  # `check_item` asks for it
        return half_up(weight.to(portion.per) * portion.price) + extra, "price"
    plain = portion.price * quantity
    if not portion.breaks:
        return plain + extra, "price"
    best = [portion.price * n for n in range(quantity + 1)]
    for n in range(1, quantity + 1):
        best[n] = min(best[n], best[n - 1] + portion.price)
        for several in portion.breaks:
            if several.quantity <= n:
                best[n] = min(best[n], best[n - several.quantity] + several.price)
    return best[quantity] + extra, "several" if best[quantity] < plain else "price"


def at_last_day(portion: Portion) -> Portion:
    """A portion as it is priced at its last day; prices for several still hold."""
    if portion.last_day_price is None:
        return portion
    return msgspec.structs.replace(portion, price=min(portion.price, portion.last_day_price))


def split_last_day(
    portion: Portion, draws: Sequence[Draw], last_day: Callable[[str], bool]
) -> list[tuple[Sequence[Draw], bool]]:
    """Draws at the usual price, and those from lots at their last day (True); none of nothing.

    What was weighed together or would split a portion is not parted: then the usual price holds.
    """
    if portion.last_day_price is None:
        return [(draws, False)]
    cheap = [d for d in draws if last_day(d.lot)]
    whole = len(cheap) == len(draws)
    if portion.per and not whole:
        cheap = []
    if portion.draws and sum(d.amount for d in cheap) % portion.draws:
        cheap = []
    usual = [d for d in draws if d not in cheap]
    return [(part, old) for part, old in ((usual, False), (cheap, True)) if part]


def price_together(portion: Portion, usual: int, old: int) -> int:
    """The least for so many pieces at the usual price and so many at their last day.

    What is older is never dearer: pieces at their last day count with the others for a price for
    several where that is cheaper than their own.
    """
    cheap = at_last_day(portion)
    return min(
        line_price(portion, usual + n, (), None)[0] + line_price(cheap, old - n, (), None)[0]
        for n in range(old + 1)
    )
