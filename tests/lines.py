"""The lines of a shop's books as the engine's own library reads them, past the program."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path


def lines_of(folder: Path, book: str = "") -> list[str]:
    """The lines of a book in order, or of all books; none where there are no books yet."""
    if not (folder / "books.sqlite").exists():
        return []
    with closing(sqlite3.connect(folder / "books.sqlite")) as con:
        rows = con.execute("SELECT book, body FROM lines ORDER BY n").fetchall()
    return [body for where, body in rows if book in ("", where)]


def kept(folder: Path) -> dict[str, bytes]:
    """All that lies in a shop folder, by name: files by their bytes, the books by their lines."""
    files = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith("books.")
    }
    return {**files, "books": "\n".join(lines_of(folder)).encode()}


def spoil(folder: Path, book: str, old: str, new: str) -> None:
    """Change what stands in a book, as somebody would who can write the folder."""
    with closing(sqlite3.connect(folder / "books.sqlite")) as con, con:
        changed = con.execute(
            "UPDATE lines SET body = replace(body, ?, ?) WHERE book = ? AND instr(body, ?)",
            (old, new, book, old),
        )
        assert changed.rowcount, f"no line of book {book} holds {old}"
