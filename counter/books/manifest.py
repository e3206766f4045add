"""What an archive of a shop folder holds: its list of files, and where each book ended."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from counter.books.folder import LONG_BOOKS, day_of, file_of
from counter.books.lines import ORIGIN, Misfit, follow_link

MANIFEST, INSIDE = "manifest.json", "shop/"
MARK = b"sha256="  # before the digest of the whole, at the very end

Progress = Callable[[int, int], None]


class Kept(msgspec.Struct, frozen=True):
    """A file of the shop folder."""

    name: str
    size: int
    sha256: str


class BookEnd(msgspec.Struct, frozen=True):
    """Where a book ended: its last line and link. ``damaged`` names the first line that does not
    follow, in a book that was already damaged when it was copied."""

    book: str
    n: int
    link: str
    damaged: int | None = None


class Manifest(msgspec.Struct, frozen=True):
    """What an archive holds."""

    format: int
    shop: str
    files: tuple[Kept, ...]
    books: tuple[BookEnd, ...]

    @property
    def size(self) -> int:
        return sum(kept.size for kept in self.files)


def safe_name(name: str) -> bool:
    """Whether a name stays inside its folder and can be written on any system."""
    parts = name.split("/")
    return (
        len(name) <= 1000
        and name.isprintable()
        and not set(name) & set('\\:*?"<>|')
        and all(part not in ("", ".", "..") and len(part) <= 240 for part in parts)
    )


class BookWalk:
    """Follows the links of a book while its bytes go by."""

    def __init__(self, book: str) -> None:
        self.book, self.n, self.link = book, -1, ORIGIN
        self.damaged: int | None = None
        self._rest = b""

    def feed(self, block: bytes) -> None:
        lines = (self._rest + block).split(b"\n")
        self._rest = lines.pop()
        for line in lines:
            if self.damaged is not None:
                return
            try:
                self.link, self.n = follow_link(line, self.link), self.n + 1
            except Misfit:
                self.damaged = self.n + 1

    def end(self) -> BookEnd:
        return BookEnd(self.book, self.n, self.link, self.damaged)


def walk_of(name: str) -> BookWalk | None:
    """Who follows the links of a file, if it is a book."""
    book = name.rpartition("/")[2].removesuffix(".jsonl")
    known = book in LONG_BOOKS or day_of(f"{book}.jsonl") is not None
    return BookWalk(book) if known and file_of(book) == name else None


class Teller:
    """Tells how far something is, in bytes."""

    def __init__(self, progress: Progress | None, whole: int) -> None:
        self._progress, self._whole, self._done = progress, whole, 0

    def more(self, size: int) -> None:
        self.at(self._done + size)

    def at(self, done: int) -> None:
        self._done = min(done, self._whole)
        if self._progress:
            self._progress(self._done, self._whole)
