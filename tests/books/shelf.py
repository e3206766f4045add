"""One shop's files for the tests: the same suite runs over a disk and over memory."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec

from counter.books import Books
from counter.books.folder import MemoryFolder, file_of

MONDAY, TUESDAY, WEDNESDAY = (date(2026, 11, d) for d in (23, 24, 25))
MOMENT = datetime(2026, 11, 24, 8, 12, 3, 123456, tzinfo=ZoneInfo("America/New_York"))


class Sale(msgspec.Struct, frozen=True):
    number: int
    lines: tuple[str, ...] = ()
    note: str = ""


class Move(msgspec.Struct, frozen=True):
    amount: int


class Closing(msgspec.Struct, frozen=True):
    day: date
    lots: tuple[str, ...] = ()
    book_lines: int = 0
    book_link: str = ""


class Reopening(msgspec.Struct, frozen=True):
    day: date
    why: str


class Catalogue(msgspec.Struct, frozen=True):
    products: dict[str, int]


TYPES: dict[str, type[msgspec.Struct]] = {
    "sales": Sale,
    "drawer": Move,
    "closings": Closing,
    "reopenings": Reopening,
    "catalogues": Catalogue,
}


class Shelf:
    """The files of a shop, whatever they lie on: open them, look at the bytes, spoil them."""

    def __init__(self, folder: Path | None) -> None:
        self.folder, self._memory = folder, MemoryFolder()
        self.clock_at = MOMENT

    def open(self) -> Books:
        clock = lambda: self.clock_at  # noqa: E731 - a clock that tests can set
        if self.folder is None:
            return Books(self._memory, TYPES, clock)
        return Books.open(self.folder, TYPES, clock)

    def bytes_of(self, book: str) -> bytes:
        if self.folder is None:
            return bytes(self._memory.files[file_of(book)])
        return (self.folder / file_of(book)).read_bytes()

    def put(self, book: str, data: bytes) -> None:
        """Overwrite a book, as somebody with an editor or a failing disk would."""
        if self.folder is None:
            self._memory.files[file_of(book)] = bytearray(data)
        else:
            (self.folder / file_of(book)).write_bytes(data)

    def remove(self, book: str) -> None:
        if self.folder is None:
            del self._memory.files[file_of(book)]
        else:
            (self.folder / file_of(book)).unlink()

    def names(self) -> list[str]:
        if self.folder is None:
            return sorted(self._memory.files)
        found = [p for p in self.folder.rglob("*") if p.is_file() and p.name != ".lock"]
        return sorted(p.relative_to(self.folder).as_posix() for p in found)

    def read(self, name: str) -> bytes:
        if self.folder is None:
            return bytes(self._memory.files[name])
        return (self.folder / name).read_bytes()


def sell(books: Books, day: date, *numbers: int) -> None:
    for number in numbers:
        books.commit(day, {"sales": [Sale(number, ("block", "small cup"))]}, MOMENT)


def close_day(books: Books, day: date, *lots: str) -> None:
    book = books.day(day)
    closing = Closing(day, lots, book.last_n, book.last_link)
    books.commit_closing({"closings": [closing]}, MOMENT + timedelta(hours=10))


def numbers(books: Books, day: date) -> list[int]:
    return [sale.number for sale in books.day(day).records("sales") if isinstance(sale, Sale)]
