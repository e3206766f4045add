"""What an archive of a shop folder holds: its list of files, and where its books ended."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

MANIFEST, INSIDE = "manifest.json", "shop/"
MARK = b"sha256="  # before the digest of the whole, at the very end

Progress = Callable[[int, int], None]


class Kept(msgspec.Struct, frozen=True):
    """A file of the shop folder."""

    name: str
    size: int
    sha256: str


class Manifest(msgspec.Struct, frozen=True):
    """What an archive holds."""

    format: int
    shop: str
    files: tuple[Kept, ...]
    n: int = 0  # the last line of the books, and its link
    link: str = ""

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
