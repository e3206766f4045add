"""Where a lot came from and where it went."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

import msgspec

from counter.trade.closing import Closing, LotDay
from counter.trade.ledger import Count, Printed
from counter.trade.production import Batch, Hold
from counter.trade.refunds import Refund
from counter.trade.sales import Sale
from counter.trade.tubs import TubOpened
from counter.trade.waste import Waste


class TracedSale(msgspec.Struct, frozen=True):
    """One sale that took some of the lot, in the lot's unit."""

    sale: str
    at: datetime
    amount: int
    portion: str


class Trace(msgspec.Struct, frozen=True):
    """Everything the books say of one lot; ``used`` is how much of it went into other batches."""

    lot: str
    batches: tuple[Batch, ...]
    holds: tuple[Hold, ...]
    printed: tuple[Printed, ...]
    tubs: tuple[TubOpened, ...]
    sales: tuple[TracedSale, ...]
    refunds: tuple[TracedSale, ...]
    waste: tuple[Waste, ...]
    counts: tuple[Count, ...]
    went_into: tuple[str, ...]
    came_from: tuple[str, ...]
    days: tuple[LotDay, ...]
    left: int
    used: int = 0

    @property
    def batch(self) -> Batch:
        """The batch as last corrected."""
        return self.batches[-1]

    @property
    def sold(self) -> int:
        back = sum(r.amount for r in self.refunds)
        return sum(s.amount for s in self.sales) - back


def trace_lot(
    lot: str,
    days: Sequence[tuple[date, Sequence[Mapping[str, Sequence[object]]]]],
    closings: Sequence[Closing],
    left: int,
) -> Trace:
    """Gather what ``days`` (a day and its commits, in order) say of ``lot``."""
    found: dict[str, list[object]] = {}
    sales: list[TracedSale] = []
    refunds: list[TracedSale] = []
    into: dict[str, int] = {}  # by lot: a batch as last corrected counts
    for commit in (c for _, commits in days for c in commits):
        for table, records in commit.items():
            for record in records:
                if isinstance(record, Sale):
                    sales.extend(_drawn(record, lot))
                elif isinstance(record, Refund):
                    refunds.extend(_returned(record, lot))
                elif getattr(record, "lot", "") == lot:
                    found.setdefault(table, []).append(record)
                elif isinstance(record, Batch):
                    into.pop(record.lot, None)
                    if any(m.lot == lot for m in record.mixed):
                        into[record.lot] = sum(m.amount for m in record.mixed if m.lot == lot)
    batches = [b for b in found.get("batches", []) if isinstance(b, Batch)]
    by_day = {c.day: c for c in closings}
    rows = [r for c in by_day.values() for r in c.lots if r.lot == lot]
    return Trace(
        lot=lot,
        batches=tuple(batches),
        holds=tuple(h for h in found.get("holds", []) if isinstance(h, Hold)),
        printed=tuple(p for p in found.get("printed", []) if isinstance(p, Printed)),
        tubs=tuple(t for t in found.get("tubs", []) if isinstance(t, TubOpened)),
        sales=tuple(sales),
        refunds=tuple(refunds),
        waste=tuple(w for w in found.get("waste", []) if isinstance(w, Waste)),
        counts=tuple(c for c in found.get("counts", []) if isinstance(c, Count)),
        went_into=tuple(into),
        came_from=tuple(m.lot for m in batches[-1].mixed) if batches else (),
        days=tuple(rows),
        left=left,
        used=sum(into.values()),
    )


def _drawn(sale: Sale, lot: str) -> list[TracedSale]:
    return [
        TracedSale(sale.number, sale.at, draw.amount, line.portion)
        for line in sale.lines
        for draw in line.draws
        if draw.lot == lot
    ]


def _returned(refund: Refund, lot: str) -> list[TracedSale]:
    if not refund.restocked:
        return []
    return [
        TracedSale(refund.sale, refund.at, draw.amount, f"line {line.line}")
        for line in refund.lines
        for draw in line.draws
        if draw.lot == lot
    ]
