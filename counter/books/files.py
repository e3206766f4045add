"""Where the bytes of a book lie: the short contract, and its form on a disk.

A book's file can be looked at, read, appended to and, for an unfinished last line, cut. Nothing
else is ever done to it. ``append`` answers only once the disk has it.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import NamedTuple, Protocol

from counter.errors import DiskRefused

_BINARY = getattr(os, "O_BINARY", 0)  # Windows would write CR LF without it
BLOCK = 1 << 20

_WHY = {
    errno.ENOSPC: ("the disk is full", "Make room on the disk, then do it again"),
    errno.EDQUOT: ("the disk quota is used up", "Make room on the disk, then do it again"),
    errno.EFBIG: ("the file may not grow further", "Raise the limit, then do it again"),
    errno.EIO: ("the disk reports an error", "Copy the shop to another disk, then do it again"),
    errno.EROFS: ("the disk is read-only", "Work on the shop's own disk, not on a copy"),
    errno.EACCES: ("the file may not be written", "Ask the owner of the folder for the right"),
}


class Look(NamedTuple):
    """What can be known of a file without reading it. ``stamp`` is None where there is none."""

    size: int
    stamp: tuple[int, int] | None
    changed: int = 0


class BookFile(Protocol):
    """The bytes of one book. ``name`` is the path inside the shop folder."""

    name: str

    def look(self) -> Look:
        """Size and identity now."""

    def read(self, start: int, end: int) -> bytes:
        """The bytes from ``start`` up to ``end``, fewer where the file is shorter."""

    def tail(self, end: int, length: int) -> bytes:
        """The ``length`` bytes before ``end``; asked before every append, so it must be cheap."""

    def append(self, at: int, data: bytes) -> None:
        """Add ``data`` behind the ``at`` bytes there are. DiskRefused leaves these as they were."""

    def set_aside(self, at: int, end: int) -> str:
        """Copy the bytes from ``at`` to a file beside the book, cut them off, name that file."""

    def close(self) -> None:
        """Let go of the file."""


def whole_lines(file: BookFile, start: int, end: int) -> Iterator[bytes]:
    """The complete lines between two places, without their LF, read a block at a time.

    A last line without LF is not given: it is not yet, or will never be, a line.
    """
    rest = b""
    for at in range(start, end, BLOCK):
        lines = (rest + file.read(at, min(at + BLOCK, end))).split(b"\n")
        rest = lines.pop()
        yield from lines


def refused(tried: str, error: OSError, *, withdrawn: bool = True) -> DiskRefused:
    """The sentence for what the system answered."""
    number = error.errno or 0
    why, do = _WHY.get(number, (error.strerror or str(error), "Look at the disk, then try again"))
    if not withdrawn:
        do = f"See whether it is in the book all the same. {do}"
        return DiskRefused(tried, f"{why}, and what was begun could not be taken back", do)
    return DiskRefused(tried, f"{why}, nothing was written", do)


def sync_folder(folder: Path) -> None:
    """Make a new name in a folder survive a power cut."""
    if os.name == "nt":  # pragma: no cover - there a folder cannot be opened, nor need it be
        return
    fd = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def make_folders(folder: Path) -> None:
    """Make a folder and those above it, each of them lasting."""
    if folder.is_dir():
        return
    make_folders(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def _write(fd: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        view = view[os.write(fd, view) :]
    os.fsync(fd)


class DiskFile:
    """A book's file on a disk. The descriptor stays open between appends: opening costs as much
    as writing."""

    def __init__(self, folder: Path, name: str) -> None:
        self.name, self._path = name, folder / name
        self._text = str(self._path)
        self._seen: tuple[int, int] | None = None
        self._fd = -1
        self._fd_stamp: tuple[int, int] | None = None

    def look(self) -> Look:
        try:
            stat = os.stat(self._text)  # noqa: PTH116 - half the cost of Path.stat, at every sale
        except FileNotFoundError:
            self._seen = None
            return Look(0, None)
        except OSError as error:
            raise self._unreadable(error) from None
        self._seen = stat.st_dev, stat.st_ino
        return Look(stat.st_size, self._seen, stat.st_mtime_ns)

    def read(self, start: int, end: int) -> bytes:
        try:
            with self._path.open("rb") as file:
                file.seek(start)
                return file.read(end - start)
        except FileNotFoundError:
            return b""
        except OSError as error:
            raise self._unreadable(error) from None

    def tail(self, end: int, length: int) -> bytes:
        if self._fd >= 0 and self._fd_stamp == self._seen and hasattr(os, "pread"):
            try:
                return os.pread(self._fd, length, end - length)
            except OSError as error:
                raise self._unreadable(error) from None
        return self.read(end - length, end)

    def append(self, at: int, data: bytes) -> None:
        tried = f"write into {self.name}"
        new = self._seen is None
        try:
            fd = self._create() if new else self._open()
        except OSError as error:
            raise refused(tried, error) from error
        try:
            _write(fd, data)
        except OSError as error:
            raise refused(tried, error, withdrawn=self._withdraw(at, new)) from error
        except BaseException:  # Ctrl-C between write and fsync: it was never acknowledged
            self._withdraw(at, new)
            raise

    def set_aside(self, at: int, end: int) -> str:
        tried = f"set the unfinished last line of {self.name} aside"
        fragment = self.read(at, end)
        try:
            beside = self._write_beside(fragment)
            sync_folder(self._path.parent)
            fd = self._open()
            os.ftruncate(fd, at)
            os.fsync(fd)
        except OSError as error:
            raise refused(tried, error) from error
        return str(Path(self.name).with_name(beside.name).as_posix())

    def close(self) -> None:
        if self._fd >= 0:
            os.close(self._fd)
            self._fd, self._fd_stamp = -1, None

    def __del__(self) -> None:
        self.close()

    def _open(self) -> int:
        # A backup put back under the same name is another file: the old descriptor would write
        # into a file that nobody can find any more.
        if self._fd < 0 or self._fd_stamp != self._seen:
            self.close()
            self._fd = os.open(self._text, os.O_RDWR | os.O_APPEND | _BINARY)
            stat = os.fstat(self._fd)
            self._fd_stamp = stat.st_dev, stat.st_ino
        return self._fd

    def _create(self) -> int:
        self.close()
        folder = self._path.parent
        make_folders(folder)
        before = folder.stat()
        flags = os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_EXCL | _BINARY
        self._fd = os.open(self._text, flags, 0o666)
        try:
            stat = os.fstat(self._fd)
            self._fd_stamp = self._seen = stat.st_dev, stat.st_ino
            if folder.stat().st_mtime_ns <= before.st_mtime_ns:
                # Two new books within one tick of the disk's clock: whoever listed the folder
                # between them would take its list for current.
                os.utime(folder, ns=(before.st_atime_ns, before.st_mtime_ns + 1))
            sync_folder(folder)
        except OSError:
            self._withdraw(0, new=True)
            raise
        return self._fd

    def _withdraw(self, at: int, new: bool) -> bool:
        """Back to the former length; whether that was possible. Where it was not, the rule of the
        unfinished line heals it at the next writing."""
        withdrawn = False
        with suppress(OSError):
            os.ftruncate(self._fd, at)
            withdrawn = True
            os.fsync(self._fd)
        if new:
            with suppress(OSError):
                self._path.unlink()
            self._seen = None
        self.close()
        return withdrawn

    def _write_beside(self, fragment: bytes) -> Path:
        for number in count(1):
            beside = self._path.with_name(f"{self._path.name}.torn-{number}")
            try:
                fd = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)
            except FileExistsError:
                continue
            try:
                _write(fd, fragment)
            except OSError:
                beside.unlink()
                raise
            finally:
                os.close(fd)
            return beside
        raise AssertionError("count() ended")  # pragma: no cover - it never does

    def _unreadable(self, error: OSError) -> DiskRefused:
        why = f"the disk does not answer ({error.strerror or error})"
        return DiskRefused(f"read {self.name}", why, "Copy the shop to another disk")
