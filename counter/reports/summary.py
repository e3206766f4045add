"""Everything the closing report says of one day, as plain values: no layout, no words.

Computed from the day's records, its closing and the catalogue as it stood when the day was closed.
Money in minor units, amounts in each product's own unit (pieces, millilitres, grams).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime

import msgspec

from counter.reports.flows import Flow, flows_of, summed
from counter.reports.tubs import TubDay, tubs_of
from counter.trade.asking import Answer
from counter.trade.catalogue import Catalogue, Unit
from counter.trade.closing import CashDay, Closing, HourDay, LotDay, Reopening, WasteDay, YieldDay
from counter.trade.corrections import Correction, Corrections
from counter.trade.ledger import Printed
from counter.trade.money import Minor
from counter.trade.payments import KINDS
from counter.trade.production import Batch, Hold
from counter.trade.refunds import Refund, taken_back
from counter.trade.sales import Sale
from counter.trade.tables import records_in
from counter.trade.takings import Takings
from counter.trade.taxes import TaxDay, taxes_by_rate

Records = Sequence[Mapping[str, Sequence[object]]]


class PortionSold(msgspec.Struct, frozen=True, kw_only=True):
    """One portion over the day: ``drawn`` in the product's unit, ``price`` before discounts,
    ``net`` after them; ``tax`` is on top of it or in it, as the shop has it."""

    portion: str
    name: str
    product: str
    unit: Unit
    quantity: int = 0
    drawn: int = 0
    price: Minor = 0
    discount: Minor = 0
    net: Minor = 0
    tax: Minor = 0


class Paid(msgspec.Struct, frozen=True):
    """One kind of payment: what came in by how many payments, what went back by how many."""

    kind: str
    payments: int
    amount: Minor
    refunds: int
    refunded: Minor


class Discounted(msgspec.Struct, frozen=True, kw_only=True):
    """A sale with money off, and why."""

    sale: str
    amount: Minor
    why: str
    by: str


class KeptSale(msgspec.Struct, frozen=True, kw_only=True):
    """A sale that was paid well before it was booked; ``day`` is that on which it was paid, where
    it was closed by then. Money in minor units."""

    sale: str
    amount: Minor
    paid: datetime
    booked: datetime
    day: date | None
    by: str
    sent_by: str


class Refunded(msgspec.Struct, frozen=True, kw_only=True):
    """Money given back, with its cash rounding in it. ``by_card`` is what of a refund in cash went
    back on the card."""

    number: str
    sale: str
    amount: Minor
    kind: str
    why: str
    restocked: bool
    by: str
    by_card: Minor = 0


class LotFigures(msgspec.Struct, frozen=True):
    """A lot's day, its date and the labels printed that day."""

    day: LotDay
    best: date | None
    labels: int


class DaySummary(msgspec.Struct, frozen=True):
    """The figures of one day.

    ``corrections`` stand in this day's book and speak of earlier days; ``corrected`` speak of this
    day and stand in later books. ``explained`` says in words what explains a difference, by lot or
    for ``cash``. price - discounts = net; net + added tax = total; total + rounding = payments.
    """

    day: date
    at: datetime
    by: str
    sealed: bool
    sales: int
    price: Minor
    discounts: Minor
    net: Minor
    added_tax: Minor
    total: Minor
    rounding: Minor
    portions: tuple[PortionSold, ...]
    hours: tuple[HourDay, ...]
    payments: tuple[Paid, ...]
    taxes: tuple[TaxDay, ...]
    discounted: tuple[Discounted, ...]
    refunds: tuple[Refunded, ...]
    cash: CashDay
    lots: tuple[LotFigures, ...]
    flows: tuple[Flow, ...]
    waste: tuple[WasteDay, ...]
    yields: tuple[YieldDay, ...]
    holds: tuple[Hold, ...]
    tubs: tuple[TubDay, ...]
    sold_out_at: dict[str, datetime]
    corrections: tuple[Correction, ...]
    corrected: tuple[Correction, ...]
    explained: dict[str, str]
    notes: str
    takings: Takings = Takings()
    answers: tuple[Answer, ...] = ()
    kept: tuple[KeptSale, ...] = ()
    seal: str = ""  # of a closed day, in hexadecimal

    @property
    def paid(self) -> int:
        return sum(p.amount for p in self.payments)

    @property
    def refunded(self) -> int:
        return sum(r.amount for r in self.refunds)

    @property
    def wasted_cost(self) -> int:
        return sum(w.cost for w in self.waste)

    @property
    def wasted_price(self) -> int:
        return sum(w.price for w in self.waste)


def summarise_day(
    closing: Closing,
    records: Records,
    catalogue: Catalogue,
    before: Closing | Reopening | None = None,
    sale_of: Callable[[str], Sale | None] = lambda _: None,
    corrections: Corrections | None = None,
) -> DaySummary:
    """The figures of a day. ``before`` is what it began with; ``sale_of`` finds a sale of an
    earlier day by its number, for the tax in refunds of it."""
    sales = records_in(Sale, records)
    refunds = records_in(Refund, records)
    lines = [n for s in sales for n in s.lines]
    known = {s.number: s for s in sales}
    gone = taken_back(known, refunds)
    stayed = [s for s in sales if s.number not in gone]
    noted = corrections or Corrections()
    added = sum(t.tax for s in sales if not s.included for t in s.taxes)
    return DaySummary(
        day=closing.day,
        at=closing.at,
        by=closing.by,
        sealed=bool(closing.book_link),
        sales=len(sales),
        price=sum(n.price for n in lines),
        discounts=sum(n.discount for n in lines),
        net=sum(n.net for n in lines),
        added_tax=added,
        total=sum(s.total for s in sales),
        rounding=sum(s.rounding for s in sales),
        portions=portions_of(stayed, catalogue),
        hours=closing.hours,
        payments=payments_of(sales, refunds),
        taxes=taxes_by_rate(sales, refunds, lambda number: known.get(number) or sale_of(number)),
        discounted=tuple(
            Discounted(sale=s.number, amount=s.discount, why=s.why, by=s.by)
            for s in sales
            if s.discount
        ),
        refunds=tuple(
            Refunded(
                number=r.number,
                sale=r.sale,
                amount=r.back,
                kind=r.kind,
                why=r.why,
                restocked=r.restocked,
                by=r.by,
                by_card=r.by_card,
            )
            for r in refunds
        ),
        cash=closing.cash,
        lots=lots_of(closing, before, records),
        flows=flows_of(closing.lots),
        waste=closing.waste,
        yields=closing.yields,
        holds=tuple(records_in(Hold, records)),
        tubs=tubs_of(records, before.tubs if before else ()),
        sold_out_at=closing.sold_out_at,
        corrections=noted.written,
        corrected=noted.about,
        explained=closing.explained,
        notes=closing.notes,
        takings=closing.takings,
        answers=closing.answers,
        kept=tuple(
            KeptSale(
                sale=s.number,
                amount=s.total + s.rounding,
                paid=s.kept.paid,
                booked=s.kept.booked,
                day=s.kept.day if s.moved else None,
                by=s.by,
                sent_by=s.kept.sent_by,
            )
            for s in sales
            if s.kept
        ),
    )


def portions_of(sales: Iterable[Sale], catalogue: Catalogue) -> tuple[PortionSold, ...]:
    """What was sold by product and portion; the product that brought most first."""
    units = {key: product.unit for key, product in catalogue.products.items()}
    found = summed(
        (
            PortionSold(
                portion=n.portion,
                name=n.name,
                product=n.product,
                unit=units.get(n.product, "piece"),
                quantity=n.quantity,
                drawn=sum(d.amount for d in n.draws),
                price=n.price,
                discount=n.discount,
                net=n.net,
                tax=n.tax,
            )
            for s in sales
            for n in s.lines
        ),
        lambda p: (p.product, p.portion),
        "quantity",
        "drawn",
        "price",
        "discount",
        "net",
        "tax",
    )
    brought: Counter[str] = Counter()
    for sold in found:
        brought[sold.product] += sold.net
    return tuple(sorted(found, key=lambda p: (-brought[p.product], p.product, -p.net, p.portion)))


def payments_of(sales: Iterable[Sale], refunds: Iterable[Refund]) -> tuple[Paid, ...]:
    """By kind of payment, cash first."""
    both = [Paid(p.kind, 1, p.amount, 0, 0) for s in sales for p in s.payments]
    both += [
        Paid(kind, 0, 0, 1, back)
        for refund in refunds
        for kind, back in refund.handed.items()
        if back or (kind == refund.kind and not refund.amount)
    ]
    found = {p.kind: p for p in summed(both, lambda p: p.kind, *Paid.__struct_fields__[1:])}
    return tuple(found[kind] for kind in KINDS if kind in found)


def lots_of(
    closing: Closing, before: Closing | Reopening | None, records: Records
) -> tuple[LotFigures, ...]:
    """Lots of which anything was there or happened, by product and lot, with their labels."""
    labels: Counter[str] = Counter()
    for run in records_in(Printed, records):
        labels[run.lot] += run.labels
    carried = (*(before.carried if before else ()), *closing.carried)
    best = {c.lot.lot: c.lot.mark.day for c in carried}
    best.update({b.lot: b.mark.day for b in records_in(Batch, records)})
    return tuple(
        LotFigures(lot, best.get(lot.lot), labels[lot.lot])
        for lot in sorted(closing.lots, key=lambda n: (n.product, n.lot))
        if happened(lot) or labels[lot.lot]
    )


def happened(lot: LotDay) -> bool:
    """Whether there was anything of a lot on the day."""
    return bool(
        lot.carried_in
        or lot.made
        or lot.sold
        or lot.used
        or lot.wasted
        or lot.carried_out
        or lot.variance
        or lot.void
    )
