"""The shop's clock, and the catalogue that holds at a moment: kept in the books, read once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta

import msgspec
from tinydb.queries import QueryLike

from counter.books import CATALOGUE, Books
from counter.books import Entry as Commit
from counter.trade.catalogue import Catalogue
from counter.trade.catalogues import Dated as DatedCatalogue
from counter.trade.catalogues import at as at_of
from counter.trade.catalogues import in_use, timeline, with_all, with_left, with_made
from counter.trade.dates import trading_day
from counter.trade.production import Hold, Stops
from counter.trade.rates import Tax, said_rates, tax_then
from counter.trade.settings import Settings, SettingsChange
from counter.trade.tables import Record, records_in, table_of
from counter.trade.units import CLOCKS_DIFFER

STOPS_DAYS = 400  # longer than anything keeps


class Dated:
    """Books, settings and clock."""

    def __init__(self, books: Books, settings: Settings, clock: Callable[[], datetime]) -> None:
        self.books, self.settings, self._clock = books, settings, clock
        self._catalogues: tuple[object, list[DatedCatalogue]] = None, []
        self._named: tuple[object, Catalogue] = None, Catalogue()
        self._used: tuple[Commit | None, date, Catalogue] = None, date.min, Catalogue()

    # -- time

    def now(self) -> datetime:
        """The moment on the shop's own clock and zone."""
        return self._clock().astimezone(self.settings.zone)

    def day_of(self, moment: datetime) -> date:
        return trading_day(moment.astimezone(self.settings.zone), self.settings.shop.day_starts)

    def today(self) -> date:
        return self.day_of(self.now())

    # -- records

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

    # -- the catalogue

    @property
    def catalogue(self) -> Catalogue:
        """The catalogue in use: the last one put to use whose day has come."""
        return self._in_use(self.books.last_entry(CATALOGUE, "catalogues"), self.now().date())

    def _in_use(self, last: Commit | None, day: date) -> Catalogue:
        if last is not self._used[0] or day != self._used[1]:
            kept = records_in(Catalogue, [last.records] if last else ())
            self._used = last, day, in_use(kept, day)
        return self._used[2]

    def kept_catalogues(self) -> list[Catalogue]:
        """The catalogue in use, and those that wait for their day; in the last commit of them."""
        last = self.books.last_entry(CATALOGUE, "catalogues")
        return records_in(Catalogue, [last.records] if last else ())

    def catalogue_at(self, moment: datetime) -> Catalogue:
        """The catalogue that held at a moment, by when each was entered and by its day."""
        last, at = self.books.last_entry(CATALOGUE, "catalogues"), moment.timestamp()
        if last and at < (since := last.entered.timestamp()):
            now = self.now().timestamp()
            # A clock that was ahead entered it: it is in use all the same.
            if since <= now or at < now - CLOCKS_DIFFER.total_seconds():
                return at_of(self.catalogues(), moment)
        return self._in_use(last, moment.astimezone(self.settings.zone).date())

    def catalogues(self) -> list[DatedCatalogue]:
        """All that were ever put to use, read once as long as none is added; one that waited came
        at midnight of the shop's zone."""
        last = self.books.last_entry(CATALOGUE, "catalogues")
        key = last.link if last else "", self.settings.zone
        if self._catalogues[0] != key:
            entries = self.books.select(CATALOGUE, name="catalogues").entries()
            commits = ((one.entered, records_in(Catalogue, [one.records])) for one in entries)
            self._catalogues = key, timeline(commits, self.settings.zone)
        return self._catalogues[1]

    def with_left(self, found: Catalogue, products: Iterable[str]) -> Catalogue:
        gone = sorted({*products} - found.products.keys())
        return with_left(found, gone, [c for _, c in self.catalogues()]) if gone else found

    def catalogue_of(self, moment: datetime | None) -> Catalogue:
        """The catalogue as it stood at ``moment``, for names: with all that ever stood in one, so
        that everything a book speaks of has its name. None: now."""
        catalogues = self.catalogues()
        key = self._catalogues[0], moment or self.now().date()
        if self._named[0] != key:
            self._named = key, with_all(catalogues, moment or self.now())
        return self._named[1]

    def product_names(self) -> dict[str, str]:
        """Every product that was ever in the catalogue, by its last name."""
        return {key: product.name for key, product in self.catalogue_of(None).products.items()}

    def tax_at(self, moment: datetime, now: datetime) -> Tax:
        """The taxes of a moment: of now, those of shop.toml; of one gone by, those that the books
        noted for it."""
        day = moment.astimezone(self.settings.zone).date()
        if moment is now or moment.timestamp() >= now.timestamp():
            return self.settings.tax.at(day)
        return tax_then(self._noted_tax(moment) or self.settings.tax, self.settings.tax, day)

    def _noted_tax(self, moment: datetime | None = None) -> Tax | None:
        """The taxes last noted, or last noted by a moment; for one before the first, the first."""
        last = self.last_of(SettingsChange)
        if last is None or last.tax is None:
            return None
        if moment is None or last.at.timestamp() <= moment.timestamp():
            return last.tax
        every = self.books.select(CATALOGUE, name="settings").find("settings", SettingsChange)
        noted = [s for s in every if s.tax]
        before = [s for s in noted if s.at.timestamp() <= moment.timestamp()]
        return (before[-1] if before else noted[0]).tax

    def note_tax(self) -> None:
        """Let the books know taxes that somebody wrote into shop.toml, before a sale has them."""
        if self._noted_tax() != self.settings.tax:
            self.keep({})

    def keep(
        self, records: Mapping[str, Sequence[msgspec.Struct]], made: Catalogue | None = None
    ) -> None:
        """One commit into the catalogue book, with the catalogue ``made`` in it where there is one,
        and the taxes of shop.toml where they are not those last noted."""
        with self.books.exclusive():
            now = self.now()
            kept = dict(records)
            if made is not None:
                kept["catalogues"] = with_made(self.kept_catalogues(), made, now.date())
            if (noted := self._noted_tax()) != (tax := self.settings.tax):
                kept.setdefault("settings", [SettingsChange(said_rates(noted, tax), now, tax=tax)])
            self.books.commit(CATALOGUE, kept, now)

    def stops(self) -> Mapping[str, Hold]:
        """The last stop or release of each lot that was written lately."""
        last = self.last_of(Stops)
        return last.stops if last else {}

    def stops_apart(self, within: Callable[[datetime], bool]) -> Iterator[Hold]:
        """Stops and releases of some moments that stand in no book of a day, in the order written:
        theirs was closed or in doubt, or the line that had them is lost."""
        seen = set[Hold]()
        for record in self.books.select(CATALOGUE, name="stops").find("stops", Stops):
            for hold in (h for h in record.stops.values() if h not in seen):
                seen.add(hold)
                if within(hold.at):
                    noted = self.books.select(about=hold.lot).find("holds", Hold)
                    yield from () if hold in noted else (hold,)

    def keep_stops(self, holds: Sequence[Hold], now: datetime, by: str) -> None:
        """Let stops and releases hold whatever day the clock believes in, now and later. What is
        older than any date has run."""
        if not holds:
            return
        since = now - timedelta(days=STOPS_DAYS)
        kept = {k: h for k, h in self.stops().items() if h.at.timestamp() > since.timestamp()}
        stops = {**kept, **{hold.lot: hold for hold in holds}}
        self.keep({"stops": [Stops(stops=stops, at=now, by=by)]})
