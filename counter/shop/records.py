"""What is kept and shown: temperatures, corrections of sealed days, recalls, the books by day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

import msgspec
from tinydb import where

from counter.errors import BadInput, Refused
from counter.shop.closings import Closings
from counter.shop.desk import Desk
from counter.shop.holds import Holds
from counter.shop.products import Products
from counter.shop.tables import code_name
from counter.trade.catalogue import Catalogue
from counter.trade.doubts import noted_late
from counter.trade.lookback import BrixPoint, Found, brix_over_time, find_in_closing, find_in_day
from counter.trade.production import Batch, Hold
from counter.trade.recalling import (
    Recall,
    RecalledLot,
    Side,
    recalled_lot,
    recalled_sales,
    sales_that_may_be,
)
from counter.trade.sales import Sale
from counter.trade.temperatures import (
    Temperature,
    ThermometerCheck,
    Water,
    checked,
    measured,
    read_place,
)
from counter.trade.tracing import Trace
from counter.trade.whereabouts import Move, check_move
from labels.say import NOTHING, at_terminal, say
from labels.units import parse_measure

MOST_LOTS = 500
MOST_FOUND = 100


class Records:
    """Temperatures, corrections, recalls; what the books hold, day by day."""

    def __init__(self, desk: Desk, products: Products, holds: Holds, closings: Closings) -> None:
        self.desk = desk
        self.products = products
        self.holds = holds
        self.closings = closings

    # -- temperatures

    def note_temperature(
        self, place: str, celsius: Decimal, note: str = "", at: datetime | None = None, by: str = ""
    ) -> Temperature:
        """Write down what a place that holds food measures; the record carries the verdict."""
        name, kind = read_place(place, self.desk.settings.holding, say("note a temperature"))
        with self.desk.writing(at, by) as entry:
            reading = entry.add(measured(name, kind, celsius, entry.at, note, entry.by))
            day = entry.ledger.places.get(name)
            if reading.safe and day and day.now().bad:
                entry.ask(*noted_late(name, entry.at, entry.now, say("note a temperature")))
            self.holds.stop_what_is_out(entry, reading)
        return reading

    def move_lot(
        self,
        lot: str,
        place: str,
        celsius: Decimal | None = None,
        at: datetime | None = None,
        by: str = "",
    ) -> Move:
        """Write down that a lot lies elsewhere, or what it measures where it lies. In a freezer it
        is frozen from then on, and out of it thawed.

        Refused for a place that is not chilled where nobody measured the food.
        """
        tried = say("move lot {lot}", lot=lot)
        name, kind = read_place(place, self.desk.settings.holding, tried)
        with self.desk.writing(at, by) as entry:
            row = entry.ledger.row(lot, tried)
            labels = sum(p.labels for p in self.products.printed_of(lot))
            move = Move(
                lot=lot,
                place=name,
                kind=kind,
                at=entry.at,
                celsius=celsius,
                by=entry.by,
                labels=min(labels, row.there if row.lot.unit == "piece" else 1),
            )
            check_move(tried, move, row.lot)
            for tub in entry.ledger.open_tubs() if kind == "freezer" else ():
                if tub.lot == lot:
                    why = say(
                        "tub {tub} of it stands open, and its date would stand still too",
                        tub=tub.tub,
                    )
                    raise Refused(tried, why, say("Take the tub away first"))
            entry.add(move)
            if row.lot.out_since or kind == "freezer":
                entry.ask(*noted_late(lot, entry.at, entry.now, tried))
            self.holds.stop_what_is_out(entry)
        return move

    def check_thermometer(
        self,
        name: str,
        water: Water,
        celsius: Decimal,
        note: str = "",
        at: datetime | None = None,
        by: str = "",
    ) -> ThermometerCheck:
        """Write down what a thermometer shows in ice water or in boiling water."""
        with self.desk.writing(at, by) as entry:
            return entry.add(checked(name, water, celsius, entry.at, note, entry.by))

    # -- recalls

    def recall(self, lots: Sequence[str], code: str = "") -> Recall:
        """Trace several lots, and all with a supplier ``code``, forward and backward; and name
        the other lots that carry a supplier code of theirs."""
        asked = list(dict.fromkeys([*lots, *(b.lot for b in self.lots_with_code(code) if code)]))
        if not asked:
            do = say("Name a lot, or another supplier code{how}", how=at_terminal(" with --code"))
            why = (
                say("no lot has the supplier code '{code}'", code=code)
                if code
                else say("no lot is named")
            )
            raise Refused(say("recall lots"), why, do)
        found = self._recall(asked, code)
        here = {lot.lot for lot in found.lots}
        others = {
            one: tuple(b.lot for b in self.lots_with_code(one) if b.lot not in here)
            for _, one, _ in found.supplier_codes
        }
        return msgspec.structs.replace(found, elsewhere={k: v for k, v in others.items() if v})

    def _recall(self, asked: Sequence[str], code: str = "") -> Recall:
        traces: dict[str, Trace] = {}
        after = self._follow(asked, traces, "went_into")
        before = self._follow(asked, traces, "came_from")
        sides: list[tuple[str, Side]] = [(lot, "asked") for lot in asked]
        sides += [(lot, "made from it") for lot in after]
        sides += [(lot, "went in") for lot in before if lot not in after]
        catalogue = self.products.catalogue_behind(*(traces[lot].batch for lot, _ in sides))
        found = [self._recalled(traces[lot], side, catalogue) for lot, side in sides]
        reached = [traces[lot] for lot, side in sides if side != "went in"]
        sales = self._sales_of(reached)
        return Recall(
            self.desk.now(),
            tuple(asked),
            tuple(found),
            recalled_sales(reached, sales),
            code,
            sales_that_may_be(reached, sales),
        )

    def stop_code(
        self, code: str, why: str, at: datetime | None = None, by: str = ""
    ) -> list[Hold]:
        """Stop all lots with a supplier's code at once, and what was made from them."""
        lots = [batch.lot for batch in self.lots_with_code(code)]
        if not lots:
            do = say("Name a lot, or another supplier code{how}", how=at_terminal(" with --code"))
            raise Refused(
                say("stop lots"), say("no lot has the supplier code '{code}'", code=code), do
            )
        return self.holds.stop(lots, why, at, by)

    def unstopped(self, lot: str) -> list[RecalledLot]:
        """The lots made from a lot, generation after generation, that nobody has stopped."""
        reached = self._recall([lot]).reached
        return [one for one in reached if one.lot != lot and not one.stopped]

    def _follow(self, asked: Sequence[str], traces: dict[str, Trace], way: str) -> list[str]:
        """Generation after generation of the lots made from some, or that went into them."""
        seen, reached, now = set(asked), [], list(asked)
        while now:
            for lot in now:
                if lot not in traces:
                    traces[lot] = self.closings.trace(lot)
            if len(traces) > MOST_LOTS:
                raise Refused(
                    say("recall lots"),
                    say("more than {n} hang together", n=MOST_LOTS),
                    say("Name fewer"),
                )
            next_ones = [n for lot in now for n in getattr(traces[lot], way) if n not in seen]
            now = list(dict.fromkeys(next_ones))
            seen.update(now)
            reached += now
        return reached

    def _recalled(self, trace: Trace, side: Side, catalogue: Catalogue) -> RecalledLot:
        """A lot of a recall, with what a piece of it weighs."""
        stopped = trace.holds[-1].why if trace.holds and trace.holds[-1].stopped else NOTHING
        product = catalogue.products.get(trace.batch.product)
        net = parse_measure(product.pack.net) if product and product.pack.net else None
        grams = net.base if net and net.kind == "mass" and trace.batch.unit == "piece" else None
        made_here = bool(trace.batch.mixed)  # of lots of the shop: their own codes are beside it
        ours = {
            key
            for key, part in catalogue.ingredients.items()
            if part.water or (part.parts and made_here)
        }
        return recalled_lot(trace, side, stopped, grams, ours)

    def _sales_of(self, traces: Sequence[Trace]) -> dict[str, Sale]:
        numbers = {s.sale for trace in traces for s in (*trace.lines, *trace.may_be)}
        days = {date.fromisoformat(number.partition("/")[0]) for number in numbers}
        books = (self.desk.books.select(str(day)) for day in sorted(days))
        wanted = where("number").one_of(list(numbers))
        return {sale.number: sale for book in books for sale in book.find("sales", Sale, wanted)}

    def lots_with_code(self, code: str) -> list[Batch]:
        """All batches that name a supplier code, as last corrected. Small and capital letters are
        the same."""
        wanted = " ".join(code.split())
        if not wanted:
            return []
        days = self.desk.books.select(str(date.min), until=str(date.max), name=code_name(wanted))
        found = days.find("batches", Batch)
        named = {batch.lot for batch in found if has_code(batch, wanted)}
        # A later correction may have taken the code back.
        batches = (self.desk.batch(lot) for lot in sorted(named))
        return [batch for batch in batches if has_code(batch, wanted)]

    def days(self) -> list[date]:
        """The days that have a book, oldest first; known from the file names alone."""
        return list(self.desk.books.days())

    def brix_of(self, product: str, first: date, last: date) -> list[BrixPoint]:
        """The strengths of a product's batches that were written down between two days."""
        batches = self.desk.recorded(Batch, first, last, where("product") == product)
        return brix_over_time(batches, product)

    def find_word(self, word: str, first: date, last: date) -> list[Found]:
        """Notes and reasons with a word in them, the newest first, at most 100."""
        if len(word.strip()) < 2:
            do = say("Write at least two letters")
            raise BadInput(
                say("look for '{word}'", word=word), say("that is in nearly every note"), do
            )
        closings = {c.day: c for c in self.closings.between(first, last)}
        found: list[Found] = []
        for day in reversed(self.desk.books.days(first, last)):
            found += find_in_day(word.strip(), day, self.desk.records_of(day))
            if day in closings:
                found += find_in_closing(word.strip(), closings[day])
            if len(found) >= MOST_FOUND:
                break
        return found[:MOST_FOUND]

    def day_near(self, day: date, step: int) -> date | None:
        """The next day (``step`` 1) or the one before (-1) that has a book."""
        if step < 0:
            before = self.desk.books.days(last=day - timedelta(days=1))
            return before[-1] if before else None
        after = self.desk.books.days(day + timedelta(days=1))
        return after[0] if after else None


def has_code(batch: Batch, code: str) -> bool:
    """Whether a batch names a supplier code; small and capital letters are the same."""
    return code.casefold() in {" ".join(c.split()).casefold() for c in batch.codes.values()}
