"""Damaged books brought back: every whole line that still lies in the file, proved by its link.

The pages of the file, and of the log beside it, are taken as they lie on the disk, each by itself,
so that a page that is hit takes with it only what stands on it, and not what the tree had below
it. A line is whole when its link follows from the line before. Where that one is lost nobody can
tell, and the line is brought back unproved.

Source of the layout of files, pages and frames: "Database File Format" in the engine's
documentation (from memory); proved by ``tests/crash/flips.py``.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import msgspec

from counter.books.books import Books, Finder
from counter.books.engine import FILE, Engine, refused
from counter.books.files import sync_folder
from counter.books.lines import ORIGIN, Line, Misfit, link_of, read_line
from counter.books.tables import walk
from counter.errors import BooksError, DiskRefused
from labels.say import NOTHING, say

try:
    import fcntl
except ImportError:  # pragma: no cover - Windows does not replace what is open
    fcntl = None  # type: ignore[assignment]

_TRIED = say("mend the shop")
_PATIENCE_S = 3.0
PAGE = 4096  # the engine's own default, which no shop's file ever left
_SHARED = 0x40000002, 510  # the bytes of a file that every program which has it open has locked
_LEAF, _INDEX = b"\x0d", (2, 10)  # how a page of a table begins, and pages of indices
_LINES = "(n INTEGER PRIMARY KEY, book, line, link, body)"
_AN_INDEX = "(a, b, c, PRIMARY KEY (a, b, c)) WITHOUT ROWID"


class Kept:
    """All that lies in the files of a shop: lines by number, links, and what the indices say."""

    def __init__(self) -> None:
        self.lines: dict[int, list[Line]] = {}
        self.links: dict[int, set[str]] = {}
        self.places: dict[int, tuple[str, int]] = {}
        self.names: dict[int, set[str]] = {}
        self.top = 0

    def read(self, file: Path) -> None:
        """Take in what lies in a database file and the log beside it, if there is one."""
        log = file.with_name(f"{file.name}-wal")
        data, frames = (p.read_bytes() if p.is_file() else b"" for p in (file, log))
        for record in _records(data, frames):
            match record:
                case int(row), _, _, bytes(link), bytes(body):
                    self.add(row, link.hex(), body)
                case bytes(book), int(line), int(n):
                    self.places.setdefault(n, (book.decode("ascii", "replace"), line))
                case bytes(name), int(n), None:
                    self.names.setdefault(n, set()).add(name.decode("utf-8", "replace"))

    def add(self, row: int, link: str, body: bytes) -> None:
        """Take in one line. What it says of itself counts for more than its place."""
        self.links.setdefault(row, set()).add(link)
        with suppress(Misfit):
            read = read_line(body)
            line = Line(read.n, read.book, read.line, link, body)
            known = self.lines.setdefault(read.n, [])
            if line not in known:
                known.append(line)
            if read.n == row:
                self.top = max(self.top, row)

    def differs(self, other: Kept, after: int = 0) -> bool:
        """Whether a line behind the ``after`` one is another in what ``other`` kept."""
        ours = ((n, links) for n, links in self.links.items() if n > after)
        return any(links.isdisjoint(other.links.get(n, links)) for n, links in ours)


class Brought(NamedTuple):
    """What became of one line: None where it is lost; whether its link proved it; whether it comes
    out of a copy."""

    line: Line | None
    proved: bool = False
    copied: bool = False


def bring_back(own: Kept, copies: Kept, last: tuple[int, str]) -> Iterator[tuple[int, Brought]]:
    """Each line of the shop, from the first on. ``last`` is the one that was answered last. Of
    ``copies`` only what follows from the lines of this shop, and leads to them, is taken."""
    before, known, filled = {ORIGIN}, True, dict[int, Line]()
    for n in range(1, max(own.top, copies.top, last[0]) + 1):
        behind = (*own.lines.get(n + 1, ()), *copies.lines.get(n + 1, ()))
        found = Brought(None)
        for line in own.lines.get(n, ()):
            if not found.proved and (link := _proved(line, before, behind, last)):
                found = Brought(line._replace(link=link), True)
        if not found.proved and n not in filled:
            filled = {line.n: line for line in _filling(n, before, own, copies, last)}
        if not found.proved and n in filled:
            found = Brought(filled[n], True, True)
        if found.line is None and not known and n in own.lines:
            found = Brought(own.lines[n][0])
        if found.line is None and n == max(own.top, last[0]) + 1:
            return  # the copies are longer, and not by lines of this shop
        known = found.proved
        before = {found.line.link} if known and found.line else own.links.get(n, set())
        yield n, found


def _filling(
    first: int, before: set[str], own: Kept, copies: Kept, last: tuple[int, str]
) -> list[Line]:
    """The lines of copies from the ``first`` on up to where this shop's own go on from them; none
    where they do not: another computer, or this shop before it was put back, wrote on otherwise."""
    run, n = list[Line](), first
    while True:
        behind = copies.lines.get(n + 1, ())
        lines = ((line, _proved(line, before, behind, last)) for line in copies.lines.get(n, ()))
        found = next((line._replace(link=link) for line, link in lines if link), None)
        if found is None:  # they end: where nothing says otherwise they are this shop's own
            alone = own.lines.keys().isdisjoint(range(first, n + 1))
            return run if alone and not own.differs(copies, n) else []
        run.append(found)
        before, n = {found.link}, n + 1
        goes_on = (_proved(b, before, own.lines.get(n + 1, ()), last) for b in own.lines.get(n, ()))
        if found.link in own.links.get(n - 1, ()) or any(goes_on):
            return run
        if n - 1 == last[0]:
            return run if found.link == last[1] else []


def _proved(line: Line, before: set[str], behind: Iterable[Line], last: tuple[int, str]) -> str:
    """The link that proves a line, or "": the one it came with, or, where that is what was hit, one
    that the line behind it or the note of the last line answers for."""
    for link in (link_of(line.body, one) for one in before):
        answered = (line.n, link) == last
        if link == line.link or answered or any(link_of(b.body, link) == b.link for b in behind):
            return link
    return ""


def places_of(lost: list[int], lines: dict[int, Line], kept: Kept) -> dict[int, tuple[str, int]]:
    """In which book and line of it each lost line stood: as the index says, else where a line is
    missing soonest, else behind the line before it, or in a book of their own."""
    ahead: dict[str, list[Line]] = {}  # of each book what is yet to come, the next one last
    for n in sorted(lines, reverse=True):
        ahead.setdefault(lines[n].book, []).append(lines[n])
    found: dict[int, tuple[str, int]] = {}
    at: dict[str, int] = {}
    before = ""
    for n in sorted({*lines, *lost}):
        if n in lines:
            place = lines[n].book, lines[n].line
            ahead[place[0]].pop()
        else:
            gaps = [
                (b[-1].n, book)
                for book, b in ahead.items()
                if b and b[-1].line > at.get(book, 0) + 1
            ]
            said, line = kept.places.get(n, ("", 0))
            ended = before if before[:1].isdigit() and not ahead.get(before) else "lost"
            book = said if line == at.get(said, 0) + 1 else min(gaps, default=(0, ended))[1]
            place = found[n] = book, at.get(book, 0) + 1
        before, at[place[0]] = place
    return found


@contextmanager
def alone(folder: Path) -> Iterator[BinaryIO]:
    """The file of the books for the only program that has it open; gone again where there was none
    and nothing is put in place. Raises BooksError where another program has it, and where the disk
    refuses what is done.

    Until the end nobody may open and close it here another way: the system lets the lock go then.
    """
    path = folder / FILE
    try:
        with _opened(path) as file:
            _lock(file.fileno())
            try:
                yield file
            finally:
                if not path.stat().st_size:
                    path.unlink()
    except OSError as error:
        raise refused(_TRIED, error) from error


def _lock(file: int) -> None:
    if fcntl is None:  # pragma: no cover
        return
    until = time.monotonic() + _PATIENCE_S  # a page lets go of damaged books after each answer
    while True:
        with suppress(OSError):
            fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB, _SHARED[1], _SHARED[0])
            return
        if time.monotonic() > until:
            do = say("Close it, the counter page too, then run `counter mend` again")
            raise BooksError(_TRIED, say("another program has it open"), do)
        time.sleep(0.01)


def _opened(path: Path) -> BinaryIO:
    return os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT, 0o600), "r+b")


def set_aside(file: BinaryIO, kept: Path) -> None:
    """Copy the damaged file and its log to where they are kept, readable by their owner only."""
    log = kept.with_name(f"{FILE}-wal")
    file.seek(0)
    for end, data in (("", file.read()), ("-wal", log.read_bytes() if log.exists() else b"")):
        if data:
            with _opened(kept.with_name(kept.name + end)) as out:
                _write(out, data)
    sync_folder(kept.parent)


def put_in_place(made: Path, file: BinaryIO, folder: Path) -> None:
    """Let the books be those that were made. The file stays the same one, so that a program which
    waits to open it finds them in it; cut short here, the next mending finds all that was there
    in what was set aside."""
    data = made.read_bytes()
    for end in ("-wal", "-shm"):
        (folder / f"{FILE}{end}").unlink(missing_ok=True)
    _write(file, data)
    sync_folder(folder)


def _write(file: BinaryIO, data: bytes) -> None:
    file.seek(0)
    file.write(data)
    file.truncate()
    file.flush()
    os.fsync(file.fileno())


def build(
    folder: Path, lines: Iterable[Line], types: Mapping[str, type[msgspec.Struct]], finder: Finder
) -> tuple[int, str]:
    """Make the database of a shop anew in ``folder`` from its lines, in any order; number and link
    of the last. Each is proved by the one before. BooksError where one is missing, stands twice or
    is not what was written, DiskRefused where there is no room: then no database is left."""
    engine = Engine(folder)
    engine.create()
    books = Books(engine, types, finder)
    try:
        with books.exclusive():
            for line in lines:
                books.put(line, finder(line.book, books.types.read(line).records, line.body))
            if why := next((why for _, why in walk(engine.rows) if why), NOTHING):
                raise Misfit(why)
        return books.end()
    except (Misfit, BooksError, sqlite3.IntegrityError) as error:
        books.close()
        (folder / FILE).unlink(missing_ok=True)
        if isinstance(error, DiskRefused):
            raise
        why = say("not all of their lines are whole ({why})", why=error)
        do = say("Take the lines of another copy")
        raise BooksError(say("build up the books in '{folder}'", folder=folder), why, do) from error
    finally:
        books.close()


# -- pages as they lie on the disk


def _records(data: bytes, log: bytes) -> Iterator[tuple[Any, ...]]:
    """What stands on each page of a file and its log, asked of the engine in a database of which
    every page is a table by itself: (n, book, line, link, body), or three values of an index."""
    pages = [data[at : at + PAGE].ljust(PAGE, b"\0") for at in range(0, len(data), PAGE)]
    frames = list(_frames(log))
    pages += [bytes(PAGE)] * (1 + len(frames))
    for number, page in frames:
        if number <= len(pages):  # the newest in its place, what stood there behind all others
            page, pages[number - 1] = pages[number - 1], page
        pages.append(page)
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as con:
        con.text_factory = bytes
        con.executescript(f"PRAGMA page_size = {PAGE}; PRAGMA user_version = 1")
        head = con.serialize()
        pages[0] = head[:28] + len(pages).to_bytes(4) + head[32:]
        tables = [i for i, page in enumerate(pages) if i and page[0]]  # else a long record goes on
        for i in (i for i in tables if pages[i][0] not in _INDEX):
            pages[i] = _LEAF + pages[i][1:]
        con.deserialize(b"".join(pages))
        con.execute("PRAGMA writable_schema = ON")
        for i in tables:
            sql = f"CREATE TABLE p{i} {_AN_INDEX if pages[i][0] in _INDEX else _LINES}"
            row = "table", f"p{i}", f"p{i}", i + 1, sql
            con.execute("INSERT INTO sqlite_schema VALUES (?, ?, ?, ?, ?)", row)
        con.execute("PRAGMA writable_schema = RESET")
        for i in tables:
            for order in ("", " DESC"):  # from both ends up to what cannot be read
                with suppress(sqlite3.Error):
                    yield from con.execute(f"SELECT * FROM p{i} ORDER BY 1{order}")


def _frames(log: bytes) -> Iterator[tuple[int, bytes]]:
    """The pages in the log up to its last whole commit, whatever their checksums say."""
    step = 24 + PAGE
    heads = [log[at : at + 24] for at in range(32, len(log) - step + 1, step)]
    salt = Counter([log[16:24], *(head[8:16] for head in heads[:2])]).most_common(1)[0][0]
    ours = [i for i, head in enumerate(heads) if head[8:16] == salt]
    last = max((i for i in ours if any(heads[i][4:8])), default=-1)
    for i in (i for i in ours if i <= last):
        begin = 32 + i * step + 24
        yield int.from_bytes(heads[i][:4]), log[begin : begin + PAGE]
