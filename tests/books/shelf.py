"""One shop's books for the tests: the same suite runs over a disk and over memory."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from counter.books import Books, Found
from counter.books.engine import FILE

MONDAY, TUESDAY, WEDNESDAY = (str(date(2026, 11, d)) for d in (23, 24, 25))
MOMENT = datetime(2026, 11, 24, 8, 12, 3, 123456, tzinfo=ZoneInfo("America/New_York"))


class Price(msgspec.Struct, frozen=True):
    minor: int
    kind: str = "cash"


class Sale(msgspec.Struct, frozen=True):
    number: int
    lines: tuple[str, ...] = ()
    note: str = ""
    key: str = ""
    paid: Price = Price(0)
    at: datetime = MOMENT


class Move(msgspec.Struct, frozen=True):
    amount: int


class Catalogue(msgspec.Struct, frozen=True):
    products: dict[str, int]


TYPES: dict[str, type[msgspec.Struct]] = {"sales": Sale, "drawer": Move, "catalogues": Catalogue}


def found_by(book: str, records: Mapping[str, Sequence[Any]], body: bytes) -> Found:
    """Found by the keys of sales and the word in their notes; in the catalogue by table."""
    sales = records.get("sales", ())
    if book == "catalogue":
        return Found((), tuple(records))
    keys = tuple(s.key for s in sales if isinstance(s, Sale) and s.key)
    return Found(keys, tuple(s.note for s in sales if isinstance(s, Sale) and s.note))


class Shelf:
    """The books of a shop, whatever they lie on; ``None`` is memory, which one program has."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self.clock_at = MOMENT
        self._memory = Books.memory(TYPES, found_by, lambda: self.clock_at)
        if folder:
            Books.create(folder)

    def open(self) -> Books:
        if self.folder is None:
            return self._memory
        return Books.open(self.folder, TYPES, found_by, lambda: self.clock_at)

    def spoil(self, sql: str, *values: object) -> None:
        """Change the file past the program, as whoever can write the folder could."""
        if self.folder is None:
            self._memory.engine.connection().execute(sql, values)
            return
        with closing(sqlite3.connect(self.folder / FILE)) as con, con:
            assert con.execute(sql, values).rowcount, sql


def sell(books: Books, day: str, *numbers: int) -> None:
    for number in numbers:
        books.commit(day, {"sales": [Sale(number, ("block", "small cup"))]}, MOMENT)


def numbers(books: Books, day: str) -> list[int]:
    return [sale.number for sale in books.select(day).find("sales", Sale)]
