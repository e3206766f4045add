"""Looking back: where a product's lots went on a day, the °Brix over weeks, a word in the notes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal

import msgspec

from counter.trade.catalogue import Range, Unit
from counter.trade.closing import Closing, LotDay
from counter.trade.production import Batch, lot_day


class ProductDay(msgspec.Struct, frozen=True):
    """Where a product's lots went on one day, in its unit; ``variance`` above 0 is missing."""

    product: str
    unit: Unit
    there: int
    sold: int
    used: int
    wasted: int
    left: int
    variance: int


class BrixPoint(msgspec.Struct, frozen=True):
    """The strength of one batch's soy milk."""

    lot: str
    day: date
    brix: Decimal


def days_by_product(lots: Sequence[LotDay]) -> list[ProductDay]:
    """A day's lots summed by product, in the order they first stand there."""
    found: dict[str, ProductDay] = {}
    for lot in lots:
        before = found.get(lot.product) or ProductDay(lot.product, lot.unit, 0, 0, 0, 0, 0, 0)
        found[lot.product] = ProductDay(
            lot.product, lot.unit, before.there + lot.carried_in + lot.made,
            before.sold + lot.sold, before.used + lot.used,
            before.wasted + sum(lot.wasted.values()), before.left + lot.carried_out,
            before.variance + lot.variance,
        )  # fmt: skip
    return [p for p in found.values() if p.there or p.sold or p.variance]


def brix_over_time(batches: Iterable[Batch], product: str) -> list[BrixPoint]:
    """The noted strengths of a product's batches as last corrected, in order of their lots."""
    found = {
        b.lot: BrixPoint(b.lot, lot_day(b.lot) or b.at.date(), b.brix)
        for b in batches
        if b.product == product and b.brix is not None
    }
    return [found[lot] for lot in sorted(found)]


class Scale(msgspec.Struct, frozen=True):
    """From where to where a picture of figures runs."""

    least: Decimal
    most: Decimal


def scale_of(points: Sequence[BrixPoint], usual: Range | None) -> Scale:
    """A scale on which all points and the usual band are seen, in whole °Brix."""
    values = [p.brix for p in points] + ([usual.least, usual.most] if usual else [])
    return Scale(Decimal(int(min(values)) - 1), Decimal(int(max(values)) + 2))


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
