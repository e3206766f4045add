"""Files beside the books: private, whole, and lasting."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from stat import S_ISLNK

BLOCK = 1 << 20
_PAGE = 4096  # of the database, and of most disks


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
