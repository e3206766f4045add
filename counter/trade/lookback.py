"""Looking back: the °Brix over weeks, a word in the notes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal

import msgspec

from counter.trade.closing import Closing
from counter.trade.production import Batch, lot_day


class BrixPoint(msgspec.Struct, frozen=True):
    """The strength of one batch's soy milk."""

    lot: str
    day: date
    brix: Decimal


def brix_over_time(batches: Iterable[Batch], product: str) -> list[BrixPoint]:
    """The noted strengths of a product's batches as last corrected, in order of their lots."""
    found = {
        b.lot: BrixPoint(b.lot, lot_day(b.lot) or b.at.date(), b.brix)
        for b in batches
        if b.product == product and b.brix is not None
    }
    return [found[lot] for lot in sorted(found)]


class Found(msgspec.Struct, frozen=True):
    """A place in the books where a word was found: which kind of note, of what, and its text."""

    day: date
    kind: str
    what: str
    text: str


NOTES: Mapping[str, tuple[str, str]] = {
    "batches": ("lot", "notes"),
    "holds": ("lot", "why"),
    "waste": ("lot", "words"),
    "sales": ("number", "why"),
    "refunds": ("sale", "why"),
    "drawer": ("kind", "why"),
}


def find_in_day(
    word: str, day: date, commits: Iterable[Mapping[str, Sequence[object]]]
) -> list[Found]:
    """Notes and reasons of a day book in which a word stands, whatever its capitals."""
    wanted = word.casefold()
    return [
        Found(day, table, str(getattr(record, name)), text)
        for commit in commits
        for table, records in commit.items()
        if table in NOTES
        for record in records
        for name, field in (NOTES[table],)
        if wanted in (text := str(getattr(record, field))).casefold()
    ]


def find_in_closing(word: str, closing: Closing) -> list[Found]:
    """The same in what was written at the closing."""
    wanted = word.casefold()
    texts = [("", closing.notes), *closing.explained.items()]
    return [Found(closing.day, "closings", k, t) for k, t in texts if wanted in t.casefold()]
