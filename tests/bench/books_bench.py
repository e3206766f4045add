"""What a commit costs beside a bare SQLite insert, and what ten years of history cost.

Both write the same document of about 900 bytes, in turn, so that whatever else the disk does
meets both alike; the middle half of the times is averaged.
"""

from __future__ import annotations

import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import msgspec

from counter.books import Books
from counter.books.folder import MemoryFolder, file_of

HERE = Path(__file__).parent  # a temporary folder may lie in memory, where an fsync costs nothing
MOMENT = datetime(2026, 11, 24, 8, 12, 3, 123456, tzinfo=UTC)
ROUNDS = 300
Row = tuple[str, float, float]  # name, ours in seconds, floor in seconds


class Line(msgspec.Struct, frozen=True):
    portion: str
    quantity: int
    price: int
    lot: str
    note: str = ""


class Sale(msgspec.Struct, frozen=True):
    number: str
    at: datetime
    key: str
    lines: tuple[Line, ...]
    total: int


class Closing(msgspec.Struct, frozen=True):
    day: date
    lots: tuple[str, ...]
    book_lines: int = 0
    book_link: str = ""


TYPES: dict[str, type[msgspec.Struct]] = {"sales": Sale, "closings": Closing}


def sale(number: int) -> Sale:
    """A sale of six lines: about 900 bytes as JSON, the line's own members included."""
    lines = tuple(Line(f"block-{i}", 1 + i, 450, "26328-01", "for here") for i in range(7))
    return Sale(f"2026-11-24/{number:04}", MOMENT, f"{number:032x}", lines, 3150)


def in_turn(
    ours: Callable[[int], object], floor: Callable[[int], object], rounds: int = ROUNDS
) -> tuple[float, float]:
    """The middle half of the times of both, done in turn, averaged."""
    times: tuple[list[float], list[float]] = ([], [])
    for i in range(rounds):
        order = ((ours, times[0]), (floor, times[1]))
        for do, taken in order if i % 2 else order[::-1]:
            start = time.perf_counter()
            do(i)
            taken.append(time.perf_counter() - start)
    middle = [sorted(t)[rounds // 4 : -(rounds // 4)] for t in times]
    return sum(middle[0]) / len(middle[0]), sum(middle[1]) / len(middle[1])


def sqlite_insert(file: Path, there: int) -> tuple[sqlite3.Connection, Callable[[int], object]]:
    con = sqlite3.connect(file, isolation_level=None)
    con.execute("PRAGMA journal_mode=WAL")
    con.execute("PRAGMA synchronous=FULL")
    con.execute("CREATE TABLE sales (id INTEGER PRIMARY KEY, document TEXT)")
    text = msgspec.json.encode(sale(1)).decode()
    for _ in range(there):
        con.execute("INSERT INTO sales (document) VALUES (?)", (text,))

    def insert(number: int) -> object:
        document = msgspec.json.encode(sale(number)).decode()
        return con.execute("INSERT INTO sales (document) VALUES (?)", (document,))

    return con, insert


def filled(folder: Path, day: date, there: int) -> Books:
    books = Books.open(folder, TYPES, clock=lambda: MOMENT)
    with books.exclusive():
        # As in any shop that is open: the long books are there.
        books.commit_catalogue({"closings": [Closing(day, ("a", "b"))]}, MOMENT)
        books.commit_closing({"closings": [Closing(day - timedelta(days=1), ())]}, MOMENT)
        for number in range(there):
            books.commit(day, {"sales": [sale(number)]}, MOMENT)
    return books


def insert_beside_sqlite(there: int) -> list[Row]:
    day = date(2026, 11, 24)
    with tempfile.TemporaryDirectory(dir=HERE) as name:
        books = filled(Path(name), day, there)
        con, insert = sqlite_insert(Path(name) / "floor.db", there)

        def commit(number: int) -> None:
            with books.exclusive():
                books.commit(day, {"sales": [sale(number)]}, MOMENT)

        documents = [msgspec.to_builtins(sale(n)) for n in range(ROUNDS)]
        table = books.day(day).db.table("sales")
        with closing(con), closing(books):
            committed = in_turn(commit, insert)
            inserted = in_turn(lambda n: table.insert(documents[n]), insert)
    return [
        (f"commit a sale, {there} there / SQLite insert", *committed),
        (f"insert by TinyDB, {there} there / SQLite insert", *inserted),
    ]


def write_history(folder: Path, years: int = 10) -> Path:
    """``years`` years in a folder: closings of full size (some 8 kB), day books of a few lines."""
    memory = MemoryFolder()
    books = Books(memory, TYPES)
    first = date(2026, 11, 24) - timedelta(days=365 * years)
    with books.exclusive():
        for i in range(365 * years):
            day = first + timedelta(days=i)
            lots = tuple(f"{day:%y%j}-{k:02} {'x' * 180}" for k in range(40))
            books.commit_closing({"closings": [Closing(day, lots, 1, "0" * 64)]}, MOMENT)
            memory.files[file_of(day.isoformat())] = bytearray()  # only its name is looked at
    for path, data in memory.files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    return folder


def committing(books: Books, day: date) -> Callable[[int], object]:
    """A commit as the shop does it: the days are asked for too."""

    def commit(number: int) -> None:
        with books.exclusive():
            assert books.days()[-1] == day
            books.commit(day, {"sales": [sale(number)]}, MOMENT)

    return commit


def opening(folder: Path, day: date) -> Callable[[int], object]:
    def read(_: int) -> object:
        books = Books.open(folder, TYPES)
        return books.days(), books.closings.last(), books.day(day).entries

    return read


def beside_history() -> list[Row]:
    """A commit and opening in a folder of ten years, beside an empty one; reading closings."""
    day = date(2026, 11, 24)
    with tempfile.TemporaryDirectory(dir=HERE) as old, tempfile.TemporaryDirectory(dir=HERE) as new:
        folders = (write_history(Path(old)), Path(new))
        ours, floor = (filled(folder, day, 300) for folder in folders)
        with closing(ours), closing(floor):
            commits = in_turn(committing(ours, day), committing(floor, day))
            opened = in_turn(opening(folders[0], day), opening(folders[1], day), 20)
            return [
                ("commit a sale, 10 years there / none there", *commits),
                ("open, 10 years there / none there", *opened),
                *reading_closings(ours, folders[0] / "closings.jsonl", day),
            ]


def reading_closings(books: Books, file: Path, day: date) -> list[Row]:
    needle = b"20150-07"
    found = in_turn(
        lambda _: books.closings.find(needle), lambda _: file.read_bytes().find(needle), 20
    )
    lines = file.read_bytes().splitlines()[-365:]
    year = in_turn(
        lambda _: list(books.closings.iterate(day - timedelta(days=365))),
        lambda _: [msgspec.json.decode(line) for line in lines],
        20,
    )
    return [
        (f"find a lot in {file.stat().st_size >> 20} MB / read and find", *found),
        ("a year's closings, proved and typed / decoded in memory", *year),
    ]


def run() -> list[Row]:
    return [row for there in (300, 1500) for row in insert_beside_sqlite(there)] + beside_history()
