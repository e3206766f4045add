"""The end of the day: what is expected against what was counted, and what goes over.

A closing is computed from the day's ledger alone. For every lot
made + carried in = sold + used + wasted + carried out + variance, exactly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal

import msgspec

from counter.trade.asking import Answer
from counter.trade.catalogue import Unit
from counter.trade.corrections import Correction
from counter.trade.ledger import Ledger
from counter.trade.money import Minor
from counter.trade.production import Hold
from counter.trade.sales import Sale
from counter.trade.stock import Carried, LotRow, oldest_first
from counter.trade.takings import Takings
from counter.trade.taxes import TaxDay
from counter.trade.tubs import Tub
from counter.trade.whereabouts import Place
from labels.say import NOTHING, Said


class LotDay(msgspec.Struct, frozen=True, kw_only=True):
    """One lot over one trading day, in its unit.

    ``corrected`` is what corrections of sealed days added (or took away) today: a part of the
    variance, with its sign turned.
    """

    lot: str
    product: str
    unit: Unit
    carried_in: int
    made: int
    sold: int
    used: int
    wasted: dict[str, int]
    carried_out: int
    variance: int
    counted: bool = False
    oversold: bool = False
    stopped: Said = NOTHING
    corrected: int = 0
    void: Said = NOTHING
    out: int = 0  # minutes out of its temperature, all together

    @property
    def open_question(self) -> bool:
        """Nobody counted it although something should be left, or less than nothing is."""
        return not self.counted and (self.carried_out > 0 or self.variance != 0)

    @property
    def balances(self) -> bool:
        out = self.sold + self.used + sum(self.wasted.values()) + self.carried_out
        return self.carried_in + self.made == out + self.variance


class PortionDay(msgspec.Struct, frozen=True, kw_only=True):
    """How many of a portion were sold, and for how much (net of discounts, without added tax)."""

    portion: str
    name: str
    product: str
    quantity: int
    net: Minor


class CashDay(msgspec.Struct, frozen=True, kw_only=True):
    """The drawer over the day, in minor units. ``variance`` is expected less counted.

    ``opening`` is what the closing before left (the usual float where there is none), ``start``
    what the day was said to begin with, ``start_missing`` what is missing between the two. Closings
    of before they were kept have no ``opening``.
    """

    start: Minor
    sales: Minor
    refunds: Minor
    moved_in: Minor
    moved_out: Minor
    rounding: Minor
    expected: Minor
    counted: Minor | None
    left: Minor
    opening: Minor | None = None
    start_missing: Minor = 0

    @property
    def variance(self) -> int:
        return 0 if self.counted is None else self.expected - self.counted


class HourDay(msgspec.Struct, frozen=True):
    """What was sold in one hour of the shop's clock: sales, their totals, amounts by product."""

    hour: int
    sales: int
    total: Minor
    sold: dict[str, int] = {}


class TakenBack(msgspec.Struct, frozen=True, kw_only=True):
    """A sale of an earlier day of which a day's refunds gave back the last piece, as the closing of
    its own day counts it: a part of that day's ``portions`` and of one of its ``hours``."""

    sale: str
    portions: tuple[PortionDay, ...]
    hour: HourDay


class WasteDay(msgspec.Struct, frozen=True, kw_only=True):
    """What was wasted of a product for one reason, in its unit, and in money.

    ``cost`` is what it cost to make, ``price`` what it would have brought at the usual price.
    """

    product: str
    reason: str
    amount: int
    cost: Minor
    price: Minor


class YieldDay(msgspec.Struct, frozen=True, kw_only=True):
    """What one batch was made of and what came out.

    ``weighs`` is what came out in grams, or in millilitres where ``liquid``; 0 where the pack does
    not say. ``noted`` says that somebody wrote the beans down, so the figure is not the recipe's
    own. ``took`` is what went in of other products, in their units.
    """

    lot: str
    product: str
    unit: Unit
    made: int
    weighs: int = 0
    liquid: bool = False
    beans_g: Decimal = Decimal(0)
    water_g: Decimal = Decimal(0)
    coagulants: dict[str, Decimal] = {}
    brix: Decimal | None = None
    noted: bool = False
    took: dict[str, int] = {}


class Closing(msgspec.Struct, frozen=True, kw_only=True):
    """The summary of a closed day and what it carries forward.

    ``book_lines`` and ``book_link`` seal the day book as it stood. ``named`` are lots that are no
    longer on the shelf and of which the day's book speaks all the same (stopped after all).
    ``explained`` says in words what explains a difference, by lot; ``cash`` stands for the drawer.
    ``hours``, ``waste``, ``yields`` and ``available`` (what was there to be sold, by product) are
    for reports and the plan, ``by_rate`` is the tax less what refunds gave back (``taxes`` is that
    of the sales alone); closings of before they were kept have none of them.
    ``portions`` and ``hours`` are without the ``taken_back`` sales, those that went back whole on
    the day; ``refunded`` is what refunds gave back before cash was rounded: see :attr:`takings`.
    ``places`` are as they were measured last.
    ``answers`` is what was asked over the day, and at its closing, and what people said.
    ``back`` are sales of earlier days, sealed with theirs, that are taken back whole since today.
    """

    day: date
    at: datetime
    lots: tuple[LotDay, ...]
    portions: tuple[PortionDay, ...]
    sales: int
    total: int
    discounts: int
    taxes: dict[str, int]
    payments: dict[str, int]
    refunds: int
    refunded: int
    cash: CashDay
    carried: tuple[Carried, ...]
    tubs: tuple[Tub, ...] = ()
    sold_out_at: dict[str, datetime] = {}
    notes: Said = NOTHING
    by: str = ""
    book_lines: int = 0
    book_link: str = ""
    batches: int = 0
    labels: int = 0
    named: tuple[str, ...] = ()
    explained: dict[str, str] = {}
    hours: tuple[HourDay, ...] = ()
    waste: tuple[WasteDay, ...] = ()
    yields: tuple[YieldDay, ...] = ()
    available: dict[str, int] = {}
    corrections: tuple[Correction, ...] = ()
    by_rate: tuple[TaxDay, ...] = ()
    taken_back: int = 0
    taken_back_total: int = 0
    places: tuple[Place, ...] = ()
    answers: tuple[Answer, ...] = ()
    back: tuple[TakenBack, ...] = ()

    @property
    def takings(self) -> Takings:
        """The money of the day, step by step."""
        paid = sum(self.payments.values())
        # cash.rounding is that of the sales less that of the refunds.
        return Takings(
            sales=self.sales,
            total=self.total,
            discounts=self.discounts,
            tax=sum(self.taxes.values()),
            paid=paid,
            refunds=self.refunds,
            given_back=self.refunded + paid - self.total - self.cash.rounding,
            taken_back=self.taken_back,
            taken_back_total=self.taken_back_total,
        )


class Reopening(msgspec.Struct, frozen=True, kw_only=True):
    """A sealed day opened again, and why. It repeats what the day began with.

    ``sealed`` is the last day that stays closed: None in records of before it was kept, when it was
    always the day before.
    """

    day: date
    why: Said
    at: datetime
    carried: tuple[Carried, ...]
    tubs: tuple[Tub, ...] = ()
    cash: int = 0
    by: str = ""
    sealed: date | None = None
    places: tuple[Place, ...] = ()


def begin_day(
    day: date,
    before: Closing | Reopening | None,
    usual: int,
    coins: Sequence[int],
    stops: Mapping[str, Hold],
) -> Ledger:
    """An empty ledger of a day with what the day ``before`` left; the first of all begins with the
    ``usual`` float."""
    if before is None:
        return Ledger(day, cash=usual, coins=coins, stops=stops)
    cash = before.cash if isinstance(before, Reopening) else before.cash.left
    return Ledger(day, before.carried, before.tubs, cash, coins, before.places, stops)


def grouped(seal: str) -> str:
    """A seal as people compare it.

    >>> grouped("0123456789abcdef")
    '0123 4567 89ab cdef'
    """
    return " ".join(seal[i : i + 4] for i in range(0, len(seal), 4))


def close_lot(row: LotRow, at: datetime) -> LotDay:
    """One lot's day. Uncounted, what the log expects goes over, never less than nothing."""
    expected = row.on_hand
    out = max(0, expected if row.left is None else row.left)
    return LotDay(
        lot=row.lot.lot,
        product=row.lot.product,
        unit=row.lot.unit,
        carried_in=row.carried_in,
        made=row.made,
        sold=row.sold,
        used=row.used,
        wasted=dict(sorted(row.wasted.items())),
        carried_out=out,
        variance=expected - row.corrected - out,
        counted=row.counted is not None,
        oversold=row.oversold,
        stopped=row.lot.stopped,
        corrected=row.corrected,
        void=row.lot.void,
        out=row.lot.out_by(at),
    )


def goes_over(row: LotRow, amount: int, day: date) -> bool:
    """Whether a lot is carried: there is some of it, or somebody may still bring a pack of it."""
    last = row.lot.mark.limit or row.lot.mark.day
    return amount != 0 or (last > day and not row.lot.void)


def close_ledger(
    ledger: Ledger,
    at: datetime,
    by: str,
    counted: int | None,
    left: int | None,
    notes: str,
    later: bool = False,
) -> Closing:
    """The closing of a day. ``counted`` is the cash counted, ``left`` what stays in the drawer.

    ``later`` says that books of later days are begun: whatever was on the shelf goes over, since
    they may speak of it.
    """
    rows = oldest_first(ledger.rows.values())
    lots = [close_lot(row, at) for row in rows]
    sales, stayed = list(ledger.sales.values()), ledger.stayed
    payments: dict[str, int] = {}
    for payment in (p for s in sales for p in s.payments):
        payments[payment.kind] = payments.get(payment.kind, 0) + payment.amount
    return Closing(
        day=ledger.day,
        at=at,
        lots=tuple(lots),
        portions=tuple(portions_sold(stayed)),
        sales=len(sales),
        total=sum(s.total for s in sales),
        discounts=sum(s.discount for s in sales),
        taxes=taxes_of(sales),
        payments=payments,
        refunds=len(ledger.refunds),
        refunded=sum(r.amount for r in ledger.refunds),
        cash=cash_of(ledger, counted, left),
        carried=tuple(
            Carried(row.lot, lot.carried_out)
            for row, lot in zip(rows, lots, strict=True)
            if later or goes_over(row, lot.carried_out, ledger.day)
        ),
        tubs=tubs_over(ledger, lots, later),
        sold_out_at=dict(ledger.sold_out_at),
        notes=Said(notes),
        by=by,
        batches=len(ledger.made),
        labels=sum(p.labels for p in ledger.printed),
        named=tuple(sorted({h.lot for h in ledger.holds} - set(ledger.rows))),
        corrections=tuple(ledger.corrections),
        taken_back=len(sales) - len(stayed),
        taken_back_total=sum(s.total for s in sales) - sum(s.total for s in stayed),
        places=tuple(day.now() for day in ledger.places.values()),
        answers=tuple(ledger.answers),
    )


def with_words(closing: Closing, words: Mapping[str, str]) -> Closing:
    """The closing with what explains its differences; what is explained is oversold no more."""
    lots = (
        msgspec.structs.replace(lot, oversold=lot.oversold and lot.lot not in words)
        for lot in closing.lots
    )
    return msgspec.structs.replace(closing, lots=tuple(lots), explained=dict(words))


def cash_of(ledger: Ledger, counted: int | None, left: int | None) -> CashDay:
    """The drawer over a day; uncounted, what is expected is taken to be in it."""
    drawer = ledger.drawer
    holding = drawer.expected if counted is None else counted
    return CashDay(
        start=drawer.start,
        sales=drawer.cash_sales,
        refunds=drawer.cash_refunds,
        moved_in=drawer.moved_in,
        moved_out=drawer.moved_out,
        rounding=sum(s.rounding for s in ledger.sales.values())
        - sum(r.rounding for r in ledger.refunds),
        expected=drawer.expected,
        counted=counted,
        left=holding if left is None else min(left, max(holding, 0)),
        opening=drawer.opening,
        start_missing=drawer.opening - drawer.start,
    )


def tubs_over(ledger: Ledger, lots: Sequence[LotDay], later: bool) -> tuple[Tub, ...]:
    """Tubs that still stand on the next day: cold ones of a lot that is not gone.

    With ``later`` all of them: a day that is left open ends no tub, so one that is not cold
    stands there on the next day, refused, with what is in it until somebody throws it away.
    """
    if later:
        return tuple(ledger.tubs.values())
    there = {lot.lot for lot in lots if lot.carried_out}
    open_ones = (t for t in ledger.tubs.values() if t.ended is None)
    return tuple(t for t in open_ones if t.mode == "cold" and t.lot in there)


def taxes_of(sales: list[Sale]) -> dict[str, int]:
    """Tax by class over many sales."""
    taxes: dict[str, int] = {}
    for line in (t for s in sales for t in s.taxes):
        taxes[line.tax_class] = taxes.get(line.tax_class, 0) + line.tax
    return taxes


def portions_sold(sales: list[Sale]) -> list[PortionDay]:
    """What was sold by portion, the one that brought most first."""
    found: dict[str, PortionDay] = {}
    for line in (n for s in sales for n in s.lines):
        before = found.get(line.portion)
        found[line.portion] = PortionDay(
            portion=line.portion,
            name=line.name,
            product=line.product,
            quantity=line.quantity + (before.quantity if before else 0),
            net=line.net + (before.net if before else 0),
        )
    return sorted(found.values(), key=lambda p: (-p.net, p.portion))


def scooping_losses(ledger: Ledger) -> dict[str, int]:
    """What is missing of scooped lots that were counted: lost in scooping, not a mystery.

    Pudding scooped deep gives off water (common practice, no source). Only lots of which a tub
    stood open today, and only what is missing; too much is a variance.
    """
    scooped = {t.lot for t in ledger.tubs.values()}
    return {
        row.lot.lot: row.on_hand - max(0, row.left)
        for row in ledger.rows.values()
        if row.lot.lot in scooped and row.left is not None and row.on_hand > max(0, row.left)
    }


def out_of_tubs(ledger: Ledger, lot: str, amount: int) -> list[tuple[str, int]]:
    """What of a loss was in which open tub, the fullest first; the rest in no tub ("")."""
    parts = []
    tubs = (t for t in ledger.open_tubs() if t.lot == lot and t.level > 0)
    for tub in sorted(tubs, key=lambda t: -t.level):
        part = min(tub.level, amount)
        if part:
            parts.append((tub.tub, part))
            amount -= part
    return [*parts, ("", amount)] if amount else parts
