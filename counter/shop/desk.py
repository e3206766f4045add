"""A shop folder opened: settings, catalogue, books and clock joined, and the one way to write.

Everything that is written goes through :meth:`Desk.writing`: one transaction in which what others
wrote is read, decided on, and a line appended. A reader waits for nobody.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Self

import msgspec
from tinydb import where

from counter.books import CATALOGUE, CLOSINGS, Books
from counter.books.engine import RESTORED
from counter.errors import BadInput, DaySealed, NotAShop, NotFound
from counter.shop.catalogues import Catalogues
from counter.shop.context import Context
from counter.shop.files import Files
from counter.shop.questions import Questions
from counter.shop.stops import StopBook
from counter.shop.tables import found_by
from counter.trade.asking import Question, still_open
from counter.trade.catalogue import Catalogue
from counter.trade.closing import Closing, Reopening, begin_day, close_ledger
from counter.trade.doubts import of_day
from counter.trade.ledger import Ledger
from counter.trade.mendings import Mending
from counter.trade.numbers import ABOUT, Least, check_answerer, least_after, question_of
from counter.trade.people import Pins
from counter.trade.production import Batch, Hold
from counter.trade.sales import Sale
from counter.trade.settings import Settings, parse_settings
from counter.trade.tables import TABLES, Record, records_in, table_of
from counter.trade.units import CLOCKS_DIFFER
from counter.trade.waste import Reason, Waste
from labels.say import NOTHING, Said, say

LATEST_NOTE_DAYS = 31


def settings_in(folder: Path) -> Settings:
    """The settings of a shop folder. NotAShop when there is none; BadInput names a slip."""
    file = folder / "shop.toml"
    tried = say("open shop '{text}'", text=folder)
    if not file.is_file():
        do = say("Make one with `counter new DIR`, or name another with --shop DIR")
        raise NotAShop(tried, say("there is no shop.toml in that folder"), do)
    try:
        return parse_settings(file.read_text("utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise NotAShop(
            tried, say("shop.toml cannot be read ({why})", why=error), say("Mend the file")
        ) from None


class Entry:
    """What is about to be written in one commit, and the ledger it is decided on."""

    def __init__(self, ledger: Ledger, at: datetime, now: datetime, by: str) -> None:
        self.ledger, self.day, self.at, self.now, self.by = ledger, ledger.day, at, now, by
        self.records: dict[str, list[msgspec.Struct]] = {}
        self.questions: list[Question] = []

    def add(self, record: Record) -> Record:
        """Write a record, in the table of its type."""
        self.records.setdefault(table_of(type(record)), []).append(record)
        return record

    def waste(
        self, lot: str, amount: int, reason: Reason, *, words: Said = NOTHING, tub: str = ""
    ) -> Waste:
        """Write down that so much of a lot is gone."""
        return self.add(
            Waste(
                lot=lot, amount=amount, reason=reason, at=self.at, words=words, tub=tub, by=self.by
            )
        )

    def ask(self, *questions: Question) -> None:
        """Let a person say that it is so before it is written; the answers are written with it."""
        self.questions += questions


class Desk:
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
        self.context = context = Context(books, settings, clock)
        self.books, self.now, self.today, self.day_of = (
            books,
            context.now,
            context.today,
            context.day_of,
        )
        self.recorded, self.last_of = context.recorded, context.last_of
        self.catalogues = Catalogues(context)
        self.stops, self.questions = StopBook(self.catalogues), Questions(self.catalogues)
        self.folder, self.files = folder, Files(folder)
        self.begun: date | None = None  # today, once its book was begun from here; whoever says so
        # to a person takes it away
        self.folded: list[tuple[date, tuple[int, str], Ledger]] = []
        self._base: object = None
        self._elsewhere: object = None
        self._held: Mapping[str, Hold] = {}
        self._restored = folder / RESTORED if folder and (folder / RESTORED).exists() else None

    @classmethod
    def open(cls, folder: Path, clock: Callable[[], datetime] | None = None) -> Self:
        """Open a shop folder. NotAShop when there is none; BadInput names a slip in shop.toml."""
        settings = settings_in(folder)
        books = Books.open(folder, TABLES, found_by)
        return cls(books, settings, clock or (lambda: datetime.now(settings.zone)), folder)

    @classmethod
    def memory(cls, settings: Settings, clock: Callable[[], datetime]) -> Self:
        """The same shop without files, for trying things out."""
        return cls(Books.memory(TABLES, found_by), settings, clock)

    @property
    def settings(self) -> Settings:
        """The settings as they are now."""
        return self.context.settings

    @settings.setter
    def settings(self, settings: Settings) -> None:
        self.context.settings = settings

    @property
    def catalogue(self) -> Catalogue:
        """The catalogue in use: the last one put to use whose day has come."""
        return self.catalogues.in_use

    def second_face(self) -> Path | None:
        """The shop's own face, ``[fonts] second``, for what the house face cannot write."""
        name = self.settings.fonts.get("second", "")
        return (self.folder or Path()) / name if name else None

    # -- what the books say

    def for_sale(self, ledger: Ledger | None = None, at: datetime | None = None) -> Catalogue:
        """The catalogue of a moment with what is on hand of products that have left it, as it was
        last sold. Costs nothing where no product has left."""
        ledger = ledger or self.standing()
        found = self.catalogues.at(at or self.now())
        return self.catalogues.with_left(found, ledger.by_product)

    def ends(self) -> tuple[object, ...]:
        """Where the books that a shelf is laid from end: it is another one when these are."""
        days = self.books.days(self.first_open())
        ends = tuple((day, self.books.head(str(day))) for day in days)
        return self.catalogues.end(), self.books.head(CLOSINGS), ends

    def last_closing(self) -> Closing | Reopening | None:
        """What the closings say last."""
        last = self.books.last_entry(CLOSINGS)
        record = [r for rows in last.records.values() for r in rows][-1] if last else None
        assert record is None or isinstance(record, Closing | Reopening)
        return record

    def sealed_until(self) -> date | None:
        """The last day that is closed, or None."""
        last = self.last_closing()
        if isinstance(last, Reopening):
            return last.sealed or last.day - timedelta(days=1)
        return last.day if last else None

    def first_open(self) -> date | None:
        """The day behind the last closed one, or None where none is closed."""
        sealed = self.sealed_until()
        return sealed + timedelta(days=1) if sealed else None

    def is_closed(self, day: date) -> bool:
        sealed = self.sealed_until()
        return sealed is not None and day <= sealed

    def must_have_book(self, day: date, tried: Said) -> None:
        """NotFound for a day of which nothing was written down."""
        if not self.books.days(day, day):
            raise no_book(self.books, day, tried)

    def ledger(self, day: date | None = None) -> Ledger:
        """The ledger of an open day, today if none is named. DaySealed for a closed one."""
        day = day or self.today()
        sealed = self.sealed_until()
        if sealed is not None and day <= sealed:
            do = say("Write it into today's book, or reopen today with a reason")
            if sealed > self.today():
                do = say(
                    "Check the date of this computer, then reopen day {date} with a reason",
                    date=sealed,
                )
            why = say("days up to {date} are closed", date=sealed)
            raise DaySealed(say("write into day {date}", date=day), why, do, today=self.today())
        return self.fold(day)

    def standing(self) -> Ledger:
        """Today's ledger for looking only: once the day is closed, what it left."""
        return self.fold(self.today())

    def fold(self, day: date) -> Ledger:
        """Fold the books of the open days in order, going on from what was folded before."""
        head = self.books.head(str(day))
        # As many lines elsewhere as when it was folded last, as at nearly every sale: nothing else
        # can be another than it was.
        elsewhere = day, self.books.epoch, self.books.end()[0] - head[0]
        if self.folded and elsewhere == self._elsewhere:
            _, (line, _), ledger = self.folded.pop()
            self._take_in(ledger, line, head[0])
            self.folded.append((day, head, ledger))
            return ledger
        self._elsewhere = None
        stops = self.books.last_entry(CATALOGUE, "stops")
        base = self.books.head(CLOSINGS), stops.link if stops else ""
        days = self.books.days(self.first_open(), day)
        if base != self._base or not self._still_there(days):
            self.folded, self._base, self._held = [], base, self.stops.last()
        for i, d in enumerate(days):
            if i == len(self.folded):
                self.folded.append((d, (0, ""), self._begin(d)))
            _, (line, link), ledger = self.folded[i]
            head = self.books.head(str(d))
            if head == (line, link):
                continue
            # A late note in an earlier book changes what the later days began with.
            self.folded = self.folded[: i + 1]
            self._take_in(ledger, line, head[0])
            self.folded[i] = d, head, ledger
        if day not in days:
            return self._begin(day)
        self._elsewhere = elsewhere
        return self.folded[-1][2]

    def _still_there(self, days: Sequence[date]) -> bool:
        """Whether what was folded is still in the books: a line that was seen may have been taken
        back, its disk having refused it."""
        known = self.folded
        ends = ((str(d), end) for d, end, _ in known if end[0])
        alike = [d for d, _, _ in known] == days[: len(known)]
        return alike and all(self.books.link_at(d, line) == link for d, (line, link) in ends)

    def _take_in(self, ledger: Ledger, after: int, last: int) -> None:
        """Add the commits behind a line to a ledger, up to the ``last`` one known: another program
        may be writing."""
        try:
            for entry in self.books.entries(str(ledger.day), after):
                if entry.n <= last:
                    ledger.add(entry.records)
        except BaseException:
            self.folded = []  # half a commit taken in would be taken in twice
            raise

    def _begin(self, day: date) -> Ledger:
        """An empty ledger for ``day``, with what the day before it left."""
        folded = [ledger for d, _, ledger in self.folded if d < day]
        before = self.last_closing()
        if folded:
            before = close_ledger(folded[-1], self.now(), "", None, None, "", later=True)
        usual, coins = self.settings.cash.float, self.settings.cash.coins
        return begin_day(day, before, usual, coins, self._held)

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
            self._ask_after_restore(entry.by)
            yield entry
            if not entry.records:
                return
            entry.ask(*self.doubts_of_day(entry.ledger, now))
            for answer in self.questions.answered(entry.questions, entry.by):
                entry.add(answer)
            begins = not self.books.head(str(entry.day))[0] and entry.day == self.day_of(now)
            holds = records_in(Hold, [entry.records])
            self.stops.keep(holds, now, entry.by)
            self.books.commit(str(entry.day), entry.records, now)
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
        last = self.books.last_entry(str(day)) if days[-1] == day else None
        if last and last.entered.timestamp() <= now.timestamp():
            return []  # as at nearly every sale
        begun = bool(self.books.days(day, day))
        ends = [self.books.last_entry(str(d)) for d in {days[-1], day if begun else days[-1]}]
        newest = max((end.entered for end in ends if end), key=datetime.timestamp, default=now)
        ahead = newest.timestamp() > (now + CLOCKS_DIFFER).timestamp()
        skipped = not begun and day == self.day_of(now) and days[-1] < day - timedelta(days=1)
        closed = self.sealed_until() == days[-1]
        tried = say("write into day {date}", date=day)
        asked = of_day(
            day, now, days[-1] if skipped else None, closed, newest if ahead else None, tried
        )
        answered = {(a.about, a.basis) for a in ledger.answers}
        return [q for q in asked if (q.about, q.basis) not in answered]

    def _ask_after_restore(self, by: str) -> None:
        """Ask before the first writing after a restore which numbers are out, once."""
        mark = self._restored
        if mark is None or not mark.exists():
            return
        first, _, token = mark.read_text("utf-8", "replace").strip().partition(" ")
        question = question_of(first, token)
        if not still_open([question], self.questions.confirmed()):
            mark.unlink(missing_ok=True)  # the answer is on the disk
            self._restored = None
            return
        if ABOUT in self.questions.given and self.last_of(Pins):
            people = self.catalogue.staff.values()
            check_answerer(by, frozenset(p.name for p in people if p.role == "owner"))
        self.questions.confirm([question], by)

    def least_numbers(self, day: date) -> Least:
        """Behind which numbers those of a day go on: nothing but after a restore or a mending."""
        answer = self.questions.confirmed().get(ABOUT)
        least = least_after(answer, day, self.day_of(answer.at)) if answer else Least()
        mended = self.last_of(Mending)
        if mended and (own := mended.least.get(str(day))):
            pairs = zip(msgspec.structs.astuple(least), msgspec.structs.astuple(own), strict=True)
            return Least(*map(max, pairs))
        return least

    def check_moment(self, at: datetime | None, now: datetime) -> datetime:
        """``at`` if it can be, else ``now``; refuses the future and the far past."""
        if at is None:
            return now
        tried = say("note it for {date}", date=at.isoformat(" ")[:16])
        if at.timestamp() > now.timestamp() + CLOCKS_DIFFER.total_seconds():
            raise BadInput(
                tried,
                say("it is only {moment}", moment=f"{now:%Y-%m-%d %H:%M}"),
                say("Write when it happened"),
            )
        if at.timestamp() < (now - timedelta(days=LATEST_NOTE_DAYS)).timestamp():
            raise BadInput(
                tried,
                say("that is more than {n} days ago", n=LATEST_NOTE_DAYS),
                say("Check the date"),
            )
        return at.astimezone(self.settings.zone)

    def records_of(self, day: date) -> list[Mapping[str, list[msgspec.Struct]]]:
        """All commits of a day book in order; empty where there is none."""
        return [entry.records for entry in self.books.entries(str(day))]

    def days_of(self, lot: str, made: date) -> list[date]:
        """The days whose books may speak of a lot: those that name it, those whose closing
        does, and the days still open, on which it may have been sold without being named."""
        closings = self.books.select(CLOSINGS, name=lot).find("closings", Closing)
        closed = {str(c.day) for c in closings}
        named = {*self.books.books_naming(lot), *closed}
        open_from = self.first_open() or date.min
        return [d for d in self.books.days(made) if str(d) in named or d >= open_from]

    def batch(self, lot: str, tried: Said = NOTHING) -> Batch:
        """A batch as last corrected, of any day. NotFound with near matches."""
        tried = tried or say("look up lot {lot}", lot=lot)
        ledger = self.fold(self.today())
        if lot in ledger.batches:
            return ledger.batches[lot]
        days = self.books.select(until="a", about=lot)
        batches = days.find("batches", Batch, where("lot") == lot)
        if not batches:
            raise NotFound(tried, "lot", lot, ledger.rows)
        return batches[-1]

    def sale_numbered(self, number: str) -> Sale | None:
        """A booked sale by its number, of any day; None where there is none."""
        book = self.books.select(number.partition("/")[0] or "?", about=f'{number}"')
        found = book.find("sales", Sale, where("number") == number)
        return found[0] if found else None


def no_book(books: Books, day: date, tried: Said) -> NotFound:
    """There is no book of a day; the last ones there are."""
    return NotFound(tried, "day book", str(day), map(str, books.days()[-3:]))
