"""Payments that waited: kept by a browser while the shop's computer was away, booked later.

The customer has paid and is gone. So such a payment is booked as it was paid: by whom it was taken,
at its moment, at the prices and out of the lots of then.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import msgspec

from counter.errors import CounterError, DaySealed
from counter.shop.closings import Closings
from counter.shop.counter import Counter
from counter.shop.desk import LATEST_NOTE_DAYS, Desk
from counter.trade.asking import Question, answered
from counter.trade.closing import begin_day, close_ledger
from counter.trade.ledger import Ledger
from counter.trade.money import said_money
from counter.trade.payments import Tender
from counter.trade.picking import Picker
from counter.trade.sales import Kept, PricedSlip, Sale, Slip
from counter.trade.units import CLOCKS_DIFFER
from labels.say import say

ONE_DAY = timedelta(days=1)
NOTED = timedelta(minutes=1)  # what waited less long is booked at its moment without a word


class Payments:
    """Payments that waited."""

    def __init__(self, desk: Desk, counter: Counter, closings: Closings) -> None:
        self.desk = desk
        self.counter = counter
        self.closings = closings

    def sell_kept(self, slip: Slip, tenders: Sequence[Tender], kept: Kept, by: str = "") -> Sale:
        """Book a payment at ``kept.paid``, under ``by``, who took it.

        It goes into the book of its own day; where that is closed, into the open one, with both
        times. What the books let anybody sell when it was paid is booked, whatever they say by now.
        What they did not, or what says a time that nobody can believe (before any late note, or to
        come), is booked now where it may be sold now, with both times. KeyTaken as in :meth:`sell`.
        """
        try:
            before = self.counter.booked(slip.key)
            if before is None:
                then = self._priced_then(slip, kept.paid)
                try:
                    at = kept.paid if then else None
                    return self._sell_kept(slip, tenders, kept, by, then, at)
                except DaySealed:
                    return self._sell_kept(slip, tenders, kept, by, then, None)
        except CounterError:
            before = self.counter.booked(slip.key)
            if before is None:
                raise
        return self.counter.same(before, slip, tenders, None)

    def forgo(
        self, key: str, amount: int, paid: datetime, words: str, taker: str = "", by: str = ""
    ) -> None:
        """Write down that a payment which waited will not be booked, by whom and in which words:
        money was taken, and the closing names it. Told twice, it is written once."""
        with self.desk.writing(by=by) as entry:
            booked = self.counter.booked(key)  # its answer was lost: then all is as it should be
            if booked and booked.total == amount:
                return
            if any(one.basis == key for one in entry.ledger.answers):
                return
            money = said_money(amount, self.desk.settings.places)
            at = f"{paid:%Y-%m-%d %H:%M}"
            text = say(
                "{money} was taken at {moment} and will not be booked", money=money, moment=at
            )
            if taker and taker != entry.by:
                text = say(
                    "{money} was taken at {moment} by {taker} and will not be booked",
                    money=money,
                    moment=at,
                    taker=taker,
                )
            asked = Question(about="forgone", tried=say("book the payment"), text=text, basis=key)
            (answer,) = answered([asked], {asked.about: words}, entry.now, entry.by)
            entry.add(answer)

    def _sell_kept(
        self,
        slip: Slip,
        tenders: Sequence[Tender],
        kept: Kept,
        by: str,
        then: tuple[PricedSlip, Ledger] | None,
        at: datetime | None,
    ) -> Sale:
        """Book a payment at ``at``, None for now, priced and picked ``then`` or else now."""
        with self.desk.writing(at, by) as entry:
            if before := entry.ledger.keyed.get(slip.key) or self.counter.booked(slip.key):
                return self.counter.same(before, slip, tenders, at)
            priced, ledger = then or (self.counter.priced(slip, entry, gone=True), entry.ledger)
            drawn = dict.fromkeys(d.lot for line in priced.lines for d in line.draws)
            kept = msgspec.structs.replace(
                kept,
                booked=entry.now,
                shown=None if kept.shown == priced.total else kept.shown,
                lots=tuple(ledger.rows[d].lot for d in drawn if d not in entry.ledger.rows),
            )
            waited = abs(entry.now.timestamp() - kept.paid.timestamp()) >= NOTED.total_seconds()
            moved = kept.day != entry.day or kept.shown is not None
            told = waited or moved or kept.sent_by or kept.claimed
            return self.counter.book(slip, tenders, entry, priced, kept if told else None)

    def _priced_then(self, slip: Slip, paid: datetime) -> tuple[PricedSlip, Ledger] | None:
        """A slip priced and picked by the books as they were when it was paid, and that ledger;
        None where they did not let it be sold, or where nobody can believe the time."""
        now, policy = self.desk.now(), self.desk.settings.shop.past_best_by
        early, late = now - timedelta(days=LATEST_NOTE_DAYS), now + CLOCKS_DIFFER
        if not early.timestamp() <= paid.timestamp() <= late.timestamp():
            return None
        try:
            then = self._ledger_then(paid)
            picker = Picker(then, self.desk.for_sale(then, paid), paid, policy, gone=True)
            return self.counter.price_now(slip, picker, now), then
        except (CounterError, KeyError):  # KeyError: books written under a clock that was set back
            return None

    def _ledger_then(self, moment: datetime) -> Ledger:
        """The ledger of a moment's day, closed or open, as the books had it at that moment."""
        day, coins = self.desk.day_of(moment), self.desk.settings.cash.coins
        stops = {
            k: h
            for k, h in self.desk.stops.last().items()
            if h.at.timestamp() <= moment.timestamp()
        }
        end = self.closings.before(day)
        for d in sorted({day, *self.desk.books.days(end.day + ONE_DAY if end else None, day)}):
            ledger = begin_day(d, end, self.desk.settings.cash.float, coins, stops)
            commits = [commit for _, commit in self.closings.commits(d, d)]
            # In the order of the book: what stands before something entered by then was, too.
            by_then = [
                n for n, c in enumerate(commits) if c.entered.timestamp() <= moment.timestamp()
            ]
            for commit in commits[: by_then[-1] + 1 if by_then else 0]:
                ledger.add(commit.records)
            end = close_ledger(ledger, moment, "", None, None, "", later=True)
        return ledger
