"""The lines of a database whatever became of it, and a database from its lines as text alone."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from counter.books.books import Books, Finder, Found
from counter.books.engine import FILE, Engine
from counter.books.lines import ORIGIN, Line, Misfit, from_text, link_of
from counter.books.tables import proved, text_of
from counter.errors import BooksError, DiskRefused

BOOK = re.compile(r"[a-z]+|\d{4}-\d\d-\d\d")
ROWS = "SELECT n, book, line, link, body FROM lines"
_PAGE = 4096  # of the database, and of most disks

Types = Mapping[str, type[msgspec.Struct]]


class Whole(NamedTuple):
    """What can be read of a database: the numbers of the lines of each book, the last line and its
    link, and what is damaged."""

    books: dict[str, list[int]]
    n: int
    link: str
    damaged: tuple[str, ...]


def snapshot(books: Books, to: Path) -> None:
    """Copy the database into a new file by the engine's online backup; where the disk fails at some
    of it, page by page what it still gives. Raises BooksError where that is no database."""
    try:
        books.engine.copy(to)
    except DiskRefused as error:
        file = books.engine.file
        if file is None or not file.is_file():
            raise
        try:
            for end in ("", "-wal"):
                _copy_pages(file.with_name(file.name + end), to.with_name(to.name + end))
            with closing(sqlite3.connect(to)) as con:
                con.execute("PRAGMA journal_mode=DELETE")
                con.execute("SELECT 1 FROM lines LIMIT 1").fetchall()
        except (OSError, sqlite3.Error):
            raise error from None


def _copy_pages(source: Path, to: Path) -> None:
    """Zeros stand where the disk gives nothing."""
    to.unlink(missing_ok=True)
    if source.exists():
        with source.open("rb", buffering=0) as read, to.open("wb") as out:
            for at in range(0, out.truncate(source.stat().st_size), _PAGE):
                with suppress(OSError):
                    read.seek(at)
                    page = read.read(_PAGE)
                    out.seek(at)
                    out.write(page)


@contextmanager
def database(file: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as con:
        con.text_factory = bytes
        yield con


def line_in(row: Any) -> Line | None:
    n, book, line, link, body = row
    if not (isinstance(book, bytes) and isinstance(link, bytes) and isinstance(body, bytes)):
        return None
    return Line(n, text_of(book), line, link.hex(), body)


def line_of(con: sqlite3.Connection, n: int) -> Line | None:
    """A line by its number; None where none can be read."""
    with suppress(sqlite3.Error):
        for row in con.execute(f"{ROWS} WHERE n = ?", [n]):
            return line_in(row)
    return None


def lines_to(con: sqlite3.Connection, end: int) -> Iterator[tuple[int, Line | None]]:
    """Each number up to ``end`` and its line, many at a time where they can be read so."""
    for first in range(1, end + 1, 500):
        numbers = range(first, min(first + 500, end + 1))
        try:
            values = first, numbers[-1]
            rows = con.execute(f"{ROWS} WHERE n BETWEEN ? AND ?", values).fetchall()
            found = {row[0]: line_in(row) for row in rows}
        except sqlite3.Error:
            found = {n: line_of(con, n) for n in numbers}
        yield from ((n, found.get(n)) for n in numbers)


def read_whole(con: sqlite3.Connection) -> Whole:
    """Read each line by itself and prove it by the one before, and let the engine check itself."""
    books, damaged = dict[str, list[int]](), set[str]()
    sound, end, before = False, 0, ORIGIN
    with suppress(sqlite3.Error):
        (end,) = con.execute("SELECT coalesce(max(n), 0) FROM lines").fetchone()
        sound = con.execute("PRAGMA integrity_check(1)").fetchone() == (b"ok",)
    for n, line in lines_to(con, end):
        if line is None or not BOOK.fullmatch(line.book):
            damaged.add(f"line {n}")
            before = ""
            continue
        if not before or link_of(line.body, before) != line.link:
            damaged.add(line.book)
        books.setdefault(line.book, []).append(n)
        before = line.link
    return Whole(books, end, before, tuple(sorted(damaged if sound else {*damaged, FILE})))


def rebuild(
    folder: Path, texts: Iterable[bytes], types: Types, finder: Finder | None = None
) -> tuple[int, str]:
    """Make the database of a shop anew in ``folder`` from its lines as text, in any order; number
    and link of the last. Each is proved by the one before. BooksError where one is missing, stands
    twice or is not what was written: then no database is left."""
    engine = Engine(folder)
    engine.create()
    books = Books(engine, types, finder)
    try:
        with books.exclusive():
            for text in texts:
                line = from_text(text.rstrip(b"\r\n"))
                records = books.types.read(line).records
                books.put(line, finder(line.book, records, line.body) if finder else Found())
            last = 0
            while lines := list(proved(engine, "WHERE l.n > ? ORDER BY l.n LIMIT 500", [last])):
                last = lines[-1].n
        return books.end()
    except (Misfit, BooksError, sqlite3.IntegrityError) as error:
        books.close()
        (folder / FILE).unlink(missing_ok=True)
        why = f"not all of their lines are whole ({error})"
        do = "Take the lines of another copy"
        raise BooksError(f"build up the books in '{folder}'", why, do) from error
    finally:
        books.close()
