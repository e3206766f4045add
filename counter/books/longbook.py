"""The two books that go on for years: the catalogue and the closings.

They are opened at their last line; the rest is read only when asked for, and then only as far
as the question reaches.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import msgspec

from counter.books.files import BLOCK, BookFile
from counter.books.journal import Journal
from counter.books.lines import Entry, Types, day_of_line

_NEAR = 1 << 18  # below this, reading on costs less than searching


class LongBook(Journal):
    """A journal opened at its tail."""

    def __init__(self, file: BookFile, book: str, types: Types) -> None:
        super().__init__(file, book, types, tail_only=True)
        self._lasts: dict[str | None, tuple[str, Entry | None]] = {}

    def last(self, table: str | None = None) -> msgspec.Struct | None:
        """The record written last, in any table or in the one named; None where there is none."""
        entry = self.last_entry(table)
        return _last_of(entry, table) if entry else None

    def last_entry(self, table: str | None = None) -> Entry | None:
        """The commit written last, of any table or with records of the one named.

        Asked for at every sale: looked for once as long as no line is added.
        """
        known = self._lasts.get(table)
        if known is None or known[0] != self.last_link:
            known = self._lasts[table] = self.last_link, self._last(table)
        return known[1]

    def _last(self, table: str | None) -> Entry | None:
        entries = self.entries
        for entry in reversed(entries):
            if _last_of(entry, table) is not None:
                return entry
        found = None
        if len(entries) < self.last_n:  # not in the tail: look at the whole
            for _, _, entry in self.walk():
                if _last_of(entry, table) is not None:
                    found = entry
        return found

    def iterate(self, from_day: date | None = None) -> Iterator[msgspec.Struct]:
        """All records in the order written, of ``from_day`` and later if one is given.

        Records carry their trading day as ``day`` and are written in the order of days, so the
        place to begin at is searched, not read up to. BookDamaged where a line is damaged: a
        report that silently leaves out years is worse than none.
        """
        self.catch_up()
        start = self._place_of(from_day) if from_day else 0
        for _, _, entry in self.walk(start):
            for rows in entry.records.values():
                for record in rows:
                    if from_day is None or getattr(record, "day", from_day) >= from_day:
                        yield record

    def find(self, needle: bytes) -> list[date]:
        """The days whose line contains these bytes, sorted.

        A search through raw bytes, a block at a time: ten years of closings are some 30 MB. It
        may name a day too many (the bytes stand in another field), never one too few.
        """
        self.catch_up()
        found: set[date] = set()
        rest = b""
        for at in range(0, self.size, BLOCK):
            block = rest + self.file.read(at, min(at + BLOCK, self.size))
            cut = block.rfind(b"\n") + 1
            block, rest = block[:cut], block[cut:]
            hit = block.find(needle)
            while hit >= 0:
                start, stop = block.rfind(b"\n", 0, hit) + 1, block.find(b"\n", hit)
                day = day_of_line(block[start:stop])
                if day is not None:
                    found.add(day)
                hit = block.find(needle, stop)
        return sorted(found)

    def _place_of(self, day: date) -> int:
        """The place of a line before the first one of ``day``, not far before it."""
        low, high = 0, self.size
        while high - low > _NEAR:
            middle = (low + high) // 2
            place, line = self._line_behind(middle, high)
            at = day_of_line(line) if line else None
            if at is None or at >= day:
                high = middle
            else:
                low = place
        return low

    def _line_behind(self, place: int, end: int) -> tuple[int, bytes]:
        """The first line that begins behind a place, and where it begins."""
        window = 1 << 14
        while True:
            data = self.file.read(place, min(place + window, end))
            start = data.find(b"\n") + 1
            stop = data.find(b"\n", start)
            if start and stop >= 0:
                return place + start, data[start:stop]
            if place + window >= end:
                return end, b""
            window *= 4


def _last_of(entry: Entry, table: str | None) -> msgspec.Struct | None:
    rows = list(entry.records.values())[-1] if table is None else entry.records.get(table)
    return rows[-1] if rows else None
