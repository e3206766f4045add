"""The books of a shop: catalogue, closings, and a book a day.

Everything is written inside ``with books.exclusive():`` and read without any lock. A reader sees
whole commits only, since a line without its end is not yet a line.
"""

from __future__ import annotations

import threading
from bisect import bisect_left, bisect_right
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Self

import msgspec

from counter.books.check import Checked, check_books, torn_notice
from counter.books.folder import DiskFolder, Folder, MemoryFolder
from counter.books.journal import Journal
from counter.books.lines import After, Entry, Records, Types
from counter.books.longbook import LongBook
from counter.books.tables import BookTables
from counter.errors import BookDamaged, NotAppendOnly, NotAShop

# About two weeks of full days, some 20 MiB as records. Older days are read again when asked for.
_KEPT_BYTES, _KEPT_BOOKS = 4 << 20, 400


class DayBook:
    """All that was written down on one trading day. It may not be begun yet."""

    def __init__(self, day: date, journal: Journal, commit: Callable[[date, Records], int]) -> None:
        self.day, self.journal = day, journal
        self._commit = commit
        self._db: BookTables | None = None

    @property
    def entries(self) -> list[Entry]:
        """All commits in order: (line number, when entered, {table: records})."""
        return self.journal.entries

    def records(self, table: str) -> list[msgspec.Struct]:
        """The records of one table in the order written."""
        return [r for entry in self.journal.entries for r in entry.records.get(table, ())]

    @property
    def db(self) -> BookTables:
        """The book as a TinyDB: documents, queries."""
        if self._db is None:
            self._db = BookTables(self.journal, lambda records: self._commit(self.day, records))
        return self._db

    @property
    def last_n(self) -> int:
        """The number of the last line; -1 for a book that is not begun."""
        return self.journal.last_n

    @property
    def last_link(self) -> str:
        """The link of the last line."""
        return self.journal.last_link

    @property
    def problem(self) -> BookDamaged | None:
        """The damage because of which this book can only be read, up to there; or None."""
        return self.journal.problem


class Books:
    """The books of one shop, on a disk or in memory."""

    def __init__(
        self,
        folder: Folder,
        types: Mapping[str, type[msgspec.Struct]],
        clock: Callable[[], datetime] | None = None,
    ) -> None:
        self._folder, self._types, self._clock = folder, Types(types), clock
        self._lock = folder.lock
        self._open: OrderedDict[date, DayBook] = OrderedDict()
        self._shelf = threading.Lock()
        # Nobody else writes while we hold the lock: what was looked at once in a section stays so.
        self._current: set[Journal] = set()
        self._days: list[date] | None = None
        self.catalogue = LongBook(folder.file("catalogue"), "catalogue", self._types)
        self.closings = LongBook(folder.file("closings"), "closings", self._types)

    @classmethod
    def open(
        cls,
        folder: Path,
        types: Mapping[str, type[msgspec.Struct]],
        clock: Callable[[], datetime] | None = None,
    ) -> Self:
        """Open the books in a shop folder. Nothing is written by opening.

        ``types`` says which record stands in which table. ``clock`` is needed only to insert
        through TinyDB, where nobody can say when something was entered.
        """
        if not folder.is_dir():
            do = "Name a shop folder, or make one with `counter new DIR`"
            raise NotAShop(f"open shop '{folder}'", "there is no such folder", do)
        return cls(DiskFolder(folder), types, clock)

    @classmethod
    def memory(
        cls,
        types: Mapping[str, type[msgspec.Struct]],
        clock: Callable[[], datetime] | None = None,
    ) -> Self:
        """The same books without files."""
        return cls(MemoryFolder(), types, clock)

    def close(self) -> None:
        """Let go of all files. The books can be used on; they are opened again then."""
        with self._lock:
            for journal in self._journals():
                journal.close()
        self._lock.close()

    # -- reading

    def refresh(self) -> None:
        """Read what other processes appended to the long books; day books do so when asked for."""
        if self._lock.held:  # on entering the section they were brought up
            return
        self.catalogue.catch_up()
        self.closings.catch_up()

    def days(self, first: date | None = None, last: date | None = None) -> list[date]:
        """The days that have a book, sorted; from ``first`` to ``last``, both included, if given.

        Known from the file names alone. The list without bounds is shared: do not change it.
        """
        held = self._lock.held
        days = self._days if held and self._days is not None else self._folder.days()
        if held:
            self._days = days
        if first is None and last is None:
            return days  # ten years of dates are not copied at every sale
        start = bisect_left(days, first) if first else 0
        return days[start : bisect_right(days, last) if last else len(days)]

    def day(self, day: date) -> DayBook:
        """A day's book as it stands now, with what others appended. Damaged ones open too."""
        with self._shelf:
            book = self._open.get(day)
            if book is not None:
                self._open.move_to_end(day)
        if book is None:
            journal = Journal(self._folder.file(day.isoformat()), day.isoformat(), self._types)
            book = self._put_on_shelf(DayBook(day, journal, self._insert))
        if self._lock.held:
            self._bring_up(book.journal)
        else:
            book.journal.catch_up()
        return book

    def days_with(
        self, needle: bytes, first: date | None = None, last: date | None = None
    ) -> list[date]:
        """The days whose book contains these bytes, whatever their capital letters (ASCII).

        A search through raw bytes: it may name a day too many, never one too few.
        """
        wanted, found = needle.lower(), []
        for day in self.days(first, last):
            file = self._folder.file(day.isoformat())
            if wanted in file.read(0, file.look().size).lower():
                found.append(day)
            file.close()
        return found

    def entries_since(self, day: date, n: int) -> list[Entry]:
        """The commits of a day behind line ``n``; all of them for -1 or 0."""
        return self.day(day).entries[max(n, 0) :]

    @property
    def notices(self) -> list[str]:
        """What the keeper of the shop should know: set-aside lines, damaged books in use."""
        problems = [str(j.problem) for j in self._journals() if j.problem is not None]
        return problems + [torn_notice(name) for name in self._folder.torn()]

    def check(self, progress: Callable[[int, int], None] | None = None) -> Checked:
        """Verify every line of every book; see :func:`counter.books.check.check_books`."""
        return check_books(self._folder, self._types, progress)

    # -- writing

    @contextmanager
    def exclusive(self) -> Iterator[None]:
        """Be the only writer, among threads and processes; re-entrant in a thread.

        On entering, what others appended is read, and a line torn by a power cut is set aside.
        """
        with self._lock as outermost:
            if outermost:
                self._days, self._current = None, set()
                for journal in self._journals():
                    self._bring_up(journal)
            yield

    def commit(
        self, day: date, records: Mapping[str, Sequence[msgspec.Struct]], entered: datetime
    ) -> int:
        """Write one line into a day's book, beginning the book when it is new.

        Returns the line number once the disk has it. Raises BookDamaged, DiskRefused or
        BooksError; then nothing has changed.
        """
        return self._write(day, records, entered)

    def commit_catalogue(
        self, records: Mapping[str, Sequence[msgspec.Struct]], entered: datetime
    ) -> int:
        """Write one line into the catalogue; as :meth:`commit`."""
        with self.exclusive():
            self._must_be_sound()
            return self.catalogue.append(records, entered, caught_up=True)

    def commit_closing(
        self, records: Mapping[str, Sequence[msgspec.Struct]], entered: datetime
    ) -> int:
        """Write one line into the closings; as :meth:`commit`."""
        with self.exclusive():
            self._must_be_sound()
            return self.closings.append(records, entered, caught_up=True)

    # -- within

    def _write(self, day: date, records: Records, entered: datetime) -> int:
        if not self._lock.held:
            with self.exclusive():
                return self._write(day, records, entered)
        journal = self.day(day).journal
        self._must_be_sound()
        if journal.last_n >= 0:
            return journal.append(records, entered, caught_up=True)
        n = journal.append(records, entered, self._line_before(day), caught_up=True)
        self._days = None
        return n

    def _bring_up(self, journal: Journal) -> None:
        """Catch up once in a section. The caller holds the lock."""
        if journal not in self._current:
            journal.catch_up(writing=True)
            self._current.add(journal)

    def _line_before(self, day: date) -> After | None:
        """The last line of the book before a new one; a book that was never begun has none."""
        for before in reversed(self.days(last=day)):
            if before == day:
                continue
            book = before.isoformat()
            journal = Journal(self._folder.file(book), book, self._types, tail_only=True)
            journal.catch_up(writing=True)
            journal.close()
            journal.must_be_sound()
            if journal.last_n >= 0:
                return After(book, journal.last_n, journal.last_link)
        return None

    def _insert(self, day: date, records: Records) -> int:
        if self._clock is None:
            do = "Write with Books.commit, or open the books with a clock"
            raise NotAppendOnly(f"insert into {', '.join(records)}", "no clock was given", do)
        return self._write(day, records, self._clock())

    def _must_be_sound(self) -> None:
        """Refuse to write where what is being decided on may be damaged: the long books and the
        days from the last closing on. Damage in the archive does not stop the counter."""
        if all(journal.problem is None for journal in self._journals()):
            return
        self.catalogue.must_be_sound()
        self.closings.must_be_sound()
        closed: date | None = getattr(self.closings.last(), "day", None)
        with self._shelf:
            books = list(self._open.items())
        for day, book in books:
            if closed is None or day >= closed:
                book.journal.must_be_sound()

    def _journals(self) -> list[Journal]:
        with self._shelf:
            books = list(self._open.values())
        return [self.catalogue, self.closings, *(book.journal for book in books)]

    def _put_on_shelf(self, book: DayBook) -> DayBook:
        """Keep an opened book, and put back those not asked for lately when it gets too much."""
        with self._shelf:
            book = self._open.setdefault(book.day, book)
            size = sum(b.journal.size for b in self._open.values())
            while (size > _KEPT_BYTES and len(self._open) > 2) or len(self._open) > _KEPT_BOOKS:
                _, old = self._open.popitem(last=False)
                size -= old.journal.size
                old.journal.close()
            return book
