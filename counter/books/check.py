"""Are the books as they were written? Every line, every link, every index, every seal."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from counter.books.books import Books, end_is_gone
from counter.books.lines import ORIGIN, Line, Misfit, link_of
from counter.books.tables import text_of
from counter.errors import BooksError

_MOST = 20  # findings; behind them the books are beyond mending by hand


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


def check_books(books: Books, progress: Callable[[int, int], None] | None = None) -> Checked:
    """Verify all lines of a shop, reading only. ``progress`` is told (lines done, lines in all)."""
    findings = list[Finding]()

    def find(line: Line, sentence: str) -> None:
        findings.append(Finding(line.book, line.line, sentence))

    size = 0
    seen: dict[str, int] = {}
    last, before = 0, ORIGIN
    (end, _) = books.end()
    sql = "SELECT n, book, line, link, body FROM lines WHERE n > ? ORDER BY n LIMIT 500"
    while rows := books.engine.rows(sql, [last]):
        for n, book, line, link, body in rows:
            read = Line(n, text_of(book), line, link.hex(), body)
            why = ""
            if n != last + 1:
                why = f"lines {last + 1} to {n - 1} of the shop are missing before it"
            elif link_of(body, before) != read.link:
                why = "its link does not follow from the line before and its own content"
            try:
                books.types.read(read)
            except Misfit as error:
                why = why or str(error)
            if line != seen.get(read.book, 0) + 1:
                why = why or f"line {seen.get(read.book, 0)} of the book stands before it"
            if why:
                find(read, f"Line {line} of book {read.book} is damaged: {why}.")
            seen[read.book], last, before = line, n, read.link
            size += len(body)
        if progress:
            progress(last, end)
    for (said,) in books.engine.rows("PRAGMA integrity_check(20)"):
        if said != b"ok":
            find(Line(0, "", 0, "", b""), f"The engine finds: {text_of(said)}.")
    try:
        if gone := end_is_gone(books):
            raise gone
    except BooksError as error:
        findings.append(Finding("", None, str(error)))
    return Checked(tuple(findings[:_MOST]), len(seen), last, size)
