"""Where a lot came from and where it went: surely, and where it may be.

Surely is what was scanned or named as of that lot. What was tapped is only assumed to be the oldest
by the log: it may be any lot of the product that lay on the shelf at that moment, so every such
sale may be of this lot. That the log has none left by what was assumed is no proof that it was
gone; a count, throwing the last away, a closing with none are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from typing import Literal, NamedTuple, TypeVar

import msgspec

from counter.trade.closing import Closing, LotDay
from counter.trade.corrections import Correction
from counter.trade.ledger import Count, Printed
from counter.trade.production import Batch, Hold, lot_day
from counter.trade.refunds import Refund
from counter.trade.sales import Sale, SaleLine
from counter.trade.stock import Draw, How
from counter.trade.tubs import TubOpened
from counter.trade.waste import Waste, about
from labels.say import term

_T = TypeVar("_T")
BACK = term("came back")
NEVER = float("inf")


class TracedSale(msgspec.Struct, frozen=True, kw_only=True):
    """What one sale took, in the lot's unit; below zero what came back to the shelf. ``lot`` is
    that of the log, and ``how`` how it is known."""

    sale: str
    at: datetime
    amount: int
    portion: str
    how: How = "assumed"
    lot: str = ""
    tub: str = ""


class Trace(msgspec.Struct, frozen=True):
    """Everything the books say of one lot. ``used`` is how much of it went into other batches
    (``parts``, by lot), ``made`` what its own day says, ``left`` what is on hand by the last count
    or the log.

    ``sales`` and ``refunds`` are what the log drew from it, ``may_be`` what is assumed and may be
    of it: made + corrected + over = sold + used + wasted + left + missing, exactly.
    """

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
    made: int = 0
    corrections: tuple[Correction, ...] = ()
    may_be: tuple[TracedSale, ...] = ()
    parts: dict[str, int] = {}

    @property
    def batch(self) -> Batch:
        """The batch as last corrected."""
        return self.batches[-1]

    @property
    def lines(self) -> tuple[TracedSale, ...]:
        """What the log drew from it and what came back, in the order of time."""
        return tuple(sorted((*self.sales, *self.refunds), key=_when))

    @property
    def surely(self) -> tuple[TracedSale, ...]:
        return tuple(one for one in self.lines if one.how != "assumed")

    @property
    def sold(self) -> int:
        return sum(one.amount for one in self.lines)

    @property
    def assumed(self) -> int:
        """How much of what was sold is only assumed to be of it."""
        return self.sold - sum(one.amount for one in self.surely)

    @property
    def wasted(self) -> int:
        return sum(w.amount for w in self.waste)

    @property
    def corrected(self) -> int:
        """What corrections said more there is; a sale that was forgotten is a sale."""
        return sum(c.amount for c in self.corrections if c.on_shelf and not c.lines)

    @property
    def missing(self) -> int:
        """What nobody can say anything of."""
        return max(0, -self._more)

    @property
    def over(self) -> int:
        """How much more left the shelf, or is there, than was made."""
        return max(0, self._more)

    @property
    def _more(self) -> int:
        found = self.sold + self.used + self.wasted + self.left
        return found - self.made - self.corrected


Books = Sequence[tuple[date, Sequence[Mapping[str, Sequence[object]]]]]
"""Days and their commits, in order."""


def trace_lot(batch: Batch, days: Books, closings: Sequence[Closing], left: int) -> Trace:
    """Gather what ``days`` say of the lot of ``batch``."""
    gathered = _Gathered(batch)
    for day, commits in days:
        for record in (r for commit in commits for rows in commit.values() for r in rows):
            gathered.take(day, record)
    rows = {c.day: row for c in closings for row in c.lots if row.lot == batch.lot}
    return gathered.trace(rows, left)


Known = Literal["known", "gone", "counted", "assumed", "back"]


class _Event(NamedTuple):
    """What was done with a lot: how it changes what is left, or what was ``counted``.

    ``how``: ``known`` is surely of this lot, ``gone`` the last of it that somebody saw; ``back``
    came back to the shelf and may be of it.
    """

    day: date
    at: float
    turn: int  # of what happened at one moment, in the order written
    change: int
    how: Known = "known"


class _Gathered:
    """The records that speak of a lot, and all draws of its product."""

    def __init__(self, batch: Batch) -> None:
        self.batch, self.lot = batch, batch.lot
        self.own: list[object] = []
        self.turn = 0
        self.drawn: list[tuple[date, int, TracedSale]] = []
        self.sales: dict[str, Sale] = {}
        self.events: list[_Event] = []
        self.made = 0
        self.used: dict[str, _Event] = {}  # by the lot it went into, as its own day says
        self.into: dict[str, bool] = {}  # that lot as last corrected

    def take(self, day: date, record: object) -> None:
        self.turn += 1
        if isinstance(record, Sale):
            self.sales[record.number] = record
            drawn = _drawn(record.number, record.paid_at, record.lines, self.batch.product)
            of_day = record.kept.day if record.moved and record.kept else day
            self.drawn += ((of_day, self.turn, one) for one in drawn)
        elif isinstance(record, Refund):
            sale = self.sales.get(record.sale)
            back = _returned(record, sale, self.batch.product) if sale else ()
            self.drawn += ((day, self.turn, one) for one in back)
        elif isinstance(record, Batch) and record.lot != self.lot:
            part = sum(m.amount for m in record.mixed if m.lot == self.lot)
            self.into[record.lot] = part > 0
            if day == lot_day(record.lot):
                self.used[record.lot] = self.event(day, record.at, -part)
        elif getattr(record, "lot", "") == self.lot:
            self.own.append(record)
            self.note(day, record)

    def event(self, day: date, at: datetime, change: int, how: Known = "known") -> _Event:
        return _Event(day, at.timestamp(), self.turn, change, how)

    def note(self, day: date, record: object) -> None:
        """What a record of the lot itself changes of what is left."""
        if isinstance(record, Batch) and day == lot_day(self.lot):
            change, self.made = record.made - self.made, record.made
            self.events.append(self.event(day, record.at, change))
        elif isinstance(record, Waste):
            how: Known = "gone" if about(record.reason).all_of_it else "known"
            self.events.append(self.event(day, record.at, -record.amount, how))
        elif isinstance(record, Correction) and record.lines:
            noon = datetime.combine(record.corrects, time(12), record.at.tzinfo)
            at = record.happened or noon  # of the day it was sold, where nobody knows the hour
            sold = _drawn(record.number, at, record.lines, self.batch.product)
            self.drawn += ((record.corrects, self.turn, one) for one in sold)
        elif isinstance(record, Correction) and record.on_shelf:
            self.events.append(self.event(day, record.at, record.amount))
        elif isinstance(record, Count):
            self.events.append(self.event(day, record.at, record.amount, "counted"))

    def of(self, kind: type[_T]) -> tuple[_T, ...]:
        return tuple(record for record in self.own if isinstance(record, kind))

    def trace(self, rows: Mapping[date, LotDay], left: int) -> Trace:
        mine = [one for _, _, one in self.drawn if one.lot == self.lot]
        for day, turn, one in self.drawn:
            how: Known = "assumed" if one.how == "assumed" else "known"
            if one.lot == self.lot:
                self.events.append(_Event(day, one.at.timestamp(), turn, -one.amount, how))
            if how == "assumed" and one.portion == BACK:
                self.events.append(_Event(day, one.at.timestamp(), turn, -one.amount, "back"))
        self.events += (event for event in self.used.values() if event.change)
        first, last = on_shelf(self.events, rows)
        batches, tubs = self.of(Batch), self.of(TubOpened)
        return Trace(
            lot=self.lot,
            batches=batches,
            holds=self.of(Hold),
            printed=self.of(Printed),
            tubs=tubs,
            waste=self.of(Waste),
            counts=self.of(Count),
            corrections=self.of(Correction),
            sales=tuple(one for one in mine if one.portion != BACK),
            refunds=tuple(one for one in mine if one.portion == BACK),
            went_into=tuple(lot for lot, holds in self.into.items() if holds),
            came_from=tuple(m.lot for m in batches[-1].mixed) if batches else (),
            days=tuple(rows.values()),
            left=left,
            made=self.made,
            used=-sum(event.change for event in self.used.values()),
            parts={lot: -event.change for lot, event in self.used.items() if event.change},
            may_be=tuple(
                one
                for day, _, one in self.drawn
                if one.how == "assumed"
                and (
                    one.lot == self.lot
                    or ((tubs or not one.tub) and first <= (day, one.at.timestamp()) <= last)
                )
            ),
        )


Moment = tuple[date, float]
"""A trading day and a moment of it: late notes stand in the book of their day."""
ALWAYS: Moment = (date.max, NEVER)


def on_shelf(events: Iterable[_Event], rows: Mapping[date, LotDay]) -> tuple[Moment, Moment]:
    """From when to when some of a lot may have been on the shelf.

    It is gone when none was counted, when the log's last was thrown away, when all was used, lost
    or sold by its own label, or when a day was closed with none; and was not, where somebody had
    some of it before him later. What is assumed leaves the log (``there``), but not what there may
    be at ``most``.
    """
    there = most = 0
    ordered = sorted(events)
    last = ALWAYS
    for event, after in zip(ordered, [*ordered[1:], None], strict=True):
        there += 0 if event.how == "back" else event.change
        most += 0 if event.how == "assumed" else event.change
        if event.how == "counted":
            there = most = event.change
        if event.how == "back":
            last = ALWAYS if last[0] == event.day else last
        elif event.change > 0:
            last = ALWAYS
        elif event.how != "assumed":
            gone = (there if event.how == "gone" else most) <= 0
            last = (event.day, event.at) if gone else ALWAYS
        for day in sorted(d for d in rows if event.day <= d and (not after or d < after.day)):
            there = rows[day].carried_out
            most = there if rows[day].counted else most
            if there <= 0:
                last = min(last, (day, NEVER))
    return (ordered[0].day, ordered[0].at) if ordered else ALWAYS, last


def _when(one: TracedSale) -> float:
    return one.at.timestamp()


def with_last_hold(trace: Trace, last: Hold | None) -> Trace:
    """A trace with the stop or release that was really written last at the end of its holds: it may
    stand in the book of a day before others, or of none."""
    if last is None:
        return trace
    holds = (*(hold for hold in trace.holds if hold != last), last)
    return msgspec.structs.replace(trace, holds=holds)


def _drawn(
    number: str, at: datetime, lines: Iterable[SaleLine], product: str
) -> Iterator[TracedSale]:
    for line in lines:
        if line.product == product:
            for d in line.draws:
                yield _traced(number, at, line.portion, d, d.amount)


def _returned(refund: Refund, sale: Sale, product: str) -> Iterator[TracedSale]:
    """What came back to the shelf."""
    for line in refund.lines if refund.restocked else ():
        if sale.lines[line.line - 1].product == product:
            for d in line.draws:
                yield _traced(refund.sale, refund.at, BACK, d, -d.amount)


def _traced(sale: str, at: datetime, portion: str, draw: Draw, amount: int) -> TracedSale:
    return TracedSale(
        sale=sale, at=at, amount=amount, portion=portion, how=draw.how, lot=draw.lot, tub=draw.tub
    )
