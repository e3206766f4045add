"""What every part of a shop stands on: its books, its settings and its clock."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

from tinydb.queries import QueryLike

from counter.books import Books
from counter.trade.dates import trading_day
from counter.trade.settings import Settings
from counter.trade.tables import Record, table_of


class Context:
    """Books, settings and clock of one shop. The settings are another record once they change."""

    def __init__(self, books: Books, settings: Settings, clock: Callable[[], datetime]) -> None:
        self.books, self.settings, self.clock = books, settings, clock

    def now(self) -> datetime:
        """The moment on the shop's own clock and zone."""
        return self.clock().astimezone(self.settings.zone)

    def day_of(self, moment: datetime) -> date:
        """The trading day of a moment."""
        return trading_day(moment.astimezone(self.settings.zone), self.settings.shop.day_starts)

    def today(self) -> date:
        """The trading day of now."""
        return self.day_of(self.now())

    def recorded(
        self,
        kind: type[Record],
        first: date,
        last: date | None = None,
        query: QueryLike | None = None,
    ) -> list[Record]:
        """The records of a type in the books of a day, or of some days, in the order written; those
        that a query picks."""
        days = self.books.select(str(first), until=str(last or first))
        return days.find(table_of(kind), kind, query)

    def last_of(self, kind: type[Record]) -> Record | None:
        """The record of a type that was written last into the book of the catalogue."""
        last = self.books.last(table_of(kind))
        return last if isinstance(last, kind) else None
