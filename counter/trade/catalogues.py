"""Catalogues one after the other: which one holds when, and what is known of things that left.

One commit holds the catalogue in use and those that wait for their day, so that the last commit
alone says what holds now.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import msgspec

from counter.trade.catalogue import Catalogue

Dated = tuple[datetime, Catalogue]
"""A catalogue and the moment from which it holds."""


def in_use(kept: Sequence[Catalogue], day: date) -> Catalogue:
    """Of the catalogues of one commit, in the order of their days, the last whose day has come."""
    return next((c for c in reversed(kept) if c.since is None or c.since <= day), Catalogue())


def waiting(kept: Iterable[Catalogue], day: date) -> list[Catalogue]:
    """Those whose day is yet to come."""
    return [c for c in kept if c.since is not None and c.since > day]


def with_made(kept: Sequence[Catalogue], made: Catalogue, day: date) -> list[Catalogue]:
    """What is kept once ``made`` is put to use: it takes the place of the one in use, or of the
    one that waits for the same day. Those that wait for other days go on waiting."""
    others = [c for c in waiting(kept, day) if c.since != made.since]
    if made.since is None:
        return [made, *others]
    return [in_use(kept, day), *sorted([*others, made], key=lambda c: c.since or day)]


def timeline(
    commits: Iterable[tuple[datetime, Sequence[Catalogue]]], zone: ZoneInfo
) -> list[Dated]:
    """Every catalogue, as written, with the moment from which it held or will hold.

    One that waits for its day never comes into use where the next commit is written before.
    """
    found: list[Dated] = []
    waits = 0  # how many at the end have not come by the commit they stand in
    for entered, kept in commits:
        while waits and found[-1][0].timestamp() > entered.timestamp():
            found.pop()
            waits -= 1
        waits = 0
        for catalogue in kept:
            day = catalogue.since
            came = datetime.combine(day, time(), zone) if day else entered
            if found and found[-1][1] == catalogue:
                continue
            found.append((max(came, entered), catalogue))
            waits += came > entered
    return found


def at(line: Sequence[Dated], moment: datetime) -> Catalogue:
    """The catalogue that held at a moment; for one before the first, the first."""
    held = [c for came, c in line if came.timestamp() <= moment.timestamp()]
    return held[-1] if held else line[0][1] if line else Catalogue()


def with_left(
    catalogue: Catalogue, products: Iterable[str], before: Sequence[Catalogue]
) -> Catalogue:
    """A catalogue with products that have left it, as the last of those ``before`` knew them, and
    how they were sold: what is on hand stays sellable, labelled and named.

    A portion whose key is another product's by now is told apart by that of its own product.
    """
    gone = [key for key in dict.fromkeys(products) if key not in catalogue.products]
    for key in gone:
        old = next((c for c in reversed(before) if key in c.products), None)
        if old is None:
            continue
        sold = {
            k if k not in catalogue.portions else f"{k}-{key}": p
            for k, p in old.portions.items()
            if p.product == key
        }
        catalogue = _over(
            catalogue,
            msgspec.structs.replace(
                old,
                products={key: old.products[key]},
                portions={k: msgspec.structs.replace(p, key=k) for k, p in sold.items()},
            ),
        )
    return catalogue


def _over(catalogue: Catalogue, other: Catalogue) -> Catalogue:
    """A catalogue, and behind it what of another's things it does not have."""
    both = {}
    for name in ("products", "portions", "toppings", "ingredients"):
        own = getattr(catalogue, name)
        both[name] = {**own, **getattr(other, name), **own}
    return msgspec.structs.replace(catalogue, **both)


def with_all(line: Sequence[Dated], moment: datetime | None) -> Catalogue:
    """The catalogue of a moment, and by its last name whatever else ever stood in one: what left
    before, what came later. For names only; what it says of a moment gone by never changes."""
    stamp = moment.timestamp() if moment else float("inf")
    before = [c for came, c in line if came.timestamp() <= stamp]
    found = before.pop() if before else Catalogue()
    for other in (*reversed(before), *(c for came, c in line if came.timestamp() > stamp)):
        found = _over(found, other)
    return found
