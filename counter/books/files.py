"""Files beside the books: private, whole, and lasting."""

from __future__ import annotations

import errno
import os
import sqlite3
from contextlib import suppress
from pathlib import Path
from stat import S_ISLNK

from counter.errors import BookDamaged, BooksError, DiskRefused
from labels.errors import answer_of
from labels.say import Said, figure, say

FILE = "books.sqlite"
MEND = say("Run `counter mend`")
PATIENCE_S = 30.0  # far longer than any commit; who waits longer waits for something broken
BLOCK = 1 << 20
_PAGE = 4096  # of the database, and of most disks
_WHY = {
    sqlite3.SQLITE_FULL: (say("the disk is full"), say("Make room on the disk, then do it again")),
    sqlite3.SQLITE_IOERR: (
        say("the disk reports an error"),
        say("Copy the shop to another disk, then do it again"),
    ),
    sqlite3.SQLITE_READONLY: (
        say("the disk is read-only"),
        say("Work on the shop's own disk, not on a copy"),
    ),
    sqlite3.SQLITE_CANTOPEN: (
        say("the file cannot be opened"),
        say("Look at the disk and at the rights of the folder"),
    ),
}
_SAME = {errno.EIO: sqlite3.SQLITE_IOERR, errno.EROFS: sqlite3.SQLITE_READONLY}
_SAME |= dict.fromkeys((errno.ENOSPC, errno.EDQUOT), sqlite3.SQLITE_FULL)


def refused(tried: Said, error: OSError | sqlite3.Error) -> BooksError:
    """The sentence for what the system or the engine answered; a file cut under it is damaged."""
    own = _SAME.get(error.errno or 0, 0) if isinstance(error, OSError) else None
    full = getattr(error, "sqlite_errorcode", 0)
    code = full & 0xFF if own is None else own
    if code == sqlite3.SQLITE_BUSY:
        why = say(
            "another program has been writing for {seconds} seconds",
            seconds=figure(f"{PATIENCE_S:g}"),
        )
        return BooksError(tried, why, say("Close it, then do it again"))
    cut = str(error).startswith("no such table") or full == sqlite3.SQLITE_IOERR_SHORT_READ
    if cut or code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return BookDamaged(
            tried, say("{file} is damaged ({why})", file=FILE, why=error), MEND, book=FILE, line=0
        )
    said = answer_of(error) if isinstance(error, OSError) else Said(str(error).lower())
    why, do = _WHY.get(code, (said, say("Look at the disk, then do it again")))
    return DiskRefused(tried, why, do)


def sync_folder(folder: Path) -> None:
    """Make a new name in a folder survive a power cut."""
    if os.name == "nt":  # pragma: no cover - there a folder cannot be opened, nor need it be
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def copy_pages(source: Path, to: Path) -> None:
    """Copy what the disk still gives of a file, if there is one. Zeros stand for the rest."""
    with suppress(FileNotFoundError), source.open("rb", buffering=0) as read, to.open("wb") as out:
        for at in range(0, out.truncate(source.stat().st_size), _PAGE):
            with suppress(OSError):
                read.seek(at)
                page = read.read(_PAGE)
                out.seek(at)
                out.write(page)


def write_anew(file: Path) -> None:
    """Write what stands in a file over itself and sync it: what a failed sync may have left in
    memory only. Nobody else may write into it meanwhile."""
    with file.open("r+b") as opened:
        while block := opened.read(BLOCK):
            opened.seek(-len(block), os.SEEK_CUR)
            opened.write(block)
        opened.flush()
        if opened.tell():
            os.fsync(opened.fileno())


def keep_private(folder: Path) -> None:
    """Let nobody but their owner read a shop folder and the files in it: 0700 and 0600.

    Folders within are 0700, so what lies in them need not be looked at one by one. What belongs to
    somebody else, or lies on a disk that takes nothing, stays as it is.
    """
    with suppress(OSError):
        for path in (folder.resolve(), *folder.iterdir()):
            with suppress(OSError):
                mode = path.lstat().st_mode
                if mode & 0o077 and not S_ISLNK(mode):
                    path.chmod(mode & 0o700)


def free_bytes(folder: Path) -> int:
    """What is free on the disk of a folder. Raises OSError."""
    from shutil import disk_usage  # by who is in trouble: it brings all kinds of archives along

    return disk_usage(folder).free
