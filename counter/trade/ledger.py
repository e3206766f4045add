"""One trading day as a fold over its records: lots, tubs, drawer, sales.

The books hold what happened; the ledger is what follows from it. It is rebuilt from what the last
closing carried and the records since, so it can always be thrown away.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import TypeVar, cast

import msgspec

from counter.errors import NotFound
from counter.trade.asking import Answer
from counter.trade.corrections import Correction
from counter.trade.drawer import Drawer, DrawerMove
from counter.trade.production import Batch, Hold, lot_day, stopped_by
from counter.trade.refunds import Refund, taken_back
from counter.trade.sales import Sale
from counter.trade.stock import Carried, Lot, LotRow, lot_of
from counter.trade.temperatures import Temperature
from counter.trade.tubs import MINUTES, Tub, TubCheck, TubEnded, TubOpened, open_tub
from counter.trade.waste import Waste
from counter.trade.whereabouts import Move, Place, PlaceDay, Track
from labels.say import NOTHING, Said, at_terminal, say

_T = TypeVar("_T")


class Count(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody counted of a lot, in its unit."""

    lot: str
    amount: int
    at: datetime
    by: str = ""


class Printed(msgspec.Struct, frozen=True, kw_only=True):
    """Labels put on paper for a lot; ``again`` when some had been printed before."""

    lot: str
    labels: int
    blank: str
    at: datetime
    file: str = ""
    again: bool = False
    by: str = ""


class Ledger:
    """The state of trading day ``day``."""

    def __init__(
        self,
        day: date,
        carried: Sequence[Carried] = (),
        tubs: Sequence[Tub] = (),
        cash: int = 0,
        coins: Sequence[int] = (),
        places: Sequence[Place] = (),
        stops: Mapping[str, Hold] | None = None,
    ) -> None:
        """``stops`` is what was written last of stopped and released lots, by whatever clock: it
        holds over what the books of the days say in their order."""
        self.day, self.stops = day, stops or {}
        carried = [Carried(self._stopped(c.lot), c.amount) for c in carried]
        self.rows = {c.lot.lot: LotRow(c.lot, c.amount) for c in carried}
        self.tubs = {tub.tub: tub.turned() for tub in tubs}
        self.tubs_began, self.opened = dict(self.tubs), list[str]()
        self.tracks = {c.lot.lot: Track(c.lot) for c in carried}
        self.places = {place.place: PlaceDay(place) for place in places}
        self.drawer = Drawer(cash, coins)
        self.batches: dict[str, Batch] = {}
        self.sales: dict[str, Sale] = {}
        self.keyed: dict[str, Sale] = {}  # by the key a sale was sent with
        self.refunds: list[Refund] = []
        self.waste: list[Waste] = []
        self.counts: dict[str, Count] = {}
        self.printed: list[Printed] = []
        self.holds: list[Hold] = []
        self.moves: list[DrawerMove] = []
        self.checks: list[TubCheck] = []
        self.corrections: list[Correction] = []
        self.answers: list[Answer] = []
        self.sold_out_at: dict[str, datetime] = {}
        self._by_product: dict[str, list[LotRow]] = {}

    def row(self, lot: str, tried: Said) -> LotRow:
        """The row of a lot that is on the shelf today, or NotFound with near matches."""
        if lot not in self.rows:
            raise NotFound(tried, "lot", lot, self.rows)
        return self.rows[lot]

    def tub(self, tub: str, tried: Said) -> Tub:
        if tub not in self.tubs:
            do = say("Open one{how}", how=at_terminal(" with `counter tub open LOT`"))
            raise NotFound(tried, "tub", tub, self.tubs, do)
        return self.tubs[tub]

    def with_readings(self, readings: Sequence[Temperature]) -> list[Lot]:
        """The lots there still are, as they lie after more readings."""
        places = {name: day.copy() for name, day in self.places.items()}
        for reading in readings:
            places.setdefault(reading.place, PlaceDay(Place(place=reading.place))).add(reading)
        return [
            self.tracks[row.lot.lot].judged(row.lot, places)
            for row in self.rows.values()
            if row.there
        ]

    def held(self, lot: str) -> Said | None:
        """Why a lot is stopped, "" if it is not; None for one that left the shelf long ago."""
        if lot in self.stops:
            return stopped_by(self.stops[lot])
        if lot in self.rows:
            return self.rows[lot].lot.stopped
        return next((stopped_by(h) for h in reversed(self.holds) if h.lot == lot), None)

    @property
    def made(self) -> list[Batch]:
        """The batches made today, as last corrected, but for those that never were."""
        found = self.batches.values()
        return [b for b in found if (lot_day(b.lot) or self.day) == self.day and not b.void]

    @property
    def stayed(self) -> list[Sale]:
        """Today's sales, but for those that were taken back whole today."""
        gone = taken_back(self.sales, self.refunds)
        return [sale for sale in self.sales.values() if sale.number not in gone]

    @property
    def by_product(self) -> dict[str, list[LotRow]]:
        """The rows by product, in the order they came; do not change them. Asked for several times
        a sale, so put together once as long as no batch is logged or corrected."""
        if not self._by_product:
            for row in self.rows.values():
                self._by_product.setdefault(row.lot.product, []).append(row)
        return self._by_product

    def rows_of(self, product: str) -> list[LotRow]:
        return self.by_product.get(product, [])

    def on_hand(self, product: str) -> int:
        return sum([row.on_hand for row in self.rows_of(product)])

    def in_tubs(self, lot: str) -> int:
        """Millilitres of a lot that stand in open tubs."""
        return sum(t.level for t in self.tubs.values() if t.lot == lot and t.ended is None)

    def add(self, records: Mapping[str, Sequence[object]]) -> None:
        """Take one commit's records in. Tables: see :data:`.tables.TABLES`."""
        if records.keys() == {"sales"}:  # as most commits are: nothing else is looked for
            for sale in _of(records, "sales", Sale):
                self.add_sale(sale)
            return
        for batch in _of(records, "batches", Batch):
            self.add_batch(batch)
        for hold in _of(records, "holds", Hold):
            self.add_hold(hold)
        self.add_places(records)
        for opened in _of(records, "tubs", TubOpened):
            lot = self.rows[opened.lot].lot
            tub = open_tub(opened, lot.product, lot.out_by(opened.at))
            self.tubs[opened.tub] = self.tubs_began[opened.tub] = tub
            self.opened.append(opened.tub)
        for check in _of(records, "checks", TubCheck):
            self.checks.append(check)
            self.tubs[check.tub] = self.measured(check.tub)
        for sale in _of(records, "sales", Sale):
            self.add_sale(sale)
        for refund in _of(records, "refunds", Refund):
            self.add_refund(refund)
        for waste in _of(records, "waste", Waste):
            self.add_waste(waste)
        for ended in _of(records, "ended", TubEnded):
            self.add_ended(ended)
        for correction in _of(records, "corrections", Correction):
            self.corrections.append(correction)
            if correction.on_shelf:
                self.rows[correction.lot].correct(correction.amount)
        for count in _of(records, "counts", Count):
            self.counts[count.lot] = count
            self.rows[count.lot].count(count.amount, count.at)
        for move in _of(records, "drawer", DrawerMove):
            self.moves.append(move)
            self.drawer.move(move)
        for printed in _of(records, "printed", Printed):
            self.add_printed(printed)
        self.answers.extend(_of(records, "answers", Answer))

    def add_batch(self, batch: Batch) -> None:
        made_on = lot_day(batch.lot) or self.day
        self._by_product = {}
        row = self.rows.get(batch.lot)
        stopped = row.lot.stopped if row else NOTHING
        lot = self._stopped(lot_of(batch, made_on, stopped))
        before = self.batches.get(batch.lot)
        # What is not cooked again goes on as the food it was.
        went_in = batch.mixed if not batch.cook else ()
        within = [self.rows[m.lot].lot for m in went_in if m.lot in self.rows]
        if lot.cold_by:  # it has no longer than what went into it
            by = [lot.cold_by, *(one.cold_by for one in within if one.cold_by)]
            lot = msgspec.structs.replace(lot, cold_by=min(by, key=datetime.timestamp))
        if row is None:
            # Minutes out of its temperature go with food that is not cooked again.
            brought = max((one.out_by(batch.at) for one in within), default=0)
            lot = msgspec.structs.replace(lot, out=brought)
            row = self.rows[batch.lot] = LotRow(lot)
            self.tracks[batch.lot] = Track(lot)
        row.lot = self.tracks[batch.lot].judged(lot, self.places)
        if made_on == self.day:
            row.made = batch.made
            for mixed in before.mixed if before else ():
                self.rows[mixed.lot].use(-mixed.amount, batch.at)
            for mixed in batch.mixed:
                self.rows[mixed.lot].use(mixed.amount, batch.at)
        self.batches[batch.lot] = batch
        if not batch.void:
            self.sold_out_at.pop(batch.product, None)

    def add_hold(self, hold: Hold) -> None:
        self.holds.append(hold)
        row = self.rows.get(hold.lot)
        if row is not None:
            lot = self._stopped(msgspec.structs.replace(row.lot, stopped=stopped_by(hold)))
            track = self.tracks[hold.lot]
            if not hold.stopped and lot.out_by(hold.at) >= MINUTES:
                track.decided = hold.at.timestamp()
            row.lot = track.judged(lot, self.places)

    def _stopped(self, lot: Lot) -> Lot:
        if lot.lot not in self.stops:
            return lot
        return msgspec.structs.replace(lot, stopped=stopped_by(self.stops[lot.lot]))

    def add_places(self, records: Mapping[str, Sequence[object]]) -> None:
        """Where lots were brought and what places measured: what it says of every lot, and of the
        tubs that were opened of it."""
        moves = _of(records, "moves", Move)
        readings = list(_of(records, "temperatures", Temperature))
        readings += [c.reading for c in _of(records, "corrections", Correction) if c.reading]
        for move in moves:
            self.tracks[move.lot].move(move)
        for reading in readings:
            day = self.places.setdefault(reading.place, PlaceDay(Place(place=reading.place)))
            day.add(reading)
        moved, measured = {m.lot for m in moves}, {r.place for r in readings}
        for code, row in self.rows.items() if moved or measured else ():
            track = self.tracks[code]
            if code in moved or any(stay.place in measured for stay in track.stays):
                row.lot = track.judged(row.lot, self.places)
        for name in self.opened if readings else ():
            tub = self.tubs_began[name]
            lot, opened = self.rows[tub.lot].lot, tub.opened.timestamp()
            out = self.tracks[tub.lot].minutes(lot, self.places, opened)
            self.tubs_began[name] = msgspec.structs.replace(tub, out=out)
            self.tubs[name] = self.measured(name)

    def add_sale(self, sale: Sale) -> None:
        self.sales[sale.number] = sale
        if sale.key:
            self.keyed[sale.key] = sale
        for lot in sale.kept.lots if sale.kept else ():
            if lot.lot not in self.rows:  # of a day before; sold now, it is oversold, and explained
                self.rows[lot.lot] = LotRow(self._stopped(lot))
                self.tracks[lot.lot] = Track(lot)
        for line in sale.lines:
            for draw in line.draws:
                self.rows[draw.lot].sell(draw.amount, sale.at)
                if draw.tub in self.tubs:
                    self.tubs[draw.tub] = self.tubs[draw.tub].draw(draw.amount)
            if self.on_hand(line.product) <= 0 and not sale.moved:
                self.sold_out_at.setdefault(line.product, sale.at)
        self.drawer.sell(sale)

    def add_refund(self, refund: Refund) -> None:
        self.refunds.append(refund)
        self.drawer.refund(refund)
        if not refund.restocked:
            return
        for line in refund.lines:
            for draw in line.draws:
                row = self.rows.get(draw.lot)
                if row is not None:
                    row.sell(-draw.amount, refund.at)
                    self.sold_out_at.pop(row.lot.product, None)
                if draw.tub in self.tubs:
                    self.tubs[draw.tub] = self.tubs[draw.tub].draw(-draw.amount)

    def add_waste(self, waste: Waste) -> None:
        self.waste.append(waste)
        self.rows[waste.lot].waste(waste.reason, waste.amount, waste.at)
        if waste.tub:
            self.tubs[waste.tub] = self.tubs[waste.tub].draw(waste.amount)

    def add_printed(self, printed: Printed) -> None:
        self.printed.append(printed)
        if row := self.rows.get(printed.lot):
            track = self.tracks[printed.lot]
            track.printed.append((printed.at.timestamp(), printed.labels))
            row.lot = track.judged(row.lot, self.places)

    def add_ended(self, ended: TubEnded) -> None:
        """A tub is away; what is put back takes its minutes out of the range with it."""
        tub = self.tubs[ended.tub]
        self.tubs[ended.tub] = msgspec.structs.replace(tub, ended=ended.at)
        row, track = self.rows[tub.lot], self.tracks[tub.lot]
        more = tub.out_at(ended.at) - row.lot.out_by(ended.at)
        if ended.kept and more > 0:
            track.put_back.append((ended.at.timestamp(), more))
            row.lot = track.judged(row.lot, self.places)

    def measured(self, tub: str, *more: TubCheck) -> Tub:
        """A tub as it stands after all that was measured in it today, and ``more``."""
        checks = [c for c in (*self.checks, *more) if c.tub == tub]
        judged, level = self.tubs_began[tub].measured(checks), self.tubs[tub].level
        return msgspec.structs.replace(judged, level=level, ended=self.tubs[tub].ended)

    def open_tubs(self, product: str = "") -> list[Tub]:
        """Tubs on the counter, the earliest end first."""
        tubs = [t for t in self.tubs.values() if t.ended is None and product in ("", t.product)]
        return sorted(tubs, key=lambda t: t.ends) if tubs[1:] else tubs


def correction_number(ledger: Ledger, more: int = 0) -> str:
    """The number of the next correction written into a day; ``more`` are not yet taken in."""
    return f"{ledger.day}/C{len(ledger.corrections) + 1 + more:02d}"


def _of(records: Mapping[str, Sequence[object]], table: str, _: type[_T]) -> Sequence[_T]:
    return cast(Sequence[_T], records.get(table, ()))  # the books read each table as its kind
