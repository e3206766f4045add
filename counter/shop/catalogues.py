"""The book of the catalogue: what is in use, what held at a moment, and the taxes of each time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

import msgspec

from counter.books import CATALOGUE
from counter.books import Entry as Commit
from counter.shop.context import Context
from counter.trade.catalogue import Catalogue
from counter.trade.catalogues import Dated, in_use, timeline, with_all, with_left, with_made
from counter.trade.catalogues import at as at_of
from counter.trade.rates import Tax, said_rates, tax_then
from counter.trade.settings import SettingsChange
from counter.trade.tables import records_in
from counter.trade.units import CLOCKS_DIFFER


class Catalogues:
    """Every catalogue that was ever put to use, read once; and what is written into their book."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self._every: tuple[object, list[Dated]] = None, []
        self._named: tuple[object, Catalogue] = None, Catalogue()
        self._used: tuple[Commit | None, date, Catalogue] = None, date.min, Catalogue()

    def end(self) -> tuple[int, str]:
        """Number and link of the last line of the catalogue."""
        return self.context.books.head(CATALOGUE)

    @property
    def in_use(self) -> Catalogue:
        """The catalogue in use: the last one put to use whose day has come."""
        return self._used_on(
            self.context.books.last_entry(CATALOGUE, "catalogues"), self.context.now().date()
        )

    def _used_on(self, last: Commit | None, day: date) -> Catalogue:
        if last is not self._used[0] or day != self._used[1]:
            kept = records_in(Catalogue, [last.records] if last else ())
            self._used = last, day, in_use(kept, day)
        return self._used[2]

    def kept(self) -> list[Catalogue]:
        """The catalogue in use, and those that wait for their day; in the last commit of them."""
        last = self.context.books.last_entry(CATALOGUE, "catalogues")
        return records_in(Catalogue, [last.records] if last else ())

    def at(self, moment: datetime) -> Catalogue:
        """The catalogue that held at a moment, by when each was entered and by its day."""
        last, at = self.context.books.last_entry(CATALOGUE, "catalogues"), moment.timestamp()
        if last and at < (since := last.entered.timestamp()):
            now = self.context.now().timestamp()
            # A clock that was ahead entered it: it is in use all the same.
            if since <= now or at < now - CLOCKS_DIFFER.total_seconds():
                return at_of(self.every(), moment)
        return self._used_on(last, moment.astimezone(self.context.settings.zone).date())

    def every(self) -> list[Dated]:
        """All that were ever put to use, read once as long as none is added; one that waited came
        at midnight of the shop's zone."""
        last = self.context.books.last_entry(CATALOGUE, "catalogues")
        key = last.link if last else "", self.context.settings.zone
        if self._every[0] != key:
            entries = self.context.books.select(CATALOGUE, name="catalogues").entries()
            commits = ((one.entered, records_in(Catalogue, [one.records])) for one in entries)
            self._every = key, timeline(commits, self.context.settings.zone)
        return self._every[1]

    def with_left(self, found: Catalogue, products: Iterable[str]) -> Catalogue:
        gone = sorted({*products} - found.products.keys())
        return with_left(found, gone, [c for _, c in self.every()]) if gone else found

    def of(self, moment: datetime | None) -> Catalogue:
        """The catalogue as it stood at ``moment``, for names: with all that ever stood in one, so
        that everything a book speaks of has its name. None: now."""
        catalogues = self.every()
        key = self._every[0], moment or self.context.now().date()
        if self._named[0] != key:
            self._named = key, with_all(catalogues, moment or self.context.now())
        return self._named[1]

    def names(self) -> dict[str, str]:
        """Every product that was ever in the catalogue, by its last name."""
        return {key: product.name for key, product in self.of(None).products.items()}

    def tax_at(self, moment: datetime, now: datetime) -> Tax:
        """The taxes of a moment: of now, those of shop.toml; of one gone by, those that the books
        noted for it."""
        day = moment.astimezone(self.context.settings.zone).date()
        if moment is now or moment.timestamp() >= now.timestamp():
            return self.context.settings.tax.at(day)
        return tax_then(
            self._noted_tax(moment) or self.context.settings.tax, self.context.settings.tax, day
        )

    def _noted_tax(self, moment: datetime | None = None) -> Tax | None:
        """The taxes last noted, or last noted by a moment; for one before the first, the first."""
        last = self.context.last_of(SettingsChange)
        if last is None or last.tax is None:
            return None
        if moment is None or last.at.timestamp() <= moment.timestamp():
            return last.tax
        every = self.context.books.select(CATALOGUE, name="settings").find(
            "settings", SettingsChange
        )
        noted = [s for s in every if s.tax]
        before = [s for s in noted if s.at.timestamp() <= moment.timestamp()]
        return (before[-1] if before else noted[0]).tax

    def note_tax(self) -> None:
        """Let the books know taxes that somebody wrote into shop.toml, before a sale has them."""
        if self._noted_tax() != self.context.settings.tax:
            self.keep({})

    def keep(
        self, records: Mapping[str, Sequence[msgspec.Struct]], made: Catalogue | None = None
    ) -> None:
        """One commit into the catalogue book, with the catalogue ``made`` in it where there is one,
        and the taxes of shop.toml where they are not those last noted."""
        with self.context.books.exclusive():
            now = self.context.now()
            kept = dict(records)
            if made is not None:
                kept["catalogues"] = with_made(self.kept(), made, now.date())
            if (noted := self._noted_tax()) != (tax := self.context.settings.tax):
                kept.setdefault("settings", [SettingsChange(said_rates(noted, tax), now, tax=tax)])
            self.context.books.commit(CATALOGUE, kept, now)
