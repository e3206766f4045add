"""What is counted at the end of a day: each lot that was there, and how the count compares."""

from __future__ import annotations

from datetime import date

import msgspec

from counter.trade.catalogue import Unit
from counter.trade.ledger import Ledger
from counter.trade.stock import LotRow


class Counting(msgspec.Struct, frozen=True, kw_only=True):
    """One lot to count, in its unit. ``expected`` is what the log says was there when it was
    counted; ``missing`` what the count lacks of it, below zero for too much, None uncounted."""

    lot: str
    product: str
    unit: Unit
    day: date
    counted: int | None
    expected: int
    missing: int | None
    oversold: bool = False

    @property
    def gone(self) -> bool:
        """The log has none left and nobody counted any, so there is hardly anything to count."""
        return self.counted is None and self.expected == 0


def counting_of(row: LotRow) -> Counting:
    """How one lot's count compares; sales after the count change neither side."""
    lot = row.lot
    missing = None
    if row.counted is not None and row.left is not None:
        missing = row.on_hand - row.left
    return Counting(
        lot=lot.lot,
        product=lot.product,
        unit=lot.unit,
        day=lot.mark.day,
        counted=row.counted,
        expected=row.on_hand if row.counted is None or missing is None else row.counted + missing,
        missing=missing,
        oversold=row.oversold,
    )


def to_count(ledger: Ledger, products: list[str]) -> list[Counting]:
    """Every lot of the day, by product in the order of the catalogue, the oldest first."""
    order = {key: n for n, key in enumerate(products)}
    rows = sorted(
        ledger.rows.values(),
        key=lambda r: (order.get(r.lot.product, len(order)), r.lot.mark.day, r.lot.lot),
    )
    return [counting_of(row) for row in rows]
