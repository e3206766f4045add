"""A recall: everything that is known of some lots, over the lots made from them and from before.

Forward: which sales, when, how many, and the lots that were made from them. Backward: the lots that
went in and the supplier codes of beans and coagulant. What is accounted for was sold in a numbered
sale, used in a named lot, thrown away for a reason, or is on hand; the differences of counts are
not. Whether to recall, whom to tell and how is for the food authority to decide.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Literal

import msgspec

from counter.trade.catalogue import Unit
from counter.trade.production import lot_day
from counter.trade.sales import Sale
from counter.trade.tracing import Trace
from counter.trade.units import show_amount

CAUTION = (
    "Whether food is recalled, whom to tell and what to say is decided by the food authority:"
    " call it first. This sheet says what the shop's books know; what is eaten or given on is not"
    " in them."
)
Side = Literal["asked", "made from it", "went in"]


class RecalledLot(msgspec.Struct, frozen=True):
    """One lot and where it is, in its unit. ``side`` says why it is here."""

    lot: str
    side: Side
    product: str
    unit: Unit
    made_on: date
    mark: str
    best_by: date
    made: int
    corrected: int
    sold: int
    used: int
    wasted: int
    left: int
    labels: int
    stopped: str
    codes: dict[str, str]
    came_from: tuple[str, ...]
    went_into: tuple[str, ...]

    @property
    def missing(self) -> int:
        """What nobody can say anything of; below zero where more left than was made."""
        gone = self.sold + self.used + self.wasted + self.left
        return self.made + self.corrected - gone

    @property
    def accounted(self) -> int:
        """What of the amount made is accounted for."""
        return max(0, self.made + self.corrected - abs(self.missing))


class RecalledSale(msgspec.Struct, frozen=True):
    """So much of a lot in one sale, and how it was paid; below zero for what came back."""

    lot: str
    sale: str
    at: datetime
    portion: str
    amount: int
    paid: str


class Share(msgspec.Struct, frozen=True):
    """How much of what was made is accounted for, over all lots of one unit."""

    unit: Unit
    made: int
    accounted: int

    @property
    def percent(self) -> str:
        """To a tenth, never rounded up: 100 only where nothing is missing.

        >>> Share("piece", 3000, 2999).percent
        '99.9'
        """
        if not self.made:
            return "100"
        tenths = self.accounted * 1000 // self.made
        return f"{tenths // 10}.{tenths % 10}" if tenths % 10 else str(tenths // 10)


class Recall(msgspec.Struct, frozen=True):
    """Several lots traced both ways. ``lots`` begins with those asked for."""

    at: datetime
    asked: tuple[str, ...]
    lots: tuple[RecalledLot, ...]
    sales: tuple[RecalledSale, ...]
    code: str = ""

    @property
    def reached(self) -> list[RecalledLot]:
        """The lots a recall is about: those asked for and those made from them."""
        return [lot for lot in self.lots if lot.side != "went in"]

    @property
    def shares(self) -> list[Share]:
        made: dict[Unit, tuple[int, int]] = {}
        for lot in self.reached:
            whole, found = made.get(lot.unit, (0, 0))
            made[lot.unit] = whole + lot.made + lot.corrected, found + lot.accounted
        return [Share(unit, *both) for unit, both in made.items()]

    @property
    def supplier_codes(self) -> list[tuple[str, str, list[str]]]:
        """Ingredient, code and the lots it went into, over all generations."""
        found: dict[tuple[str, str], list[str]] = {}
        for lot in self.lots:
            for ingredient, code in lot.codes.items():
                found.setdefault((ingredient, code), []).append(lot.lot)
        return [(ingredient, code, lots) for (ingredient, code), lots in sorted(found.items())]


def recalled_lot(
    trace: Trace, side: Side, traces: Mapping[str, Trace], corrected: int, stopped: str
) -> RecalledLot:
    """One lot of a recall. ``traces`` holds the lots made from it, for what they used of it."""
    batch = trace.batch
    used = sum(
        part.amount
        for child in trace.went_into
        if child in traces
        for part in traces[child].batch.mixed
        if part.lot == trace.lot
    )
    return RecalledLot(
        lot=trace.lot, side=side, product=batch.product, unit=batch.unit,
        made_on=lot_day(trace.lot) or batch.at.date(), mark=batch.mark.kind,
        best_by=batch.mark.day, made=batch.made, corrected=corrected, sold=trace.sold, used=used,
        wasted=sum(w.amount for w in trace.waste), left=trace.left,
        labels=sum(p.labels for p in trace.printed), stopped=stopped, codes=dict(batch.codes),
        came_from=trace.came_from, went_into=trace.went_into,
    )  # fmt: skip


def recalled_sales(traces: Sequence[Trace], sales: Mapping[str, Sale]) -> tuple[RecalledSale, ...]:
    """Every sale that took some of the lots, the earliest first."""
    found = []
    for trace in traces:
        for took, sign in ((trace.sales, 1), (trace.refunds, -1)):
            for one in took:
                paid = how_paid(sales[one.sale]) if one.sale in sales else ""
                portion = one.portion if sign > 0 else "came back"
                found.append(
                    RecalledSale(trace.lot, one.sale, one.at, portion, sign * one.amount, paid)
                )
    return tuple(sorted(found, key=lambda s: (s.at.timestamp(), s.sale, s.lot)))


def accounted_for(recall: Recall) -> str:
    """One sentence: how much of what was made is known to be where."""
    words = [
        f"{show_amount(s.accounted, s.unit)} of {show_amount(s.made, s.unit)}"
        f"{' pieces' if s.unit == 'piece' else ''} ({s.percent} %)"
        for s in recall.shares
    ]
    return f"Accounted for: {', '.join(words)}: sold, used, thrown away or on hand."


def how_paid(sale: Sale) -> str:
    """Kinds of payment and the references of the card terminal, by which a payer may be found."""
    return ", ".join(dict.fromkeys(f"{p.kind} {p.reference}".strip() for p in sale.payments))
