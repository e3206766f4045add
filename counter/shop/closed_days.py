"""What is found out of a closed day later: records in the open day that name what they correct."""

from __future__ import annotations

from datetime import date, datetime, time
from decimal import Decimal

from tinydb import where

from counter.errors import BadInput, NotFound, Refused
from counter.shop.closings import Closings
from counter.shop.counter import Counter
from counter.shop.desk import Desk
from counter.shop.holds import Holds
from counter.trade.corrections import Correction, Corrections, check_correction, lot_sold, what_of
from counter.trade.doubts import of_correction
from counter.trade.ledger import correction_number
from counter.trade.payments import PaymentKind, Tender, in_coins, settle
from counter.trade.sales import Slip, SlipItem, price_slip
from counter.trade.stock import Draw
from counter.trade.temperatures import measured, read_place
from counter.trade.units import clock_on
from labels.say import Said, option, say


class ClosedDays:
    """Corrections of sealed days."""

    def __init__(self, desk: Desk, holds: Holds, counter: Counter, closings: Closings) -> None:
        self.desk = desk
        self.holds = holds
        self.counter = counter
        self.closings = closings

    def correct(
        self,
        day: date,
        why: str,
        sale: str = "",
        lot: str = "",
        amount: int = 0,
        money: int = 0,
        waste: bool = False,
        at: datetime | None = None,
        by: str = "",
        cash: int = 0,
    ) -> Correction:
        """Correct a sealed day by a record in the open one.

        ``amount`` is how much more of ``lot`` there is than the day says (less: below zero); while
        the lot is on the shelf today's stock follows, and the closing shows it as variance.
        ``money`` is how much more ``sale`` brought, ``cash`` how much more should have been in the
        drawer of that day, whatever was sold.
        """
        tried = say("correct day {date}", date=day)
        what = what_of(sale, lot, waste, cash)
        check_correction(tried, why, what, lot=lot, amount=amount, money=money, cash=cash)
        self.must_be_sealed(day)
        if sale and (self.counter.sale(sale).number.partition("/")[0] != str(day)):
            raise BadInput(
                tried,
                say("sale {number} is of another day", number=sale),
                say("Name the day it was sold"),
            )
        closing = self.closings.of(day)
        units = {row.lot: row.unit for row in closing.lots}
        if lot and lot not in units:
            raise NotFound(tried, say("lot of {date}", date=day), lot, units)
        with self.desk.writing(at, by) as entry:
            row = entry.ledger.rows.get(lot)
            if row is not None and row.on_hand + amount < min(0, row.on_hand):
                why_not = say(
                    "the log has only {left} of lot {lot} left", left=row.on_hand, lot=lot
                )
                raise Refused(tried, why_not, say("Count the lot first, or check the amount"))
            places = self.desk.settings.places
            entry.ask(*of_correction(closing, lot, amount, money or cash, places, tried))
            return entry.add(
                Correction(
                    number=correction_number(entry.ledger),
                    corrects=day,
                    what=what,
                    text=Said(" ".join(why.split())[:500]),
                    at=entry.at,
                    sale=sale,
                    lot=lot,
                    amount=amount,
                    money=money,
                    on_shelf=bool(amount) and row is not None,
                    by=entry.by,
                    drawer=cash,
                    unit=units.get(lot, ""),
                )
            )

    def forgotten_sale(
        self,
        day: date,
        item: SlipItem,
        paid: PaymentKind,
        why: str,
        clock: time | None = None,
        at: datetime | None = None,
        by: str = "",
    ) -> Correction:
        """Enter a sale of a sealed day that nobody entered, at the prices of its moment.

        It adds to what that day took, and paid in cash to what should have been in its drawer.
        Today's stock follows where nobody has counted the lot since.
        """
        tried = say("correct day {date}", date=day)
        check_correction(tried, why, "sale")
        self.must_be_sealed(day)
        settings, then = self.desk.settings, self._then(day, clock) if clock else None
        moment = then or self._then(day, time(12))
        catalogue = self.desk.catalogues.at(moment)
        portion = catalogue.portion(item.portion, tried)
        there = {n.lot: n.unit for n in self.closings.of(day).lots if n.product == portion.product}
        lot = lot_sold(tried, item, portion.name, list(there))
        priced = price_slip(
            Slip((item,)),
            catalogue,
            self.desk.catalogues.tax_at(moment, self.desk.now()),
            lambda one, _, amount: [
                Draw(lot=lot, amount=amount, how="named" if one.lot else "assumed")
            ],
            lambda _: False,
        )
        tender = settle(
            priced.total, (Tender(paid),), coin=settings.cash.smallest_coin, places=settings.places
        )
        worth = sum(payment.amount for payment in tender[0])
        amount = sum(d.amount for line in priced.lines for d in line.draws)
        with self.desk.writing(at, by) as entry:
            follows = lot in entry.ledger.rows and not self._counted_since(lot, day)
            return entry.add(
                Correction(
                    number=correction_number(entry.ledger),
                    corrects=day,
                    what="sale",
                    text=Said(" ".join(why.split())[:500]),
                    at=entry.at,
                    lot=lot,
                    amount=-amount,
                    money=worth,
                    on_shelf=follows,
                    by=entry.by,
                    drawer=worth if in_coins(paid) else 0,
                    lines=priced.lines,
                    tax=priced.tax,
                    paid=paid,
                    happened=then,
                    unit=there[lot],
                )
            )

    def forgotten_temperature(
        self,
        day: date,
        place: str,
        celsius: Decimal,
        why: str,
        clock: time,
        at: datetime | None = None,
        by: str = "",
    ) -> Correction:
        """Enter what a place measured on a sealed day, and nobody noted then."""
        tried = say("correct day {date}", date=day)
        check_correction(tried, why, "temperature")
        self.must_be_sealed(day)
        name, kind = read_place(place, self.desk.settings.holding, tried)
        with self.desk.writing(at, by) as entry:
            then = self._then(day, clock)
            reading = measured(name, kind, celsius, then, "", entry.by)
            record = entry.add(
                Correction(
                    number=correction_number(entry.ledger),
                    corrects=day,
                    what="temperature",
                    text=Said(" ".join(why.split())[:500]),
                    at=entry.at,
                    by=entry.by,
                    happened=then,
                    reading=reading,
                )
            )
            self.holds.stop_what_is_out(entry, reading)
        return record

    def _then(self, day: date, clock: time) -> datetime:
        """A time of a day, on the shop's clock."""
        return clock_on(day, clock, self.desk.settings.shop.day_starts, self.desk.settings.zone)

    def _counted_since(self, lot: str, day: date) -> bool:
        """Whether a closing since that of ``day``, or that one itself, counted a lot."""
        rows = (n for c in self.closings.between(day, self.desk.today()) for n in c.lots)
        return any(n.counted for n in rows if n.lot == lot)

    def must_be_sealed(self, day: date) -> None:
        """Refused for a day that is open still, NotFound for one without a book."""
        tried = say("correct day {date}", date=day)
        self.desk.must_have_book(day, tried)
        if not self.desk.is_closed(day):
            do = say("Note it in that day itself{how}", how=option("--at"))
            raise Refused(tried, say("it is still open"), do)

    def corrections_of(self, day: date) -> Corrections:
        """Corrections about a day, found by the closings that name it, and those written in it."""
        return Corrections(
            tuple(self.corrections_about(day, day)), tuple(self.desk.recorded(Correction, day))
        )

    def corrections_about(self, first: date, last: date) -> list[Correction]:
        """Corrections about a range of days, whenever they were written."""
        found = self.desk.books.select(name=f"corrects {first}", to=f"corrects {last}")
        about = (where("corrects") >= first) & (where("corrects") <= last)
        return found.find("corrections", Correction, about)
