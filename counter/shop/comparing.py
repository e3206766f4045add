"""A copy beside the books: does each of its lines stand there as it was?"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Literal

import msgspec

from counter.books import Books, Line
from counter.books.copies import Lock, Manifest, unpack
from counter.books.engine import FILE, Rows, reading
from counter.books.lines import Misfit, read_line
from counter.books.tables import lines_in, walk
from counter.books.workplace import Workplace
from labels.say import Said, say

Kind = Literal["same", "shorter", "changed", "apart", "other"]


class Compared(msgspec.Struct, frozen=True, kw_only=True):
    """A copy of ``n`` lines beside the books. ``same``: each of them stands there as it was; else
    ``lines`` of them do not, from ``first`` on, which is ``line`` of ``book``. ``known``,
    ``here`` and ``there``: when the line before it was entered, and that line in either."""

    copy: str
    kind: Kind
    n: int
    first: int = 0
    lines: int = 0
    book: str = ""
    line: int = 0
    known: str = ""
    here: str = ""
    there: str = ""

    @property
    def said(self) -> Said:
        """One sentence."""
        first = say(
            "line {n} (line {line} of {book}, {moment})",
            n=self.first,
            line=self.line,
            book=self.book,
            moment=self.there,
        )
        match self.kind:
            case "same":
                return say(
                    "{file}: all {n} of its lines stand in the books as they were.",
                    file=self.copy,
                    n=self.n,
                )
            case "other":
                return say("{file} is a copy of another shop.", file=self.copy)
            case "shorter":
                return say(
                    "{file} goes on where the books end: from {first} up to line {n}.",
                    file=self.copy,
                    first=first,
                    n=self.n,
                )
            case "changed":
                return say(
                    "No longer as it was is {first}, the first of {n} in {file}.",
                    first=first,
                    n=self.lines,
                    file=self.copy,
                )
        return say(
            "Two computers wrote on from line {n} ({moment}):"
            " this one at {here}, that of {file} at {there}.",
            n=self.first - 1,
            moment=self.known,
            here=self.here,
            file=self.copy,
            there=self.there,
        )


def compare(books: Books, path: Path, lock: Lock | None = None) -> Compared:
    """Whether each line of a copy stands in the books as it was. Raises BadArchive for a copy that
    cannot be trusted, BookDamaged where the books cannot be read."""
    with unpacked(path, lock) as (manifest, rows):
        return compare_lines(books, path.name, manifest.n, rows)


@contextmanager
def unpacked(path: Path, lock: Lock | None = None) -> Iterator[tuple[Manifest, Rows]]:
    """A copy that was proved to its end, and its database."""
    with Workplace("tofu-copy-") as place:
        manifest = unpack(path, Path(place), lock)
        with reading(Path(place) / FILE) as rows:
            yield manifest, rows


def compare_lines(books: Books, copy: str, n: int, rows: Rows) -> Compared:
    """Whether each of the ``n`` lines of an unpacked copy stands in the books as it was."""
    known: Line | None = None
    here = first = known
    (end, _), lines = books.end(), 0
    for then, _ in walk(rows):
        now = next(iter(lines_in(books.engine.rows, "WHERE n = ?", [then.n])), None)
        if now and now.body == then.body:  # a mending gives new links to all
            known = known if first else then
            continue
        lines += 1
        here, first = (here, first) if first else (now, then)
    if first is None:
        return Compared(copy=copy, kind="same", n=n)
    kind: Kind = "other" if lines == n and end else "apart"
    if first.n > end:
        kind = "shorter"
    elif kind == "apart" and (not here or _lost(here) or _entered(here) == _entered(first)):
        kind = "changed"  # else two people wrote two things
    return Compared(
        copy=copy,
        kind=kind,
        n=n,
        first=first.n,
        lines=lines,
        book=first.book,
        line=first.line,
        known=_entered(known),
        here=_entered(here),
        there=_entered(first),
    )


def _lost(line: Line) -> bool:
    """Whether it stands where a mending could not bring one back."""
    with suppress(Misfit):
        return "lost" in read_line(line.body).records
    return False


def _entered(line: Line | None) -> str:
    with suppress(Misfit):
        return f"{read_line(line.body).entered:%Y-%m-%d %H:%M:%S}" if line else ""
    return "?"
