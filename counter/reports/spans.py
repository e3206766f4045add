"""Weeks, months and years, from the closings alone: the figures of a day added up, and their trend.

Money in minor units, amounts in each product's own unit. No day book is read.
"""

from __future__ import annotations

import calendar
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Literal

import msgspec

from counter.reports.flows import Flow, over_days, summed
from counter.trade.catalogue import Unit
from counter.trade.closing import Closing, PortionDay, WasteDay, YieldDay
from counter.trade.corrections import Correction
from counter.trade.money import Minor
from counter.trade.takings import Takings, add_takings
from counter.trade.taxes import TaxDay, add_taxes

Kind = Literal["week", "month", "year"]


class DayFigures(msgspec.Struct, frozen=True):
    """One closed day within a span. ``missing`` is what the drawer lacked at closing,
    ``start_missing`` what it lacked at the start of what the closing before had left."""

    day: date
    sales: int
    total: Minor
    discounts: Minor
    refunded: Minor
    wasted_cost: Minor
    wasted_price: Minor
    counted: bool
    missing: Minor
    sold_out: tuple[str, ...]
    start_missing: Minor = 0


class ProductSpan(msgspec.Struct, frozen=True):
    """One product over a span: where it went, what it brought, what was lost of it.

    ``days`` is on how many days there was any, ``sold_out`` on how many of them it ran out.
    """

    flow: Flow
    net: Minor
    wasted_cost: Minor
    wasted_price: Minor
    days: int
    sold_out: int


class YieldSpan(msgspec.Struct, frozen=True):
    """Batches of one product: ``per_kilo`` grams (or millilitres where ``liquid``) from 1 kg of
    dry beans, over all batches whose beans were noted; °Brix as mean, least and most.

    ``trend`` and ``brix_trend`` have a value for each piece of the span, None where there is none.
    """

    product: str
    unit: Unit
    batches: int
    beans_g: Decimal
    per_kilo: Decimal | None
    liquid: bool
    brix: Decimal | None
    brix_least: Decimal | None
    brix_most: Decimal | None
    trend: tuple[float | None, ...]
    brix_trend: tuple[float | None, ...]


class Piece(msgspec.Struct, frozen=True):
    """One bar of the trend pictures: a day, or a month of a year."""

    first: date
    last: date
    days: int
    sales: int
    total: Minor
    wasted_cost: Minor
    wasted_price: Minor


class HourSpan(msgspec.Struct, frozen=True):
    """One hour of the clock over all days."""

    hour: int
    sales: int
    total: Minor


class SpanSummary(msgspec.Struct, frozen=True):
    """The figures of a span, and of the one before it for comparison (``before_total``, without
    sales taken back whole, None where no day of it is closed).

    ``refunded`` is what was handed back. ``total`` and all else is what the closings say;
    ``corrections`` are those of its days, whenever noted, ``corrected_money`` what they add to
    what was taken, and ``corrected_drawer`` to what should have been in the drawer.
    """

    kind: Kind
    first: date
    last: date
    days: tuple[DayFigures, ...]
    pieces: tuple[Piece, ...]
    portions: tuple[PortionDay, ...]
    products: tuple[ProductSpan, ...]
    hours: tuple[HourSpan, ...]
    payments: dict[str, Minor]
    taxes: tuple[TaxDay, ...]
    waste: tuple[WasteDay, ...]
    yields: tuple[YieldSpan, ...]
    sales: int
    total: Minor
    discounts: Minor
    refunds: int
    refunded: Minor
    rounding: Minor
    missing: Minor
    batches: int
    labels: int
    before_days: int
    before_total: Minor | None
    start_missing: Minor = 0
    takings: Takings = Takings()
    corrections: tuple[Correction, ...] = ()
    corrected_money: Minor = 0
    corrected_drawer: Minor = 0

    @property
    def missing_in_all(self) -> int:
        """What the drawer lacked, at closing and at the start, as corrected since."""
        return self.missing + self.start_missing + self.corrected_drawer

    @property
    def wasted_cost(self) -> int:
        return sum(w.cost for w in self.waste)

    @property
    def wasted_price(self) -> int:
        return sum(w.price for w in self.waste)


def span_of(kind: Kind, day: date) -> tuple[date, date]:
    """First and last day of the week (Monday to Sunday), month or year that ``day`` is in."""
    if kind == "week":
        first = day - timedelta(days=day.weekday())
        return first, first + min(timedelta(days=6), date.max - first)
    if kind == "month":
        return day.replace(day=1), day.replace(day=calendar.monthrange(day.year, day.month)[1])
    return date(day.year, 1, 1), date(day.year, 12, 31)


def pieces_of(kind: Kind, first: date, last: date) -> list[tuple[date, date]]:
    """The bars of the trend: days, or months for a year."""
    if kind == "year":
        return [span_of("month", date(first.year, month, 1)) for month in range(1, 13)]
    days = [first + timedelta(days=i) for i in range((last - first).days + 1)]
    return [(day, day) for day in days]


def summarise_span(
    kind: Kind,
    first: date,
    last: date,
    closings: Sequence[Closing],
    before: Sequence[Closing] = (),
    corrections: Iterable[Correction] = (),
) -> SpanSummary:
    """Add up the closings of a span, one a day in order; ``before`` is the span before it,
    ``corrections`` those about its days."""
    days = [figures_of(c) for c in closings]
    cuts = pieces_of(kind, first, last)
    waste = add_waste(w for c in closings for w in c.waste)
    payments: dict[str, int] = {}
    for kind_paid, amount in (pair for c in closings for pair in c.payments.items()):
        payments[kind_paid] = payments.get(kind_paid, 0) + amount
    noted = tuple(corrections)
    takings = add_takings(c.takings for c in closings)
    return SpanSummary(
        kind=kind,
        first=first,
        last=last,
        days=tuple(days),
        pieces=tuple(piece_of(start, end, days) for start, end in cuts),
        portions=add_portions(closings),
        products=add_products(closings, waste),
        hours=add_hours(closings),
        payments=payments,
        taxes=add_taxes((c.by_rate, c.taxes) for c in closings),
        waste=waste,
        yields=add_yields(closings, cuts),
        sales=takings.sales,
        total=takings.total,
        discounts=takings.discounts,
        refunds=takings.refunds,
        refunded=takings.given_back,
        rounding=takings.rounding,
        missing=sum(c.cash.variance for c in closings),
        batches=sum(c.batches for c in closings),
        labels=sum(c.labels for c in closings),
        before_days=len(before),
        before_total=sum(c.takings.stayed for c in before) if before else None,
        start_missing=sum(c.cash.start_missing for c in closings),
        takings=takings,
        corrections=noted,
        corrected_money=sum(c.taken for c in noted),
        corrected_drawer=sum(c.in_drawer for c in noted),
    )


def figures_of(closing: Closing) -> DayFigures:
    return DayFigures(
        closing.day,
        closing.sales,
        closing.total,
        closing.discounts,
        closing.takings.given_back,
        sum(w.cost for w in closing.waste),
        sum(w.price for w in closing.waste),
        closing.cash.counted is not None,
        closing.cash.variance,
        tuple(closing.sold_out_at),
        closing.cash.start_missing,
    )


def piece_of(first: date, last: date, days: Iterable[DayFigures]) -> Piece:
    mine = [d for d in days if first <= d.day <= last]
    return Piece(
        first,
        last,
        len(mine),
        sum(d.sales for d in mine),
        sum(d.total for d in mine),
        sum(d.wasted_cost for d in mine),
        sum(d.wasted_price for d in mine),
    )


def add_waste(waste: Iterable[WasteDay]) -> tuple[WasteDay, ...]:
    """By product and reason."""
    found = summed(waste, lambda w: (w.product, w.reason), "amount", "cost", "price")
    return tuple(sorted(found, key=lambda w: (w.product, w.reason)))


def add_portions(closings: Iterable[Closing]) -> tuple[PortionDay, ...]:
    """By portion, the one that brought most first; the name as it was last."""
    sold = (p for c in closings for p in c.portions)
    found = summed(sold, lambda p: p.portion, "quantity", "net")
    return tuple(sorted(found, key=lambda p: (-p.net, p.portion)))


def add_products(closings: Sequence[Closing], waste: Sequence[WasteDay]) -> tuple[ProductSpan, ...]:
    """By product, the one that brought most first."""
    nets: Counter[str] = Counter()
    days: Counter[str] = Counter()
    outs: Counter[str] = Counter()
    for closing in closings:
        for sold in closing.portions:
            nets[sold.product] += sold.net
        days.update({n.product for n in closing.lots if n.made or n.carried_in})
        outs.update(set(closing.sold_out_at))
    products = [
        ProductSpan(
            flow,
            nets[flow.product],
            sum(w.cost for w in waste if w.product == flow.product),
            sum(w.price for w in waste if w.product == flow.product),
            days[flow.product],
            outs[flow.product],
        )
        for flow in over_days([c.lots for c in closings])
    ]
    return tuple(sorted(products, key=lambda p: (-p.net, p.flow.product)))


def add_hours(closings: Iterable[Closing]) -> tuple[HourSpan, ...]:
    """By hour of the clock; hours after midnight that belong to the day before come last."""
    order: dict[int, int] = {}
    hours: list[HourSpan] = []
    for closing in closings:
        for hour in closing.hours:
            late = hour.hour < closing.hours[0].hour
            order[hour.hour] = max(order.get(hour.hour, 0), hour.hour + 24 * late)
            hours.append(HourSpan(hour.hour, hour.sales, hour.total))
    found = summed(hours, lambda h: h.hour, "sales", "total")
    return tuple(sorted(found, key=lambda h: order[h.hour]))


def add_yields(
    closings: Sequence[Closing], cuts: Sequence[tuple[date, date]]
) -> tuple[YieldSpan, ...]:
    """By product; only batches with beans of their own."""
    found: dict[str, list[tuple[date, YieldDay]]] = {}
    for closing in closings:
        for made in closing.yields:
            if made.beans_g > 0:
                found.setdefault(made.product, []).append((closing.day, made))
    return tuple(_yield_span(product, found[product], cuts) for product in sorted(found))


def _yield_span(
    product: str, batches: Sequence[tuple[date, YieldDay]], cuts: Sequence[tuple[date, date]]
) -> YieldSpan:
    every = [y for _, y in batches]
    brix = [y.brix for y in every if y.brix is not None]
    trend, strengths = [], []
    for first, last in cuts:
        mine = [y for day, y in batches if first <= day <= last]
        noted = per_kilo(mine)
        trend.append(None if noted is None else float(noted) / 1000)
        strong = [y.brix for y in mine if y.brix is not None]
        strengths.append(float(sum(strong) / len(strong)) if strong else None)
    return YieldSpan(
        product,
        every[-1].unit,
        len(every),
        sum((y.beans_g for y in every), Decimal(0)),
        per_kilo(every),
        every[-1].liquid,
        sum(brix, Decimal(0)) / len(brix) if brix else None,
        min(brix, default=None),
        max(brix, default=None),
        tuple(trend),
        tuple(strengths),
    )


def per_kilo(yields: Iterable[YieldDay]) -> Decimal | None:
    """Grams or millilitres from one kilogram of dry beans, where the beans were written down."""
    noted = [y for y in yields if y.noted and y.weighs and y.beans_g > 0]
    beans = sum((y.beans_g for y in noted), Decimal(0))
    return 1000 * sum(y.weighs for y in noted) / beans if beans else None
