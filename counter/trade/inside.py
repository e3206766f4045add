"""What is in the food that lies there: ingredients, allergens, and what may have got into it.

Food Code 3-602.12(C) (2022, from memory) and EU 1169/2011 Art. 44(1)(a): who buys food without a
label is told of its allergens; whoever sells it can say so at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

import msgspec

from counter.trade.dates import DateKind
from labels.allergens import SOURCES


class Inside(msgspec.Struct, frozen=True, kw_only=True):
    """What is in a lot on hand; with no ``lot`` in a product by its recipe, or in a topping.

    ``contains`` and ``may_contain`` are source keys; ``none`` is what somebody said is not in it
    although a name says so, with the word why. ``known`` is False where nothing says what is in it.
    """

    key: str
    name: str
    lot: str = ""
    kind: DateKind = "best-by"
    day: date | None = None
    ingredients: tuple[str, ...] = ()
    contains: tuple[str, ...] = ()
    may_contain: tuple[str, ...] = ()
    none: dict[str, str] = {}
    topping: bool = False

    @property
    def known(self) -> bool:
        return bool(self.ingredients)


def sources_of(market: str, found: Sequence[Inside] = ()) -> list[str]:
    """The sources that the law of the market lists: nine by 21 USC 321(qq), else Annex II; and
    whatever else is said to be in what was ``found``, such as sulfites."""
    return [
        source
        for source, names in SOURCES.items()
        if market != "us" or names[0] or any(cell(o, source) in ("yes", "may") for o in found)
    ]


def cell(one: Inside, source: str) -> str:
    """``yes``, ``may``, ``?`` where nobody knows, else ""; the kinds of nuts count as nuts."""
    if not one.known:
        return "?"
    return "yes" if _has(one.contains, source) else "may" if _has(one.may_contain, source) else ""


def in_none(found: Sequence[Inside], sources: Iterable[str]) -> list[str]:
    """The sources that are in nothing of it, for certain or maybe."""
    return [s for s in sources if not any(cell(one, s) for one in found)]


def _has(keys: Iterable[str], source: str) -> bool:
    return any(key.partition(":")[0] == source for key in keys)
