"""Lots stopped and released: at any moment, of whatever day, with what was made from them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import msgspec

from counter.errors import Asked, DaySealed, Refused
from counter.shop.desk import Desk, Entry
from counter.trade.contents import generations
from counter.trade.people import check_release
from counter.trade.production import Batch, Hold, must_have_reason, stops_added
from counter.trade.stock import OUT_TOO_LONG, out_too_long
from counter.trade.tables import records_in
from counter.trade.temperatures import Temperature
from labels.say import NOTHING, Said, say


class Holds:
    """Stops and releases."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def hold(
        self, lot: str, stopped: bool, why: str, at: datetime | None = None, by: str = ""
    ) -> Hold:
        """Stop a lot everywhere, as :meth:`stop` does, or release it, with who and why. A release
        is from all reasons; of what the program stopped it takes an owner."""
        if stopped:
            return self.stop([lot], why, at, by)[0]
        tried = say("release lot {lot}", lot=lot)
        self.desk.batch(lot)
        why = must_have_reason(tried, why)
        with self.desk.writing(at, by) as entry:
            held, known = entry.ledger.held(lot), entry.ledger.stops.get(lot)
            row = entry.ledger.rows.get(lot)
            out = out_too_long(row.lot, entry.at, NOTHING) if row else None
            if held == "" and out is None:
                raise Refused(tried, say("it is not stopped"))
            if out or (known and known.stopped and known.own):
                check_release(tried, why, entry.by, self.desk.catalogue.staff)
            return entry.add(Hold(lot=lot, stopped=False, why=why, at=entry.at, by=entry.by))

    def stop(
        self, lots: Sequence[str], why: str, at: datetime | None = None, by: str = ""
    ) -> list[Hold]:
        """Stop lots everywhere, and what was made from them, in one commit; those named come first.

        At any moment: lots of a day that has not come by this clock, and on a day that is closed or
        doubtful; then no book of a day has it, but all of them begin with it. A further reason is
        kept beside the first; Refused where all of them are stopped for it already.
        """
        tried = say("stop lot {lot}", lot=lots[0]) if len(lots) == 1 else say("stop lots")
        for lot in lots:
            self.desk.batch(lot, say("stop lot {lot}", lot=lot))
        why = must_have_reason(tried, why)
        try:
            with self.desk.writing(at, by) as entry:
                return self._stop(lots, why, tried, entry)
        except (DaySealed, Asked):  # whether it is that day at all can wait: the food cannot
            with self.desk.books.exclusive():
                now = self.desk.now()
                entry = Entry(self.desk.standing(), now, now, by[:60])
                holds = self._stop(lots, why, tried, entry)
                self.desk.stops.keep(holds, now, entry.by)
                return holds

    def _stop(self, lots: Sequence[str], why: Said, tried: Said, entry: Entry) -> list[Hold]:
        named = [Hold(lot=lot, stopped=True, why=why, at=entry.at, by=entry.by) for lot in lots]
        self.stop_lots(entry, self.and_made_from(named))
        holds = records_in(Hold, [entry.records])
        if not any(hold.lot in lots for hold in holds):
            raise Refused(
                tried, say("it is already stopped: {why}", why=entry.ledger.held(lots[0]))
            )
        return holds

    def and_made_from(self, holds: Sequence[Hold]) -> list[Hold]:
        """Stops, and those of the lots on the shelf that were made from the stopped ones."""
        made = [
            msgspec.structs.replace(
                hold,
                lot=one.lot,
                why=say("lot {lot} went into it: {why}", lot=hold.lot, why=hold.why),
                own=True,
            )
            for hold in holds
            for one in self.made_from(hold.lot)
        ]
        return [*holds, *made]

    def stop_lots(self, entry: Entry, holds: Sequence[Hold]) -> None:
        """Stop lots, each once, and for what it is not stopped for already."""
        for lot in dict.fromkeys(hold.lot for hold in holds):
            held, known = entry.ledger.held(lot) or NOTHING, entry.ledger.stops.get(lot)
            record = stops_added(held, known, [hold for hold in holds if hold.lot == lot])
            if record is not None:
                entry.add(record)

    def stop_what_is_out(self, entry: Entry, *readings: Temperature) -> None:
        """Write down as stopped the lots that have been out for too long by now. Where a later day
        is begun, what it holds says so by itself."""
        if self.desk.books.days(entry.day + timedelta(days=1)):
            return
        holds = [
            Hold(lot=lot.lot, stopped=True, why=OUT_TOO_LONG, at=entry.at, by=entry.by, own=True)
            for lot in entry.ledger.with_readings(readings)
            if out_too_long(lot, entry.at, NOTHING)
        ]
        self.stop_lots(entry, self.and_made_from(holds))

    def made_from(self, lot: str) -> list[Batch]:
        """The batches on the shelf that hold some of a lot, generation after generation."""
        there = dict.fromkeys(self.desk.fold(self.desk.today()).rows)
        self.desk.fold(max([self.desk.today(), *self.desk.books.days()[-1:]]))
        there.update((one, None) for _, _, ledger in self.desk.folded for one in ledger.rows)
        batches = (self.desk.batch(one) for one in there if one != lot)
        return [b for b in batches if lot in {g.lot for g in generations(b, self.desk.batch)}]
