"""Where each piece, millilitre and gram of a product went, over a day or many."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

import msgspec

from counter.trade.catalogue import Unit
from counter.trade.closing import LotDay

T = TypeVar("T", bound=msgspec.Struct)


def summed(things: Iterable[T], key: Callable[[T], object], *figures: str) -> list[T]:
    """The things of one key as one, the last of them, with these figures of all added up; in the
    order in which the keys first came."""
    found: dict[object, T] = {}
    for thing in things:
        of = key(thing)
        if was := found.get(of):
            more = {name: getattr(was, name) + getattr(thing, name) for name in figures}
            thing = msgspec.structs.replace(thing, **more)
        found[of] = thing
    return list(found.values())


class Flow(msgspec.Struct, frozen=True):
    """One product: carried in + made = sold + used + wasted + carried out + variance, exactly."""

    product: str
    unit: Unit
    carried_in: int
    made: int
    sold: int
    used: int
    wasted: dict[str, int]
    carried_out: int
    variance: int

    @property
    def wasted_all(self) -> int:
        return sum(self.wasted.values())

    @property
    def balances(self) -> bool:
        out = self.sold + self.used + self.wasted_all + self.carried_out + self.variance
        return self.carried_in + self.made == out


def flows_of(lots: Iterable[LotDay]) -> tuple[Flow, ...]:
    """The lots of one day added up by product, those of which nothing was left out."""
    return over_days([list(lots)])


def over_days(days: Sequence[Sequence[LotDay]]) -> tuple[Flow, ...]:
    """Days that follow each other as one: carried into the first, carried out of the last.

    What one day carries out the next carries in; where it does not (a day's closing is missing),
    the difference shows as made or missing nowhere, so it is added to what was carried in.
    """
    found: dict[str, list[int]] = {}
    wasted: dict[str, dict[str, int]] = {}
    units: dict[str, Unit] = {}
    standing: dict[str, int] = {}
    for lots in days:
        coming: dict[str, int] = {}
        leaving: dict[str, int] = {}
        for lot in lots:
            units[lot.product] = lot.unit
            row = found.setdefault(lot.product, [0, 0, 0, 0, 0])
            coming[lot.product] = coming.get(lot.product, 0) + lot.carried_in
            leaving[lot.product] = leaving.get(lot.product, 0) + lot.carried_out
            for i, amount in enumerate((lot.made, lot.sold, lot.used, lot.variance), 1):
                row[i] += amount
            for reason, amount in lot.wasted.items():
                reasons = wasted.setdefault(lot.product, {})
                reasons[reason] = reasons.get(reason, 0) + amount
        for product in {*coming, *standing}:
            gap = coming.get(product, 0) - standing.get(product, 0)
            found.setdefault(product, [0, 0, 0, 0, 0])[0] += gap
        standing = leaving
    flows = [
        Flow(
            product,
            units[product],
            row[0],
            row[1],
            row[2],
            row[3],
            dict(sorted(wasted.get(product, {}).items())),
            standing.get(product, 0),
            row[4],
        )
        for product, row in sorted(found.items())
    ]
    return tuple(f for f in flows if f.carried_in or f.made or f.sold or f.wasted or f.variance)
