"""A shop folder opened: settings, catalogue, books and clock joined, and the one way to write.

Everything that is written goes through :meth:`Desk.writing`: take the shop's lock, read what other
processes appended, decide, append one line, fsync, release. A reader never takes the lock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Self

import msgspec

from counter.books import Books
from counter.books.folder import RESTORED
from counter.errors import BadInput, DaySealed, NotAShop, NotFound
from counter.shop.dated import Dated
from counter.shop.filing import Filing
from counter.trade.asking import Answer, Answers, Question, answered, still_open
from counter.trade.catalogue import Catalogue
from counter.trade.closing import Closing, Reopening, close_ledger
from counter.trade.corrections import Correction
from counter.trade.doubts import of_day
from counter.trade.drawer import DrawerMove
from counter.trade.ledger import Count, Ledger, Printed
from counter.trade.numbers import ABOUT, Least, check_answerer, least_after, question_of
from counter.trade.people import Pins
from counter.trade.production import Batch, Hold, Stops, lot_day
from counter.trade.refunds import Refund
from counter.trade.sales import Sale
from counter.trade.settings import Settings, SettingsChange, parse_settings
from counter.trade.stock import Carried
from counter.trade.temperatures import Temperature, ThermometerCheck
from counter.trade.tubs import Tub, TubCheck, TubEnded, TubOpened
from counter.trade.units import CLOCKS_DIFFER
from counter.trade.waste import Waste
from counter.trade.whereabouts import Move

TABLES: dict[str, type[msgspec.Struct]] = {
    "batches": Batch,
    "holds": Hold,
    "printed": Printed,
    "tubs": TubOpened,
    "checks": TubCheck,
    "ended": TubEnded,
    "sales": Sale,
    "refunds": Refund,
    "waste": Waste,
    "counts": Count,
    "drawer": DrawerMove,
    "temperatures": Temperature,
    "thermometers": ThermometerCheck,
    "moves": Move,
    "corrections": Correction,
    "answers": Answer,
    "catalogues": Catalogue,
    "confirmed": Answers,
    "pins": Pins,
    "settings": SettingsChange,
    "stops": Stops,
    "closings": Closing,
    "reopenings": Reopening,
}
LATEST_NOTE_DAYS = 31


class Entry:
    """What is about to be written in one commit, and the ledger it is decided on."""

    def __init__(self, ledger: Ledger, at: datetime, now: datetime, by: str) -> None:
        self.ledger, self.at, self.now, self.by = ledger, at, now, by
        self.records: dict[str, list[msgspec.Struct]] = {}
        self.questions: list[Question] = []

    @property
    def day(self) -> date:
        return self.ledger.day

    def add(self, table: str, record: msgspec.Struct) -> None:
        self.records.setdefault(table, []).append(record)

    def ask(self, *questions: Question) -> None:
        """Let a person say that it is so before it is written; the answers are written with it."""
        self.questions += questions


class Desk(Dated, Filing):
    """An opened shop: what every operation stands on.

    For one thread at a time: threads take turns, or open the shop once each. Processes need not
    know of each other.
    """

    def __init__(
        self,
        books: Books,
        settings: Settings,
        clock: Callable[[], datetime],
        folder: Path | None = None,
    ) -> None:
        super().__init__(books, settings, clock)
        self.folder = folder
        self.given: Mapping[str, str] = {}  # what whoever is at it now has answered, by its subject
        self.begun: date | None = None  # today, once its book was begun from here; whoever says so
        # to a person takes it away
        self._folded: list[tuple[date, int, Ledger]] = []
        self._base_line: object = None
        self._held: Mapping[str, Hold] = {}
        self._keys: dict[date, tuple[int, dict[str, Sale]]] = {}

    @classmethod
    def open(cls, folder: Path, clock: Callable[[], datetime] | None = None) -> Self:
        """Open a shop folder. NotAShop when there is none; BadInput names a slip in shop.toml."""
        file = folder / "shop.toml"
        tried = f"open shop '{folder}'"
        if not file.is_file():
            do = "Make one with `counter new DIR`, or name another with --shop DIR"
            raise NotAShop(tried, "there is no shop.toml in that folder", do)
        try:
            text = file.read_text("utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise NotAShop(tried, f"shop.toml cannot be read ({error})", "Mend the file") from None
        settings = parse_settings(text)
        books = Books.open(folder, TABLES)
        return cls(books, settings, clock or (lambda: datetime.now(settings.zone)), folder)

    @classmethod
    def memory(cls, settings: Settings, clock: Callable[[], datetime]) -> Self:
        """The same shop without files, for trying things out."""
        return cls(Books.memory(TABLES), settings, clock)

    # -- what the books say

    def for_sale(self, ledger: Ledger | None = None, at: datetime | None = None) -> Catalogue:
        """The catalogue of a moment with what is on hand of products that have left it, as it was
        last sold. Costs nothing where no product has left."""
        ledger = ledger or self.standing()
        found = self.catalogue_at(at or self.now())
        there = {row.lot.product for row in ledger.rows.values()}
        return self._with_left(found, there | {t.product for t in ledger.open_tubs()})

    def last_closing(self) -> Closing | Reopening | None:
        self.books.refresh()
        return self._closing_as_read()

    def _closing_as_read(self) -> Closing | Reopening | None:
        last = self.books.closings.last()
        assert last is None or isinstance(last, Closing | Reopening)
        return last

    def sealed_until(self) -> date | None:
        """The last day that is closed, or None."""
        self.books.refresh()
        return self._sealed_as_read()

    def _sealed_as_read(self) -> date | None:
        last = self._closing_as_read()
        if isinstance(last, Reopening):
            return last.sealed or last.day - timedelta(days=1)
        return last.day if last else None

    def ledger(self, day: date | None = None) -> Ledger:
        """The ledger of an open day, today if none is named. DaySealed for a closed one."""
        day = day or self.today()
        sealed = self.sealed_until()
        if sealed is not None and day <= sealed:
            do = "Write it into today's book, or reopen today with a reason"
            if sealed > self.today():
                do = f"Check the date of this computer, then reopen day {sealed} with a reason"
            why = f"days up to {sealed} are closed"
            raise DaySealed(f"write into day {day}", why, do, today=self.today())
        return self._fold(day)

    def standing(self) -> Ledger:
        """Today's ledger for looking only: once the day is closed, what it left."""
        self.books.refresh()
        return self._fold(self.today())

    def _fold(self, day: date) -> Ledger:
        """Fold the books of the open days in order, going on from what was folded before."""
        sealed = self._sealed_as_read()
        base = self.books.closings.last_n, self.books.catalogue.last_n
        first = sealed + timedelta(days=1) if sealed else None
        books = self.books.days(first, day)
        fresh = base != self._base_line or [d for d, _, _ in self._folded] != books[
            : len(self._folded)
        ]  # fmt: skip
        if fresh:
            self._folded, self._base_line, self._held = [], base, self.stops()
        for i, d in enumerate(books):
            if i == len(self._folded):
                self._folded.append((d, -1, self._begin(d)))
            _, upto, ledger = self._folded[i]
            last = self.books.day(d).last_n
            if last < upto:  # a line that was seen was withdrawn: its disk had refused it
                self._folded = []
                return self._fold(day)
            if last > upto and i < len(self._folded) - 1:
                # A late note in an earlier book changes what the later days began with.
                self._folded = self._folded[: i + 1]
            if last > upto:
                self._folded[i] = (d, self._take_in(ledger, upto), ledger)
        if day in books:
            return self._folded[books.index(day)][2]
        return self._begin(day)

    def _take_in(self, ledger: Ledger, upto: int) -> int:
        """Add the commits behind line ``upto`` to a ledger; the line it has come to."""
        try:
            for n, _, records in self.books.entries_since(ledger.day, upto):
                ledger.add(records)
                upto = n
        except BaseException:
            self._folded = []  # half a commit taken in would be taken in twice
            raise
        return upto

    def _begin(self, day: date) -> Ledger:
        """An empty ledger for ``day``, with what the day before it left."""
        before = [ledger for d, _, ledger in self._folded if d < day]
        coins = self.settings.coin_values
        if before:
            end = close_ledger(before[-1], self.now(), "", None, None, "", later=True)
            return Ledger(day, end.carried, end.tubs, end.cash.left, coins, end.places, self._held)
        last = self._closing_as_read()
        if last is None:
            return Ledger(day, cash=self.settings.float_minor, coins=coins, stops=self._held)
        carried: tuple[Carried, ...] = last.carried
        tubs: tuple[Tub, ...] = last.tubs
        cash = last.cash if isinstance(last, Reopening) else last.cash.left
        return Ledger(day, carried, tubs, cash, coins, last.places, self._held)

    # -- writing

    @contextmanager
    def writing(self, at: datetime | None = None, by: str = "") -> Iterator[Entry]:
        """One commit. What is added to the entry is written when the block ends without an error.

        ``at`` is when it happened, for what was noted on paper first.
        """
        with self.books.exclusive():
            now = self.now()
            moment = self.check_moment(at, now)
            entry = Entry(self.ledger(self.day_of(moment)), moment, now, by[:60])
            self.must_be_sound()
            self._ask_after_restore(entry.by)
            yield entry
            if not entry.records:
                return
            entry.ask(*self.doubts_of_day(entry.ledger, now))
            for answer in self.answered(entry.questions, entry.by):
                entry.add("answers", answer)
            begins = entry.day == self.day_of(now) and not self.books.days(entry.day, entry.day)
            holds = [h for h in entry.records.get("holds", ()) if isinstance(h, Hold)]
            self.keep_stops([h for h in holds if h.stopped], now, entry.by)
            self.books.commit(entry.day, entry.records, now)
            self.keep_stops([h for h in holds if not h.stopped], now, entry.by)
            if begins:
                self.begun = entry.day

    def doubts_of_day(self, ledger: Ledger, now: datetime) -> list[Question]:
        """What is to be asked before the first record of a day: whether it is that day at all.

        Today's book not begun and the newest book not that of yesterday, or the clock before the
        newest record of the newest book or of this day's: asked once a day, then it is answered.
        """
        day, days = ledger.day, self.books.days()
        if not days:
            return []
        begun = bool(self.books.days(day, day))
        books = [self.books.day(d) for d in {days[-1], day if begun else days[-1]}]
        lines = [entry.entered for book in books for entry in book.entries[-1:]]
        newest = max(lines, key=datetime.timestamp, default=now)
        ahead = newest.timestamp() > (now + CLOCKS_DIFFER).timestamp()
        skipped = not begun and day == self.day_of(now) and days[-1] < day - timedelta(days=1)
        closed = self._sealed_as_read() == days[-1]
        tried = f"write into day {day}"
        asked = of_day(
            day, now, days[-1] if skipped else None, closed, newest if ahead else None, tried
        )
        answered = {(a.about, a.basis) for a in ledger.answers}
        return [q for q in asked if (q.about, q.basis) not in answered]

    def _ask_after_restore(self, by: str) -> None:
        """Ask before the first writing after a restore which numbers are out, once."""
        mark = self.folder / RESTORED if self.folder else None
        if mark is None or not mark.exists():
            return
        first, _, token = mark.read_text("utf-8", "replace").strip().partition(" ")
        if ABOUT in self.given and self.books.catalogue.last("pins"):
            people = self.catalogue_as_read().staff.values()
            check_answerer(by, frozenset(p.name for p in people if p.role == "owner"))
        self.confirm([question_of(first, token)], by)
        mark.unlink(missing_ok=True)

    def least_numbers(self, day: date) -> Least:
        """Behind which numbers those of a day go on: nothing but after a restore."""
        last = self.books.catalogue.last("confirmed")
        answer = last.answers.get(ABOUT) if isinstance(last, Answers) else None
        return least_after(answer, day, self.day_of(answer.at)) if answer else Least()

    def answered(self, questions: Sequence[Question], by: str = "") -> list[Answer]:
        """The answers that were given to questions. Asked where one is left open."""
        return answered(questions, self.given, self.now(), by) if questions else []

    def confirmed(self) -> Mapping[str, Answer]:
        """The answers that go on to hold, by what they are about."""
        self.books.refresh()
        last = self.books.catalogue.last("confirmed")
        return last.answers if isinstance(last, Answers) else {}

    def confirm(self, questions: Sequence[Question], by: str = "") -> None:
        """Ask what is asked once, until what it rests on changes, and keep what is answered.

        Asked where somebody must answer yet.
        """
        known = self.confirmed()
        if not still_open(questions, known):
            return
        with self.books.exclusive():
            new = self.answered(still_open(questions, known), by[:60])
            now, answers = self.now(), {**known, **{a.about: a for a in new}}
            self.keep({"confirmed": [Answers(answers=answers, at=now, by=by[:60])]})

    def must_be_sound(self) -> None:
        """BookDamaged where something that is decided on cannot be read: before any other
        refusal, since what is missing may be its reason."""
        days = (self.books.day(day).journal for day, _, _ in self._folded)
        for journal in (self.books.catalogue, self.books.closings, *days):
            journal.must_be_sound()

    def check_moment(self, at: datetime | None, now: datetime) -> datetime:
        """``at`` if it can be, else ``now``; refuses the future and the far past."""
        if at is None:
            return now
        tried = f"note it for {at.isoformat(' ')[:16]}"
        if at.timestamp() > now.timestamp() + CLOCKS_DIFFER.total_seconds():
            raise BadInput(tried, f"it is only {now:%Y-%m-%d %H:%M}", "Write when it happened")
        if at.timestamp() < (now - timedelta(days=LATEST_NOTE_DAYS)).timestamp():
            raise BadInput(
                tried, f"that is more than {LATEST_NOTE_DAYS} days ago", "Check the date"
            )
        return at.astimezone(self.settings.zone)

    def records_of(self, day: date) -> list[Mapping[str, list[msgspec.Struct]]]:
        """All commits of a day book in order; empty where there is none."""
        if not self.books.days(day, day):
            return []
        return [records for _, _, records in self.books.entries_since(day, -1)]

    def days_of(self, lot: str, made: date) -> list[date]:
        """The days whose books may speak of a lot: the day it was made, the closed days whose
        closing names it, and the days still open. Read from the closings, not from the archive."""
        sealed = self.sealed_until()
        named = {made, *self.books.closings.find(lot.encode())}
        return [
            day for day in self.books.days(made) if (day in named or sealed is None or day > sealed)
        ]

    def batch(self, lot: str, tried: str = "") -> Batch:
        """A batch as last corrected, of any day. NotFound with near matches."""
        tried = tried or f"look up lot {lot}"
        ledger = self._fold(self.today())
        if lot in ledger.batches:
            return ledger.batches[lot]
        day = lot_day(lot)
        if day is None or not self.books.days(day, day):
            raise NotFound(tried, "lot", lot, ledger.rows)
        found: Batch | None = None
        for d in self.days_of(lot, day):
            for record in (r for c in self.records_of(d) for r in c.get("batches", ())):
                if isinstance(record, Batch) and record.lot == lot:
                    found = record
        if found is None:
            raise NotFound(tried, "lot", lot, ledger.rows)
        return found
