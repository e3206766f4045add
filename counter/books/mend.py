"""Damaged books brought back: every whole line that still lies in the file, proved by its link.

Nothing is asked of the engine: the pages of the file, and of the log beside it, are read as they
lie on the disk, so that a page that is hit takes with it only what stands on it, and not what the
tree had below it. A line is whole when its link follows from the line before. Where that one is
lost nobody can tell, and the line is brought back unproved.

Source of the layout of pages, cells and frames: "Database File Format" in the engine's
documentation (from memory); proved by ``tests/crash/flips.py``.
"""

from __future__ import annotations

import os
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO, NamedTuple

from counter.books.engine import FILE, refused
from counter.books.files import sync_folder
from counter.books.lines import ORIGIN, Line, Misfit, link_of, read_line
from counter.errors import BooksError

try:
    import fcntl
except ImportError:  # pragma: no cover - Windows does not replace what is open
    fcntl = None  # type: ignore[assignment]

_TRIED = "mend the shop"
_PATIENCE_S = 3.0
PAGE = 4096  # the engine's own default, which no shop's file ever left
_SHARED = 0x40000002, 510  # the bytes of a file that every program which has it open has locked
_LEAF, _INDEX, _INDEX_LEAF = 13, 2, 10
Value = int | bytes | None


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
        for row, values in _records(data, frames):
            match values:
                case [_, _, _, bytes(link), bytes(body)]:
                    self.add(row, link.hex(), body)
                case [bytes(book), int(line), int(n)]:
                    self.places.setdefault(n, (book.decode("ascii", "replace"), line))
                case [bytes(name), int(n)]:
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


class Brought(NamedTuple):
    """What became of one line: None where it is lost; whether its link proved it; whether it comes
    out of a copy."""

    line: Line | None
    proved: bool = False
    copied: bool = False


def bring_back(own: Kept, copies: Kept, last: tuple[int, str]) -> Iterator[tuple[int, Brought]]:
    """Each line of the shop, from the first on. ``last`` is the one that was answered last. Of
    ``copies`` only what follows from the lines of this shop is taken."""
    before, known = {ORIGIN}, True
    for n in range(1, max(own.top, copies.top, last[0]) + 1):
        behind = (*own.lines.get(n + 1, ()), *copies.lines.get(n + 1, ()))
        found = Brought(None)
        for copied, kept in ((False, own), (True, copies)):
            for line in kept.lines.get(n, ()):
                if not found.proved and (link := _proved(line, before, behind, last)):
                    found = Brought(line._replace(link=link), True, copied)
        if found.line is None and not known and n in own.lines:
            found = Brought(own.lines[n][0])
        known = found.proved
        before = {found.line.link} if known and found.line else own.links.get(n, set())
        yield n, found


def _proved(
    line: Line, before: set[str], behind: Iterable[Line], last: tuple[int, str]
) -> str:  # fmt: skip
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
            gaps = [(b[-1].n, book) for book, b in ahead.items()
                    if b and b[-1].line > at.get(book, 0) + 1]  # fmt: skip
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
            do = "Close it, the counter page too, then run `counter mend` again"
            raise BooksError(_TRIED, "another program has it open", do)
        time.sleep(0.01)


def _opened(path: Path) -> BinaryIO:
    return os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT, 0o600), "r+b")


def set_aside(file: BinaryIO, folder: Path, stamp: str) -> Path:
    """Copy the damaged file and its log to where they are kept, readable by their owner only."""
    kept = folder / f"{FILE}.damaged-{stamp}"
    log = folder / f"{FILE}-wal"
    file.seek(0)
    for end, data in (("", file.read()), ("-wal", log.read_bytes() if log.exists() else b"")):
        if data:
            with _opened(kept.with_name(kept.name + end)) as out:
                _write(out, data)
    sync_folder(folder)
    return kept


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


# -- pages, cells and records as they lie on the disk


def _records(data: bytes, log: bytes) -> Iterator[tuple[int, list[Value]]]:
    """The records of a file and its log, with their row; row 0 for those of an index."""
    frames = list(_frames(log))
    newest = dict(frames)
    pages = ((at // PAGE + 1, data[at : at + PAGE]) for at in range(0, len(data), PAGE))
    for number, page in (*frames, *pages):
        head = 100 if number == 1 else 0
        kind = page[head] if head < len(page) else 0
        if kind == 0:
            continue  # one that goes on with a long record
        table, inner = kind not in (_INDEX, _INDEX_LEAF), 4 if kind == _INDEX else 0
        begin = head + 8 + inner
        count = min(int.from_bytes(page[head + 3 : head + 5]), (PAGE - begin) // 2)
        for at in range(begin, begin + 2 * count, 2):
            with suppress(IndexError, ValueError):
                size, cell = _varint(page, int.from_bytes(page[at : at + 2]) + inner)
                row, cell = _varint(page, cell) if table else (0, cell)
                yield row, _values(_payload(page, cell, size, table, newest, data))


def _frames(log: bytes) -> Iterator[tuple[int, bytes]]:
    """The pages in the log up to its last whole commit, whatever their checksums say."""
    step = 24 + PAGE
    heads = [log[at : at + 24] for at in range(32, len(log) - step + 1, step)]
    salt = Counter([log[16:24], *(head[8:16] for head in heads[:2])]).most_common(1)[0][0]
    ours = [i for i, head in enumerate(heads) if head[8:16] == salt]
    last = max((i for i in ours if any(heads[i][4:8])), default=-1)
    for i in ours:
        if i <= last:
            begin = 32 + i * step + 24
            yield int.from_bytes(heads[i][:4]), log[begin : begin + PAGE]


def _payload(
    page: bytes, at: int, size: int, table: bool, newest: dict[int, bytes], data: bytes
) -> bytes:  # fmt: skip
    """The content of a cell, with what stands of it on pages of its own."""
    if size > len(data) + PAGE * len(newest):
        raise ValueError(size)
    most = PAGE - 35 if table else (PAGE - 12) * 64 // 255 - 23
    least = (PAGE - 12) * 32 // 255 - 23
    here = size if size <= most else least + (size - least) % (PAGE - 4)
    here = here if here <= most else least
    parts, left = [page[at : at + here]], size - here
    following = int.from_bytes(page[at + here : at + here + 4]) if left > 0 else 0
    while left > 0 and following:
        begin = (following - 1) * PAGE
        more = newest.get(following) or data[begin : begin + PAGE]
        parts.append(more[4 : 4 + left])
        left, following = left - (PAGE - 4), int.from_bytes(more[:4])
    return b"".join(parts)


def _values(record: bytes) -> list[Value]:
    size, at = _varint(record, 0)
    kinds = []
    while at < size:
        kind, at = _varint(record, at)
        kinds.append(kind)
    found: list[Value] = []
    for kind in kinds:
        length = (kind - 12) // 2 if kind > 11 else (0, 1, 2, 3, 4, 6, 8, 8, 0, 0, 0, 0)[kind]
        text = record[at : at + length]
        number = kind - 8 if kind in (8, 9) else int.from_bytes(text, signed=True)
        found.append(text if kind > 11 else number if kind else None)
        at += length
    return found


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for _ in range(8):
        byte, at = data[at], at + 1
        value = value << 7 | byte & 127
        if byte < 128:
            return value, at
    return value << 8 | data[at], at + 1
