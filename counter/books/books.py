"""The books of a shop: a line a commit, in the catalogue, the closings, or the book of a day.

Everything is written inside ``with books.exclusive():``, one transaction, synced when it ends.
What is read there is what stands in the file at that moment; outside it may be a moment older.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import date, datetime
from pathlib import Path
from threading import get_ident
from typing import Any, Self
from weakref import proxy

import msgspec

from counter.books.engine import FILE, MEND, Engine
from counter.books.files import keep_private
from counter.books.lines import ORIGIN, Entry, Line, Misfit, Records, Types, link_of
from counter.books.tables import LINES, BookTables
from counter.errors import BookDamaged, BooksError, NotAppendOnly, NotAShop
from labels.say import Said, say

CATALOGUE, CLOSINGS = "catalogue", "closings"
_SPEAKING = """ AND l.book IN (SELECT book FROM lines
WHERE n IN (SELECT n FROM names WHERE name = ?))"""
_INSERT = "INSERT INTO lines (n, book, line, link, body) VALUES (?, ?, ?, ?, ?)"


class Found(msgspec.Struct, frozen=True):
    """What a line is found by later: keys that stand once for ever, names of any kind, and what its
    book speaks of, of which the first line to do so is noted: a sale costs no index page more."""

    keys: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    spoken: tuple[str, ...] = ()


Finder = Callable[[str, Records, bytes], Found]


class Books:
    """The books of one shop, on a disk or in memory.

    ``types`` says which record stands in which table, ``finder`` what a line is found by, and
    ``clock`` is needed only to insert a record where nobody says when it was entered.
    """

    def __init__(
        self,
        engine: Engine,
        types: Mapping[str, type[msgspec.Struct]],
        finder: Finder | None = None,
        clock: Callable[[], datetime] | None = None,
    ) -> None:
        self.engine, self.types, self.finder, self._clock = engine, Types(types), finder, clock
        self._epoch = -1
        self.fault: BookDamaged | None = None  # why nothing is written: what was seen at a look
        self.moves = 0  # how often the files had to be looked at
        self._days: list[date] | None = None
        self._heads: dict[str, tuple[int, str]] = {}
        self._end: tuple[int, str] | None = None  # of the whole: number and link of the last line
        self._lasts: dict[tuple[str, str], Entry | None] = {}
        self._written: dict[str, Entry] = {}
        self._spoken: dict[str, set[str]] = {}
        self._writer = 0  # the thread whose transaction is open
        self._fresh: list[Line] = []  # written in it
        self.program = ""  # who writes, where nobody resends what it was cut off from answering
        self.untold = False  # whether that program wrote something
        # A circle would keep the file open until somebody collects it.
        me = proxy(self)
        self._lines = BookTables(engine, self.types, "ORDER BY l.n", insert=lambda d: me._insert(d))

    @classmethod
    def open(
        cls,
        folder: Path,
        types: Mapping[str, type[msgspec.Struct]],
        finder: Finder | None = None,
        clock: Callable[[], datetime] | None = None,
    ) -> Self:
        """Open the books in a shop folder. NotAShop where there are none."""
        tried = say("open shop '{text}'", text=folder)
        if not folder.is_dir():
            do = say("Name a shop folder, or make one with `counter new DIR`")
            raise NotAShop(tried, say("there is no such folder"), do)
        if cls.are_of_old(folder):
            why = say("its books are text files of a program that was never released")
            raise NotAShop(tried, why, say("Make a new shop with `counter new DIR`"))
        if not (folder / FILE).exists():
            do = say(
                "Bring it back with `counter mend`, or put a backup back with `counter restore`"
            )
            raise NotAShop(tried, say("{file} is missing in it", file=FILE), do)
        keep_private(folder)
        return cls(Engine(folder), types, finder, clock)

    @staticmethod
    def are_of_old(folder: Path) -> bool:
        """Whether a folder holds the text books of before the first release."""
        return (folder / "catalogue.jsonl").exists() or (folder / "days").is_dir()

    @classmethod
    def create(cls, folder: Path) -> None:
        """Begin the books of a new shop in its folder. Raises DiskRefused."""
        Engine(folder).create()

    @classmethod
    def memory(
        cls,
        types: Mapping[str, type[msgspec.Struct]],
        finder: Finder | None = None,
        clock: Callable[[], datetime] | None = None,
    ) -> Self:
        """The same books without files."""
        return cls(Engine(None), types, finder, clock)

    def close(self) -> None:
        """Let go of the file. The books can be used on; it is opened again then."""
        self.engine.close()

    # -- reading

    @property
    def epoch(self) -> int:
        """A number that stays as long as nothing but what this program wrote has been added."""
        return self._epoch

    def refresh(self) -> int:
        """Look whether another program wrote, some microseconds; :attr:`epoch` after it."""
        # Nobody else writes while this thread does. Another thread waits its turn.
        return self._epoch if self._writer == get_ident() else self._look()

    def _look(self) -> int:
        epoch = self.engine.look()
        if epoch != self._epoch:
            self._forget(epoch)
        if self.engine.moved or self.fault:  # what a disk refused once may be well again
            from counter.books.check import open_lines_damaged

            self.moves += self.engine.moved
            self.engine.moved, self.fault = False, None
            try:
                self.fault = open_lines_damaged(self)
            except BooksError:
                self.engine.moved = True
                raise
        return epoch

    def select(
        self,
        book: str = "",
        after: int = 0,
        *,
        until: str = "",
        name: str = "",
        key: str = "",
        to: str = "",
        about: str = "",
    ) -> BookTables:
        """The lines that an index leads to, as a TinyDB: the commits in table ``lines``, and each
        table of records. In the order written; those of a span of days day by day.

        ``book`` alone is one book, from behind line ``after`` on; with ``until`` all of that span
        of days. ``name`` is what a finder named, with ``to`` all names up to that; ``key`` a key;
        ``about`` a text in quotes that begins so, in the books that speak of it. Each may be
        bounded by books.
        """
        clauses, values = list[str](), list[object]()
        order = "l.n" if (name or key) and not until else "l.book, l.line"
        if until:
            clauses.append("l.book BETWEEN ? AND ?")
            values += [book, until]
        elif book:
            clauses.append("l.book = ? AND l.line > ?")
            values += [book, after]
        if name:
            clauses.append("l.n IN (SELECT n FROM names WHERE name BETWEEN ? AND ?)")
            values += [name, to or name]
        if about:
            clauses.append(f"instr(l.body, ?){'' if book and not until else _SPEAKING}")
            values += [f'"{about}', *([] if book and not until else [about])]
        if key:
            clauses.append("l.n = (SELECT n FROM keys WHERE key = ?)")
            values.append(key)
        sql = f"WHERE {' AND '.join(clauses) or '1'} ORDER BY {order}"
        return BookTables(self.engine, self.types, sql, values)

    def entries(self, book: str, after: int = 0) -> list[Entry]:
        """The commits of a book behind line ``after``, in order."""
        line, _ = self.head(book)
        if line <= after:
            return []
        written = self._written.get(book)
        if written is not None and line == written.n == after + 1:
            return [written]  # what this program has just written it need not read
        # Others may have written since: what is behind the head is taken in with the next look.
        return [entry for entry in self.select(book, after).entries() if entry.n <= line]

    # Numbers and links of lines are no records: the engine is asked for them, by its indices, where
    # a document would have to be read and proved to say no more (a sale asks some ten times).

    def days(self, first: date | None = None, last: date | None = None) -> list[date]:
        """The days that have a book, sorted; from ``first`` to ``last``, both included, if given.
        The list without bounds is shared: do not change it."""
        self.refresh()
        if self._days is None:
            rows = self.engine.rows(
                "SELECT book FROM lines INDEXED BY begun WHERE line = 1 AND book < 'a'"
            )
            self._days = sorted(date.fromisoformat(book.decode()) for (book,) in rows)
        if first is None and last is None:
            return self._days  # ten years of dates are not copied at every sale
        start = bisect_left(self._days, first) if first else 0
        return self._days[start : bisect_right(self._days, last) if last else len(self._days)]

    def head(self, book: str) -> tuple[int, str]:
        """Number and link of the last line of a book; (0, "") for one that is not begun."""
        self.refresh()
        if book not in self._heads:
            self._heads[book] = self._ends("line", "book = ? ORDER BY line DESC", book)
        return self._heads[book]

    def end(self) -> tuple[int, str]:
        """Number and link of the last line of all."""
        self.refresh()
        if self._end is None:
            n, link = self._ends("n", "1 ORDER BY n DESC")
            self._end = n, link or ORIGIN
        return self._end

    def link_at(self, book: str, line: int) -> str:
        """The link of a line of a book; "" where there is none."""
        return self._ends("line", "book = ? AND line = ?", book, line)[1]

    def link_of(self, n: int) -> str:
        """The link of the n-th line of the shop; "" where there is none."""
        return self._ends("n", "n = ?", n)[1]

    def _ends(self, number: str, where: str, *values: object) -> tuple[int, str]:
        rows = self.engine.rows(f"SELECT {number}, link FROM lines WHERE {where} LIMIT 1", values)
        return (rows[0][0], rows[0][1].hex()) if rows else (0, "")

    def last_entry(self, book: str, name: str = "") -> Entry | None:
        """The last commit of a book, or the last one that a finder gave this name."""
        self.refresh()
        if (book, name) not in self._lasts:
            within = " AND n IN (SELECT n FROM names WHERE name = ?)" if name else ""
            sql = f"SELECT line FROM lines WHERE book = ?{within} ORDER BY line DESC LIMIT 1"
            rows = self.engine.rows(sql, [book, name] if name else [book])
            found = self.select(book, rows[0][0] - 1).entries()[:1] if rows else []
            self._lasts[book, name] = found[0] if found else None
        return self._lasts[book, name]

    def last(self, table: str) -> msgspec.Struct | None:
        """The record written last into a table of the catalogue."""
        entry = self.last_entry(CATALOGUE, table)
        return entry.records[table][-1] if entry else None

    def books_naming(self, name: str) -> list[str]:
        """The books that a name stands in, sorted."""
        sql = "SELECT DISTINCT book FROM lines WHERE n IN (SELECT n FROM names WHERE name = ?)"
        return sorted(book.decode() for (book,) in self.engine.rows(sql, [name]))

    def keyed(self, key: str) -> Entry | None:
        """The commit that holds a key, of whatever year, on the disk for sure; None for a new one.
        Raises DiskRefused where the disk does not say."""
        if not key:
            return None
        if not self.engine.rows("SELECT 1 FROM keys WHERE key = ?", [key]):
            return None
        self.engine.prove()
        if found := self.select(key=key).entries():
            return found[0]
        why = say("the line that key '{key}' leads to is gone", key=key)
        raise BookDamaged(say("look up a sale"), why, MEND, book=FILE, line=0)

    @property
    def notices(self) -> list[Said]:
        """What the keeper of the shop should know of the disk and the books."""
        with suppress(BooksError):
            self.refresh()
        return [error.said for error in (self.engine.refused, self.fault) if error]

    # -- writing

    @contextmanager
    def exclusive(self) -> Iterator[None]:
        """One transaction: be the only writer, among threads and programs; re-entrant in a thread.

        All that was written in it is on the disk when it ends, or nothing is.
        """
        outermost = self.engine.begin()
        try:
            if outermost:
                self._fresh = []
                self._look()
                if self.fault:
                    raise self.fault
                self._writer = get_ident()
            yield
        except BaseException:
            self._writer = 0 if outermost else self._writer
            self.engine.end(keep=False)
            raise
        self._writer = 0 if outermost else self._writer
        self.engine.end(keep=True)
        if outermost and self._fresh:
            last = self._fresh[-1]
            self.engine.witness(last.n, last.link)

    @property
    def lines(self) -> BookTables:
        """All lines as a TinyDB; what is inserted into its table ``lines`` is one commit:
        ``{"book": …, "entered": …, "records": {table: records}}``."""
        return self._lines

    def commit(self, book: str, records: Records, entered: datetime) -> Entry:
        """Write one line into a book; what it reads as. Raises BooksError; then nothing changed."""
        document = {"book": book, "entered": entered, "records": records}
        self._lines.table(LINES).insert(document)
        return self._written[book]

    def unanswered(self) -> dict[str, list[Entry]]:
        """Program -> what it wrote and has not said yet, as far as programs gave their name."""
        rows = self.engine.rows("SELECT DISTINCT program FROM unanswered")
        sql = "WHERE l.n IN (SELECT n FROM unanswered WHERE program = ?) ORDER BY l.n"
        programs = [name.decode() for (name,) in rows]
        return {p: BookTables(self.engine, self.types, sql, [p]).entries() for p in programs}

    def answered(self, program: str) -> None:
        """What a program wrote has been said. Costs no sync: what a power cut takes of it is said
        once too often."""
        self.engine.write_loosely("DELETE FROM unanswered WHERE program = ?", [program])

    # -- within

    def _insert(self, documents: Sequence[Mapping[str, Any]]) -> list[int]:
        if self._writer == get_ident():
            return [self._insert_one(document) for document in documents]
        with self.exclusive():
            return self._insert(documents)

    def _insert_one(self, document: Mapping[str, Any]) -> int:
        entered = document.get("entered") or self._now(document["records"])
        book = document.get("book") or entered.date().isoformat()
        records: Records = document["records"]
        (n, before), (at, _) = self.end(), self.head(book)
        body = self.types.write(n + 1, book, at + 1, entered, records)
        line = Line(n + 1, book, at + 1, link_of(body, before), body)
        try:
            entry = self.types.read(line)  # what cannot be read back is not written
        except Misfit as error:
            do = say("Write the records of the table's own type")
            tried = say("write into book {book}", book=book)
            raise BooksError(tried, Said(str(error)), do) from None
        found = self.finder(book, records, body) if self.finder else Found()
        self.put(line, found)
        self._heads[book] = line.line, line.link
        self._end, self._written[book] = (line.n, line.link), entry
        if found.names:
            self._lasts = {k: v for k, v in self._lasts.items() if k[0] != book}
        self._lasts[book, ""] = entry
        if line.line == 1:
            self._days = None
        return line.n

    def put(self, line: Line, found: Found) -> None:
        """Write a line as it is, with what it is found by: inside :meth:`exclusive` only."""
        write, self._end = self.engine.write, None
        self._fresh.append(line)
        write(_INSERT, (line.n, line.book, line.line, bytes.fromhex(line.link), line.body.decode()))
        for key in found.keys:
            write("INSERT INTO keys (key, n) VALUES (?, ?)", (key, line.n))
        spoken = self._spoken.setdefault(line.book, set())
        new = [name for name in found.spoken if name not in spoken]
        spoken.update(new)
        for name in (*found.names, *new):
            write("INSERT OR IGNORE INTO names (name, n) VALUES (?, ?)", (name, line.n))
        if self.program:
            self.untold = True
            write("INSERT INTO unanswered (n, program) VALUES (?, ?)", (line.n, self.program))

    def _now(self, records: Records) -> datetime:
        if self._clock is None:
            do = say("Name the moment it is entered, or open the books with a clock")
            tried = say("insert into {table}", table=", ".join(records))
            raise NotAppendOnly(tried, say("no clock was given"), do)
        return self._clock()

    def _forget(self, epoch: int) -> None:
        self._epoch, self._days, self._end = epoch, None, None
        self._heads, self._lasts, self._written, self._spoken = {}, {}, {}, {}


def end_is_gone(books: Books) -> BookDamaged | None:
    """Whether lines that were answered no longer stand at the end of the books."""
    n, link = books.engine.witnessed()
    stands = books.link_of(n) if n else ""
    if stands == link:
        return None
    last, _ = books.end()
    why = say("they end at line {last}, and line {n} was answered for", last=last, n=n)
    if stands:
        why = say("line {n} is not the one that was answered for", n=n)
    return BookDamaged(
        say("read the books of the shop"), why, MEND, book=FILE, line=min(last + 1, n)
    )
