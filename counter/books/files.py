"""Files beside the books: private, whole, and lasting."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

BLOCK = 1 << 20


def sync_folder(folder: Path) -> None:
    """Make a new name in a folder survive a power cut."""
    if os.name == "nt":  # pragma: no cover - there a folder cannot be opened, nor need it be
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


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

    Folders within are 0700, so what lies in them need not be looked at one by one. On a disk that
    takes nothing, all stays as it is.
    """
    with suppress(OSError):
        folder.chmod(0o700)
        for path in folder.iterdir():
            if not path.is_symlink():
                path.chmod(0o700 if path.is_dir() else 0o600)
