"""Are the books as they were written? Every line, every header, every seal.

A line proves itself by its link. What a link cannot prove is that lines are missing behind the
last one; that is said by others: the header of a later book names the last line of the book
before, and a closing names the last line of the day it seals.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import date
from typing import NamedTuple

import msgspec

from counter.books.files import BookFile, whole_lines
from counter.books.folder import LONG_BOOKS, Folder
from counter.books.lines import (
    ORIGIN,
    After,
    Entry,
    Misfit,
    Types,
    follow_link,
    number_and_link,
    read_header,
)
from counter.errors import BooksError

_MOST = 20  # findings a book; behind them the book is beyond mending by hand


class Finding(msgspec.Struct, frozen=True):
    """What is wrong, and where. ``line`` is None where no line can be named."""

    book: str
    line: int | None
    sentence: str


class Checked(msgspec.Struct, frozen=True):
    """The outcome of a check."""

    findings: tuple[Finding, ...]
    books: int
    lines: int
    size: int

    @property
    def sound(self) -> bool:
        return not self.findings


class Seal(NamedTuple):
    """The last line of a day's book when the day was closed; no link: the day was reopened."""

    day: date
    n: int
    link: str


class _Walked:
    """What walking through one book found."""

    def __init__(self, book: str) -> None:
        self.book = book
        self.n = -1
        self.after: After | None = None
        self.links: dict[int, str] = {}
        self.findings: list[Finding] = []

    def find(self, line: int | None, sentence: str) -> None:
        if len(self.findings) < _MOST:
            self.findings.append(Finding(self.book, line, sentence))


def torn_notice(name: str) -> str:
    """What to say of an unfinished line that was set aside."""
    book = book_of(name)
    return (
        f"Book {book} ended in an unfinished line, as after a power cut;"
        f" it was set aside in {name}. Enter again what it held, then delete it."
    )


def book_of(name: str) -> str:
    """The book a file in the shop folder belongs to.

    >>> book_of("days/2026/2026-11-24.jsonl.torn-1")
    '2026-11-24'
    """
    return name.rpartition("/")[2].partition(".jsonl")[0]


def seals_of(entries: Iterable[Entry]) -> list[Seal]:
    """The seals in the closings, in the order written.

    A closing is any record with ``day``, ``book_lines`` and ``book_link``; any other record with
    a ``day`` opens that day again.
    """
    seals = []
    for entry in entries:
        for record in (r for rows in entry.records.values() for r in rows):
            day = getattr(record, "day", None)
            if isinstance(day, date):
                n, link = getattr(record, "book_lines", 0), getattr(record, "book_link", "")
                seals.append(Seal(day, n, link))
    return seals


def check_books(
    folder: Folder, types: Types, progress: Callable[[int, int], None] | None = None
) -> Checked:
    """Verify all books of a shop, reading only.

    ``progress`` is told (books done, books in all). Finds changed lines, lines cut off before a
    later header or a seal, lines added behind a seal, missing books, records that do not fit,
    unfinished lines and those set aside.
    """
    files, sizes = _snapshot(folder)
    seals: list[Seal] = []
    links_of = _named_in_headers(files, sizes)
    walked: dict[str, _Walked] = {}
    lines = 0
    for book in files:  # the closings come before the days they seal
        commits = _walk(files[book], sizes[book], types, walked, book, links_of)
        if book == "closings":
            seals = seals_of(commits)
            for seal in seals:
                links_of.setdefault(seal.day.isoformat(), set()).add(seal.n)
        else:
            for _ in commits:
                pass
        lines += walked[book].n + 1
        if progress:
            progress(len(walked), len(files))
    for found in list(walked.values()):
        _check_header(found, walked)
    _check_seals(seals, walked)
    findings = [f for found in walked.values() for f in found.findings]
    findings += [Finding(book_of(name), None, torn_notice(name)) for name in folder.torn()]
    return Checked(tuple(findings), len(files), lines, sum(sizes.values()))


def _snapshot(folder: Folder) -> tuple[dict[str, BookFile], dict[str, int]]:
    """All books and how long they are at one moment, so that what is appended while the check
    runs is not taken for an unfinished line."""
    lock = folder.lock
    locked = False
    with suppress(BooksError):  # a copy on a read-only disk cannot be locked, nor need it be
        lock.__enter__()
        locked = True
    try:
        books = [*LONG_BOOKS, *(day.isoformat() for day in folder.days())]
        files = {book: folder.file(book) for book in books}
        looks = {book: file.look() for book, file in files.items()}
    finally:
        if locked:
            lock.__exit__(None, None, None)
    there = [book for book in books if looks[book].stamp is not None]
    return {b: files[b] for b in there}, {b: looks[b].size for b in there}


def _named_in_headers(files: dict[str, BookFile], sizes: dict[str, int]) -> dict[str, set[int]]:
    """For each book the lines that headers of other books name: their links are kept."""
    named: dict[str, set[int]] = {}
    for book, file in files.items():
        with suppress(Misfit, BooksError):
            first = next(whole_lines(file, 0, min(sizes[book], 1 << 12)), b"")
            after = read_header(first, book).after
            if after is not None:
                named.setdefault(after.book, set()).add(after.n)
    return named


def _walk(
    file: BookFile,
    size: int,
    types: Types,
    walked: dict[str, _Walked],
    book: str,
    links_of: dict[str, set[int]],
) -> Iterable[Entry]:
    found = walked[book] = _Walked(book)
    keep = links_of.get(book, set())
    link, end = ORIGIN, 0
    try:
        for line in whole_lines(file, 0, size):
            end += len(line) + 1
            n = found.n + 1
            try:
                link, entry = _read_line(line, link, n, types, found)
                if entry is not None:
                    yield entry
            except Misfit as error:
                found.find(n, f"Line {n} of book {book} is damaged: {error}.")
                # Go on from what the line says of itself, so that each damaged line is named.
                with suppress(Misfit):
                    link = number_and_link(line)[1]
            found.n = n
            if n in keep:
                found.links[n] = link
    except BooksError as error:
        found.find(found.n + 1, str(error))
        return
    if size == 0:
        found.find(0, f"Book {book} is empty: it was emptied, or its first line was not written.")
    elif end < size:
        found.find(
            found.n + 1,
            f"Line {found.n + 1} of book {book} is unfinished; the next writing sets it aside.",
        )


def _read_line(
    line: bytes, before: str, n: int, types: Types, found: _Walked
) -> tuple[str, Entry | None]:
    link = follow_link(line, before)
    if n > 0:
        return link, types.read(line, n)
    found.after = read_header(line, found.book).after
    return link, None


def _check_header(found: _Walked, walked: dict[str, _Walked]) -> None:
    after = found.after
    if after is None:
        return
    says = f"the header of book {found.book} names its line {after.n}"
    before = walked.get(after.book)
    if before is None:
        found.find(0, f"Book {after.book} is missing: {says}.")
    elif after.n > before.n:
        before.find(before.n + 1, f"Book {after.book} ends at line {before.n}, but {says}.")
    elif before.links.get(after.n) != after.link:
        before.find(
            after.n, f"Line {after.n} of book {after.book} is not the one that was there: {says}."
        )


def _check_seals(seals: list[Seal], walked: dict[str, _Walked]) -> None:
    last = {seal.day: seal for seal in seals}
    for seal in seals:
        if not seal.link:
            continue
        book = seal.day.isoformat()
        says = f"the day was closed with line {seal.n}"
        found = walked.get(book)
        if found is None:
            found = walked[book] = _Walked(book)
            found.find(None, f"Book {book} is missing: {says}.")
        elif seal.n > found.n:
            found.find(found.n + 1, f"Book {book} ends at line {found.n}, but {says}.")
        elif found.links.get(seal.n) != seal.link:
            found.find(seal.n, f"Line {seal.n} of book {book} is not the one it was: {says}.")
        elif last[seal.day] is seal and found.n > seal.n:
            found.find(seal.n + 1, f"Line {seal.n + 1} of book {book} was added later: {says}.")
