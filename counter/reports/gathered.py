"""The records of some days, sorted by their tables: what an inspector's folder is made from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from operator import itemgetter
from typing import Any

import msgspec

from counter.trade.production import Batch, Hold, lot_day
from counter.trade.tables import Record, table_of
from labels.say import Said


class Commit(msgspec.Struct, frozen=True):
    """What was written in one line of the book of a day, and when."""

    day: date
    entered: datetime
    records: Mapping[str, Sequence[Any]]


class Gathered(msgspec.Struct, frozen=True):
    """The records of some days, each with the trading day of its book. ``batches`` are those made
    in these days, as last corrected, with how often that was; ``days`` those that have a book.
    ``commits`` are all lines of theirs, and later ones that correct a batch made in them."""

    first: date
    last: date
    batches: tuple[Batch, ...]
    records: Mapping[str, tuple[tuple[date, Any], ...]]
    days: tuple[date, ...]
    commits: tuple[Commit, ...]

    def of(self, kind: type[Record]) -> Sequence[tuple[date, Record]]:
        """The records of a type."""
        return self.records.get(table_of(kind), ())

    @property
    def within(self) -> list[Commit]:
        """The lines of these days themselves."""
        return [c for c in self.commits if c.day <= self.last]


class Remark(msgspec.Struct, frozen=True):
    """A sentence of the verdict, and the rule that asks for it."""

    text: Said
    source: str


def gather(
    first: date, last: date, commits: Iterable[Commit], apart: Iterable[tuple[date, Hold]] = ()
) -> Gathered:
    """Sort the records of days. Commits may go on behind ``last``: corrections of batches made in
    these days are taken from them, and nothing else. ``apart`` are stops in no book of a day."""
    batches: dict[str, Batch] = {}
    found: dict[str, list[tuple[date, Any]]] = {}
    kept = list[Commit]()
    for commit in commits:
        day, wanted = commit.day, commit.day <= last
        for table, rows in commit.records.items():
            for row in rows:
                if isinstance(row, Batch):
                    if first <= (lot_day(row.lot) or day) <= last:
                        batches[row.lot] = row
                        wanted = True
                elif day <= last:
                    found.setdefault(table, []).append((day, row))
        kept += [commit] if wanted else []
    if stops := [*found.get("holds", ()), *apart]:
        found["holds"] = sorted(stops, key=itemgetter(0))
    return Gathered(
        first,
        last,
        tuple(batches[lot] for lot in sorted(batches)),
        {t: tuple(r) for t, r in found.items()},
        tuple(dict.fromkeys(c.day for c in kept if c.day <= last)),
        tuple(kept),
    )
