"""Are the books as they were written? Every line, every link, every index.

What records mean is not known here: an auditor who does looks on as the lines go by.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from datetime import datetime
from typing import Any, Protocol

import msgspec

from counter.books.books import CLOSINGS, Books, Found, end_is_gone
from counter.books.engine import FILE, MEND, Rows, reading
from counter.books.lines import Entry, Line, Misfit, link_of, read_line
from counter.books.tables import text_of, walk
from counter.errors import BookDamaged, BooksError
from labels.say import NOTHING, Said, full, join, say

_MOST = 20  # findings; behind them the books are beyond mending by hand
_BEGUN = "SELECT 1 FROM lines INDEXED BY begun WHERE line = 1 AND book = ?"
_KEYS = "SELECT count(*) FROM keys WHERE n <= ?"  # others go on selling
_LED_TO = "SELECT line, n FROM lines WHERE book = ? AND line >= ? ORDER BY line"


class Finding(msgspec.Struct, frozen=True):
    """What is wrong, and where. ``line`` is None where no line can be named. ``advised``: the
    sentence says what to do."""

    book: str
    line: int | None
    sentence: Said
    advised: bool = False


class Checked(msgspec.Struct, frozen=True):
    """The outcome of a check. ``known`` is what should be known of the books and is no finding;
    ``damage`` is what a mending would help, in words."""

    findings: tuple[Finding, ...]
    books: int
    lines: int
    size: int
    known: tuple[Said, ...] = ()
    damage: Said = NOTHING

    @property
    def sound(self) -> bool:
        return not self.findings

    @property
    def summary(self) -> Said:
        """How much was read, and how many findings there are."""
        read = say(
            "{books} books, {lines} lines read, {findings} findings.",
            books=self.books,
            lines=self.lines,
            findings=len(self.findings),
        )
        return join(" ", (read, full(MEND))) if self.damage else read


class Auditor(Protocol):
    """Looks on while the lines go by; what is wrong with one, in words."""

    def take(self, line: Line, entry: Entry, links: frozenset[str]) -> Iterator[Said]:
        """``links`` are all that the line had: its own, and those from before a mending."""


class Chains:
    """The links that lines had before a mending: worked out anew from where it noted them."""

    def __init__(self) -> None:
        self._olds: dict[datetime, str] = {}
        self._goes_on: tuple[datetime, str] | None = None

    def behind(self, line: Line, entry: Entry) -> frozenset[str]:
        """All links of the next line. A chain of old ends with the mending, or at a line lost."""
        for mending in entry.records.get("mendings", ()):
            self._olds.pop(getattr(mending, "at", None), None)  # type: ignore[arg-type]
        olds = {at: link_of(line.body, old) for at, old in self._olds.items() if old}
        if self._goes_on:
            olds[self._goes_on[0]], self._goes_on = self._goes_on[1], None
        for lost in entry.records.get("lost", ()):
            at: Any = lost
            olds, self._goes_on = {}, (at.at, at.behind)
        self._olds = olds
        return frozenset({line.link, *olds.values()})


def check_books(
    books: Books, progress: Callable[[int, int], None] | None = None, auditor: Auditor | None = None
) -> Checked:
    """Verify all lines of a shop, reading only. ``progress`` is told (lines done, lines in all)."""
    check = _Check(books, auditor)
    try:
        with _anew(books) as rows:
            end, _ = books.end()
            for line, why in walk(rows):
                check.take(line, why)
                if progress and (line.n % 100 == 0 or line.n == end):
                    progress(line.n, end)
    except BooksError as error:
        check.find(None, error.said, advised=bool(error.do))
    check.take_whole()
    return Checked(tuple(check.findings[:_MOST]), len(check.seen), check.last, check.size)


class _Check:
    """What is found as the lines go by in the order written."""

    def __init__(self, books: Books, auditor: Auditor | None) -> None:
        self.books, self.auditor = books, auditor
        self.findings = list[Finding]()
        self.seen: dict[str, int] = {}
        self.last, self.size, self.keys = 0, 0, 0
        self.spoken: dict[str, set[str]] = {}  # by each book: its first line to do so is named
        self.chains = Chains()

    def find(self, line: Line | None, sentence: Said, advised: bool = False) -> None:
        book, number = (line.book, line.line) if line else ("", None)
        finding = Finding(book, number, sentence, advised)
        if finding not in self.findings:
            self.findings.append(finding)

    def take(self, line: Line, why: Said) -> None:
        before, entry = self.seen.get(line.book, 0), None
        try:
            entry = self.books.types.read(line)
        except Misfit as error:
            why = why or error.why
        if line.line != before + 1:
            why = why or say("line {n} of the book stands before it", n=before)
        self.seen[line.book], self.last = line.line, line.n
        self.size += len(line.body)
        if entry is not None:
            why = why or self._indexed(line, entry)
            links = self.chains.behind(line, entry)
            if self.auditor and not why:
                for said in self.auditor.take(line, entry, links):
                    self.find(line, said)
        if why:
            n, book = line.line, line.book
            self.find(
                line, say("Line {n} of book {book} is damaged: {why}.", n=n, book=book, why=why)
            )

    def _indexed(self, line: Line, entry: Entry) -> Said:
        """Why a line cannot be found by what it holds, or ""."""
        if self.books.finder is None:
            return NOTHING
        found: Found = self.books.finder(line.book, entry.records, line.body)
        self.keys += len(found.keys)
        said = self.spoken.setdefault(line.book, set())
        names = [*found.names, *(name for name in found.spoken if name not in said)]
        said.update(found.spoken)
        for table, column, wanted in (("keys", "key", found.keys), ("names", "name", names)):
            for one in wanted:
                sql = f"SELECT 1 FROM {table} WHERE {column} = ? AND n = ?"
                if not self.books.engine.rows(sql, [one, line.n]):
                    return say("it is not found by '{name}', which stands in it", name=one)
        return NOTHING

    def take_whole(self) -> None:
        """What is said of all lines together: by the engine, the indices, and the last answer."""
        try:
            for (said,) in self.books.engine.rows("PRAGMA integrity_check(20)"):
                if said != b"ok":
                    self.find(None, say("The engine finds: {answer}.", answer=text_of(said)))
            (stand,) = self.books.engine.rows(_KEYS, [self.last])[0]
            if stand != self.keys and self.books.finder:
                self.find(
                    None,
                    say("There are {n} keys, and the lines hold {held}.", n=stand, held=self.keys),
                )
            if gone := end_is_gone(self.books):
                raise gone
        except BooksError as error:
            self.find(None, error.said, advised=bool(error.do))


def open_lines_damaged(books: Books) -> BookDamaged | None:
    """Whether what is sold on is as it was written, read anew from the disk: the lines since the
    last closing one after the other, that the index leads to each, and that the line answered last
    stands. Some milliseconds."""
    try:
        with _anew(books) as rows:
            (since,) = rows("SELECT max(n) FROM lines WHERE book = ?", [CLOSINGS])[0]
            books_of: dict[str, list[tuple[int, int]]] = {}
            for line, why in walk(rows, max((since or 1) - 1, 0)):
                read = read_line(line.body)
                if why or (read.n, read.book, read.line) != line[:3]:
                    raise Misfit(
                        say("line {n} of book {book} does not follow", n=read.line, book=read.book)
                    )
                books_of.setdefault(line.book, []).append((line.line, line.n))
            for book, known in books_of.items():
                begun = known[0][0] > 1 or rows(_BEGUN, [book])
                if not begun or rows(_LED_TO, [book, known[0][0]]) != known:
                    why = say("its index does not lead to all lines of book {book}", book=book)
                    raise Misfit(why)
        return end_is_gone(books)
    except Misfit as error:
        books.engine.close()
        return BookDamaged(say("read the books of the shop"), error.why, MEND, book=FILE, line=0)
    except BookDamaged as error:
        return error


def _anew(books: Books) -> AbstractContextManager[Rows]:
    """The files as they lie on the disk, where they can be asked."""
    engine = books.engine
    anew = engine.file is not None and not engine.refused
    return reading(engine.file) if anew and engine.file else nullcontext(engine.rows)
