"""What is kept and shown: temperatures, corrections of sealed days, recalls, the books by day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal

import msgspec
from tinydb import where

from counter.books import Entry as Commit
from counter.errors import BadInput, Refused
from counter.shop.copying import Copying, Progress, restore
from counter.shop.correcting import Correcting
from counter.shop.restoring import Restored
from counter.shop.tables import code_name
from counter.trade.catalogue import Catalogue
from counter.trade.doubts import noted_late
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
from labels.units import parse_measure

MOST_LOTS = 500


class Records(Correcting, Copying):
    """Temperatures, corrections, recalls; what the books hold, day by day."""

    # -- temperatures

    def note_temperature(
        self, place: str, celsius: Decimal, note: str = "", at: datetime | None = None, by: str = ""
    ) -> Temperature:
        """Write down what a place that holds food measures; the record carries the verdict."""
        name, kind = read_place(place, self.settings.holding, "note a temperature")
        with self.writing(at, by) as entry:
            reading = measured(name, kind, celsius, entry.at, note, entry.by)
            entry.add("temperatures", reading)
            day = entry.ledger.places.get(name)
            if reading.safe and day and day.now().bad:
                entry.ask(*noted_late(name, entry.at, entry.now, "note a temperature"))
            self.stop_what_is_out(entry, reading)
        return reading

    def move_lot(
        self, lot: str, place: str, celsius: Decimal | None = None, at: datetime | None = None,
        by: str = "",
    ) -> Move:  # fmt: skip
        """Write down that a lot lies elsewhere, or what it measures where it lies. In a freezer it
        is frozen from then on, and out of it thawed.

        Refused for a place that is not chilled where nobody measured the food.
        """
        tried = f"move lot {lot}"
        name, kind = read_place(place, self.settings.holding, tried)
        with self.writing(at, by) as entry:
            row = entry.ledger.row(lot, tried)
            labels = sum(p.labels for p in self.printed_of(lot))
            move = Move(
                lot=lot, place=name, kind=kind, at=entry.at, celsius=celsius, by=entry.by,
                labels=min(labels, row.there if row.lot.unit == "piece" else 1),
            )  # fmt: skip
            check_move(tried, move, row.lot)
            for tub in entry.ledger.open_tubs() if kind == "freezer" else ():
                if tub.lot == lot:
                    why = f"tub {tub.tub} of it stands open, and its date would stand still too"
                    raise Refused(tried, why, "Take the tub away first")
            entry.add("moves", move)
            if row.lot.out_since or kind == "freezer":
                entry.ask(*noted_late(lot, entry.at, entry.now, tried))
            self.stop_what_is_out(entry)
        return move

    def check_thermometer(
        self, name: str, water: Water, celsius: Decimal, note: str = "",
        at: datetime | None = None, by: str = "",
    ) -> ThermometerCheck:  # fmt: skip
        """Write down what a thermometer shows in ice water or in boiling water."""
        with self.writing(at, by) as entry:
            made = checked(name, water, celsius, entry.at, note, entry.by)
            entry.add("thermometers", made)
        return made

    # -- recalls

    def recall(self, lots: Sequence[str], code: str = "") -> Recall:
        """Trace several lots, and all with a supplier ``code``, forward and backward; and name
        the other lots that carry a supplier code of theirs."""
        asked = list(dict.fromkeys([*lots, *(b.lot for b in self.lots_with_code(code) if code)]))
        if not asked:
            do = "Name a lot, or another supplier code with --code"
            why = f"no lot has the supplier code '{code}'" if code else "no lot is named"
            raise Refused("recall lots", why, do)
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
        catalogue = self.catalogue_behind(*(traces[lot].batch for lot, _ in sides))
        found = [self._recalled(traces[lot], side, catalogue) for lot, side in sides]
        reached = [traces[lot] for lot, side in sides if side != "went in"]
        sales = self._sales_of(reached)
        return Recall(
            self.now(), tuple(asked), tuple(found), recalled_sales(reached, sales), code,
            sales_that_may_be(reached, sales),
        )  # fmt: skip

    def stop_code(
        self, code: str, why: str, at: datetime | None = None, by: str = ""
    ) -> list[Hold]:
        """Stop all lots with a supplier's code at once, and what was made from them."""
        lots = [batch.lot for batch in self.lots_with_code(code)]
        if not lots:
            do = "Name a lot, or another supplier code with --code"
            raise Refused("stop lots", f"no lot has the supplier code '{code}'", do)
        return self.stop(lots, why, at, by)

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
                    traces[lot] = self.trace(lot)
            if len(traces) > MOST_LOTS:
                raise Refused("recall lots", f"more than {MOST_LOTS} hang together", "Name fewer")
            next_ones = [n for lot in now for n in getattr(traces[lot], way) if n not in seen]
            now = list(dict.fromkeys(next_ones))
            seen.update(now)
            reached += now
        return reached

    def _recalled(self, trace: Trace, side: Side, catalogue: Catalogue) -> RecalledLot:
        """A lot of a recall, with what a piece of it weighs."""
        stopped = trace.holds[-1].why if trace.holds and trace.holds[-1].stopped else ""
        product = catalogue.products.get(trace.batch.product)
        net = parse_measure(product.pack.net) if product and product.pack.net else None
        grams = net.base if net and net.kind == "mass" and trace.batch.unit == "piece" else None
        made_here = bool(trace.batch.mixed)  # of lots of the shop: their own codes are beside it
        ours = {
            key for key, part in catalogue.ingredients.items()
            if part.water or (part.parts and made_here)
        }  # fmt: skip
        return recalled_lot(trace, side, stopped, grams, ours)

    def _sales_of(self, traces: Sequence[Trace]) -> dict[str, Sale]:
        numbers = {s.sale for trace in traces for s in (*trace.lines, *trace.may_be)}
        days = {date.fromisoformat(number.partition("/")[0]) for number in numbers}
        books = (self.books.select(str(day)) for day in sorted(days))
        wanted = where("number").one_of(list(numbers))
        return {sale.number: sale for book in books for sale in book.find("sales", Sale, wanted)}

    def lots_with_code(
        self, code: str, first: date | None = None, last: date | None = None
    ) -> list[Batch]:
        """All batches that name a supplier code, as last corrected. Small and capital letters are
        the same."""
        wanted = " ".join(code.split())
        if not wanted:
            return []
        found = self.books.select(
            str(first or date.min), until=str(last or date.max), name=code_name(wanted)
        ).find("batches", Batch)
        named = {batch.lot for batch in found if has_code(batch, wanted)}
        # A later correction may have taken the code back.
        batches = (self.batch(lot) for lot in sorted(named))
        return [batch for batch in batches if has_code(batch, wanted)]

    # -- the books, day by day

    def commits(
        self, first: date, last: date, progress: Progress | None = None
    ) -> Iterator[tuple[date, Commit]]:
        """Every commit of a range of days, with its line number and when it was entered.

        ``progress`` is told of how many days how many are read.
        """
        if last < first:
            why = f"the range from {first} to {last} ends before it begins"
            raise BadInput("read days", why, "Write the earlier day first")
        days = self.books.days(first, last)
        for done, day in enumerate(days):
            if progress:
                progress(done, len(days))
            for commit in self.books.entries(str(day)):
                yield day, commit


def has_code(batch: Batch, code: str) -> bool:
    """Whether a batch names a supplier code; small and capital letters are the same."""
    return code.casefold() in {" ".join(c.split()).casefold() for c in batch.codes.values()}


__all__ = ["Records", "Restored", "restore"]
