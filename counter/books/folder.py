"""The shop folder as the books see it: which files there are, and the lock beside them."""

from __future__ import annotations

import os
import re
import threading
from bisect import insort
from datetime import date
from pathlib import Path
from typing import NamedTuple, Protocol

from counter.books.files import BookFile, DiskFile, Look
from counter.books.lock import ShopLock

LONG_BOOKS = ("catalogue", "closings")
RESTORED = "restored.txt"  # left by a restore until somebody has said which numbers are out
_DAY = re.compile(r"(\d{4}-\d\d-\d\d)\.jsonl")
_TORN = re.compile(r".+\.jsonl\.torn-\d+")


def file_of(book: str) -> str:
    """Where a book lies in the shop folder.

    >>> file_of("closings"), file_of("2026-11-24")
    ('closings.jsonl', 'days/2026/2026-11-24.jsonl')
    """
    return f"{book}.jsonl" if book in LONG_BOOKS else f"days/{book[:4]}/{book}.jsonl"


def day_of(name: str) -> date | None:
    """The day whose book a file name means, or None."""
    match = _DAY.fullmatch(name)
    try:
        return date.fromisoformat(match[1]) if match else None
    except ValueError:
        return None


class Folder(Protocol):
    """The files of one shop."""

    lock: ShopLock

    def file(self, book: str) -> BookFile:
        """The file of a book, there or not."""

    def days(self) -> list[date]:
        """The days that have a book, sorted. The list is the folder's own: copy it to keep it."""

    def torn(self) -> list[str]:
        """Names of the unfinished lines that were set aside, as paths in the shop folder."""


class _Listed(NamedTuple):
    changed: int
    days: list[date]
    torn: list[str]


class DiskFolder:
    """A shop folder on a disk. Old years are listed once, the two newest whenever they change."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._days = folder, folder / "days"
        self.lock = ShopLock(folder / ".lock")
        self._guard = threading.Lock()
        self._years: dict[str, _Listed] = {}
        self._years_changed = -1
        self._all: list[date] = []

    def file(self, book: str) -> BookFile:
        return DiskFile(self._folder, file_of(book))

    def days(self) -> list[date]:
        with self._guard:
            if self._relist():
                self._all = [d for _, listed in sorted(self._years.items()) for d in listed.days]
            return self._all

    def torn(self) -> list[str]:
        here = [e.name for e in os.scandir(self._folder) if _TORN.fullmatch(e.name)]
        with self._guard:
            # A file set aside within one tick of the last listing must not be missed here.
            self._years_changed = -1
            self._years = {}
            self._relist()
            self._all = [d for _, listed in sorted(self._years.items()) for d in listed.days]
            listed = [f"days/{year}/{n}" for year, found in self._years.items() for n in found.torn]
        return sorted(here) + sorted(listed)

    def _relist(self) -> bool:
        """List again what changed since; whether anything did."""
        changed = _changed(str(self._days))
        fresh = changed != self._years_changed
        if fresh:
            # The time is taken before listing: a change while listing is then seen next time.
            names = [e.name for e in os.scandir(self._days)] if changed else []
            years = [name for name in names if re.fullmatch(r"\d{4}", name)]
            self._years = {year: self._years.get(year, _Listed(-1, [], [])) for year in years}
            self._years_changed = changed
        years = sorted(self._years)
        for year in years if fresh else years[-2:]:
            now = _changed(f"{self._days}{os.sep}{year}")
            if now != self._years[year].changed:
                self._years[year] = self._list(year, now)
                fresh = True
        return fresh

    def _list(self, year: str, changed: int) -> _Listed:
        days: list[date] = []
        torn = []
        for entry in os.scandir(self._days / year):
            day = day_of(entry.name)
            if day is not None and f"{day.year:04}" == year:
                days.append(day)
            elif _TORN.fullmatch(entry.name):
                torn.append(entry.name)
        return _Listed(changed, sorted(days), torn)


def _changed(folder: str) -> int:
    try:
        return os.stat(folder).st_mtime_ns  # noqa: PTH116 - half the cost of Path.stat
    except FileNotFoundError:
        return 0


class MemoryFile:
    """The same contract over bytes in memory."""

    def __init__(self, files: dict[str, bytearray], name: str) -> None:
        self.name, self._files = name, files

    def look(self) -> Look:
        data = self._files.get(self.name)
        return Look(0, None) if data is None else Look(len(data), (0, 0), hash(bytes(data[-99:])))

    def read(self, start: int, end: int) -> bytes:
        return bytes(self._files.get(self.name, b"")[start:end])

    def tail(self, end: int, length: int) -> bytes:
        return self.read(end - length, end)

    def append(self, at: int, data: bytes) -> None:
        there = self._files.setdefault(self.name, bytearray())
        del there[at:]
        there += data

    def set_aside(self, at: int, end: int) -> str:
        there = self._files[self.name]
        number = 1
        while f"{self.name}.torn-{number}" in self._files:
            number += 1
        self._files[f"{self.name}.torn-{number}"] = there[at:end]
        del there[at:]
        return f"{self.name}.torn-{number}"

    def close(self) -> None:
        pass


class MemoryFolder:
    """A shop folder without a disk: the same books, the same bytes. ``files`` maps path to
    content."""

    def __init__(self) -> None:
        self.files: dict[str, bytearray] = {}
        self.lock = ShopLock(None)

    def file(self, book: str) -> BookFile:
        return MemoryFile(self.files, file_of(book))

    def days(self) -> list[date]:
        found: list[date] = []
        for path in list(self.files):
            day = day_of(path.rpartition("/")[2])
            if day is not None:
                insort(found, day)
        return found

    def torn(self) -> list[str]:
        return sorted(name for name in self.files if _TORN.fullmatch(name))
