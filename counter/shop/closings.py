"""Closings as they hold, seals, and what the books of days say."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta

from counter.books import CLOSINGS
from counter.books import Entry as Commit
from counter.shop.desk import Desk, no_book
from counter.shop.files import Progress
from counter.trade.closing import Closing, Reopening, close_ledger
from counter.trade.dayfigures import with_figures
from counter.trade.ledger import Ledger
from counter.trade.production import lot_day
from counter.trade.refunds import Refund, taken_back
from counter.trade.sales import Sale
from counter.trade.tracing import Trace, trace_lot, with_last_hold
from labels.say import say


class Closings:
    """Closings, seals, and the days between them."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def open_days(self) -> list[date]:
        """Days up to today that have a book and are not closed, oldest first."""
        return list(self.desk.books.days(self.desk.first_open(), self.desk.today()))

    def with_figures(self, closing: Closing, ledger: Ledger) -> Closing:
        sale_of = self.sale_before(closing.day)
        back = self.taken_back(ledger, sale_of)
        return with_figures(closing, ledger, self.desk.catalogues.of(None), sale_of, back)

    def taken_back(self, ledger: Ledger, sale_of: Callable[[str], Sale | None]) -> list[Sale]:
        """Sales of earlier days of which the refunds of a day gave back the last piece."""
        known = {s.number: s for r in ledger.refunds if (s := sale_of(r.sale))}
        first = min((self.desk.day_of(s.at) for s in known.values()), default=ledger.day)
        refunds = self.desk.recorded(Refund, first, ledger.day - timedelta(days=1))
        return [known[n] for n in sorted(taken_back(known, [*refunds, *ledger.refunds]))]

    def sale_before(self, day: date) -> Callable[[str], Sale | None]:
        """Finds a sale of a day before ``day`` by its number."""

        def find(number: str) -> Sale | None:
            return self.desk.sale_numbered(number) if number.partition("/")[0] < str(day) else None

        return find

    def stays(self, leave: int | None) -> int:
        return self.desk.settings.cash.float if leave is None else leave

    def before(self, day: date) -> Closing | None:
        """The closing before ``day``; a shop is seldom shut for more than two months."""
        before = day - timedelta(days=1)
        found = self.between(day - timedelta(days=60), before) or self.between(date.min, before)
        return found[-1] if found else None

    def between(self, first: date, last: date) -> list[Closing]:
        """Closings of a range of days, one a day, as they hold: the last one where a day was
        reopened, none while it is open again."""
        by_day: dict[date, Closing] = {}
        for record in self.all_between(first, last):
            if isinstance(record, Reopening):
                by_day.pop(record.day, None)
            else:
                by_day[record.day] = record
        return [by_day[day] for day in sorted(by_day)]

    def seal_of(self, day: date) -> str:
        """The seal of a closed day as its closing stands now; "" for an open one."""
        found = self.desk.books.select(CLOSINGS, name=f"closed {day}").entries()
        last = found[-1] if found else None
        return last.link if last and "closings" in last.records else ""

    def all_between(self, first: date, last: date) -> list[Closing | Reopening]:
        """All closings and reopenings of a range of days, in the order written."""
        found = self.desk.books.select(CLOSINGS, name=f"closed {first}", to=f"closed {last}")
        records = (r for e in found.entries() for rows in e.records.values() for r in rows)
        return [r for r in records if isinstance(r, Closing | Reopening)]

    def of(self, day: date) -> Closing:
        """The closing of a day, or what it would be now for an open one."""
        tried = say("look up day {date}", date=day)
        if self.desk.is_closed(day):
            if found := self.between(day, day):
                return found[0]
            raise no_book(self.desk.books, day, tried)
        self.desk.must_have_book(day, tried)
        ledger = self.desk.ledger(day)
        closing = close_ledger(ledger, self.desk.now(), "", None, self.stays(None), "")
        return self.with_figures(closing, ledger)

    def trace(self, lot: str) -> Trace:
        """Where a lot came from and where it went, from the books of the days that name it."""
        batch = self.desk.batch(lot, say("trace lot {lot}", lot=lot))
        days = self.desk.days_of(lot, lot_day(lot) or self.desk.today())
        closed = [d for d in days if self.desk.is_closed(d)]
        closings = self.between(closed[0], closed[-1]) if closed else []
        row = self.desk.fold(self.desk.today()).rows.get(lot)
        books = [(d, self.desk.records_of(d)) for d in days]
        found = trace_lot(batch, books, closings, row.likely if row else 0)
        return with_last_hold(found, self.desk.stops.last().get(lot))

    # -- the books, day by day

    def commits(
        self, first: date, last: date, progress: Progress | None = None
    ) -> Iterator[tuple[date, Commit]]:
        """Every commit of a range of days, with its line number and when it was entered.

        ``progress`` is told of how many days how many are read.
        """
        days = self.desk.books.days(first, last)
        for done, day in enumerate(days):
            if progress:
                progress(done, len(days))
            for commit in self.desk.books.entries(str(day)):
                yield day, commit
