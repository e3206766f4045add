"""The formats of the books' file: what stands in the newest, and how an older one becomes it."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from counter.books.files import FILE, MEND, sync_folder
from counter.errors import BookDamaged, NotAShop
from labels.say import say

APPLICATION_ID = 0x746F6675  # "tofu"
# What brings books up, a step a format: the first one brings format 1 to 2. Lines are never
# changed, only what is beside them: what a record has become since then its type says, by defaults.
STEPS: tuple[tuple[str, ...], ...] = ()
FORMAT = 1 + len(STEPS)
SCHEMA = f"""
BEGIN;
PRAGMA application_id = {APPLICATION_ID};
PRAGMA user_version = {FORMAT};
CREATE TABLE lines (
    n INTEGER PRIMARY KEY, book TEXT NOT NULL, line INTEGER NOT NULL, link BLOB NOT NULL,
    body TEXT NOT NULL, UNIQUE (book, line));
CREATE INDEX begun ON lines (book) WHERE line = 1;
CREATE TABLE keys (key TEXT PRIMARY KEY, n INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE names (name TEXT, n INTEGER, PRIMARY KEY (name, n)) WITHOUT ROWID;
CREATE TABLE unanswered (n INTEGER PRIMARY KEY, program TEXT NOT NULL);
COMMIT;
"""


def copy_whole(con: sqlite3.Connection, to: Path) -> None:
    """Copy the books as they stand into a new file that is whole in itself."""
    with closing(sqlite3.connect(to)) as copy:
        con.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")


def check_format(con: sqlite3.Connection) -> None:
    """Refuse what is no file of books, or of a newer format; bring an older one up. Raises
    BooksError, sqlite3.Error, OSError."""
    (kind,) = con.execute("PRAGMA application_id").fetchone()
    (version,) = con.execute("PRAGMA user_version").fetchone()
    tried = say("open {file}", file=FILE)
    if kind != APPLICATION_ID or version < 1:
        raise BookDamaged(tried, say("it is no file of a shop's books"), MEND, book=FILE, line=0)
    if version > FORMAT:
        why = say(
            "it has format {format}, and this program knows formats up to {newest}",
            format=version,
            newest=FORMAT,
        )
        raise NotAShop(tried, why, say("Use a program that knows format {format}", format=version))
    if version < FORMAT:
        _bring_up(con)


def _bring_up(con: sqlite3.Connection) -> None:
    """Bring books of an older format up, all or nothing; the old ones are kept beside them."""
    name = os.fsdecode(con.execute("PRAGMA database_list").fetchone()[2])
    con.execute("BEGIN IMMEDIATE")
    (version,) = con.execute("PRAGMA user_version").fetchone()  # another may have been first
    if version < FORMAT:
        kept = Path(f"{name}.format-{version}")
        part = kept.with_suffix(".part")
        with closing(sqlite3.connect(name)) as old:
            copy_whole(old, part)
        part.replace(kept)
        sync_folder(kept.parent)
    for statement in (sql for step in STEPS[version - 1 :] for sql in step):
        con.execute(statement)
    con.execute(f"PRAGMA user_version={FORMAT}")
    con.execute("COMMIT")
