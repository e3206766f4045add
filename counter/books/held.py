"""What a program holds only while it lives: a log that it proved, a folder that it works in."""

from __future__ import annotations

import glob
import os
import shutil
import struct
import tempfile
import time
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

try:
    import fcntl
except ImportError:  # pragma: no cover - Windows
    fcntl = None  # type: ignore[assignment]

_OFD = hasattr(fcntl, "F_OFD_GETLK")  # locks that go with a descriptor, not with a program
_LOCK = "hhqqi4x"  # kind, whence, start, length, owner
_JUST_MADE_S = 10


class Vouching:
    """Tells others that a file was proved, until it is let go or the program dies; where the system
    has nothing to tell it by, nobody hears."""

    _held = -1

    def begin(self, file: str) -> None:
        """Vouch for this file from now on."""
        self.end()
        with suppress(OSError):
            if _OFD:
                self._held = os.open(file, os.O_RDONLY)
                fcntl.fcntl(self._held, fcntl.F_OFD_SETLK, _lock(fcntl.F_RDLCK))

    def end(self) -> None:
        """Vouch no more."""
        if self._held >= 0:
            os.close(self._held)
            self._held = -1


def vouched(file: str) -> bool:
    """Whether somebody vouches for a file just now, on a disk that can be written to."""
    with suppress(OSError):
        if _OFD and os.access(file, os.W_OK) and Path(file).stat().st_size:
            with Path(file).open("rb") as opened:
                said = fcntl.fcntl(opened, fcntl.F_OFD_GETLK, _lock(fcntl.F_WRLCK))
            return bool(struct.unpack(_LOCK, said)[0] != fcntl.F_UNLCK)
    return False


def _lock(kind: int) -> bytes:
    return struct.pack(_LOCK, kind, 0, 0, 1, 0)


class Workplace(TemporaryDirectory[str]):
    """A folder to work in that nobody else may read (0700), in ``place`` or where the system has
    such. What programs that died left there under this name is cleared first."""

    def __init__(self, prefix: str, place: Path | None = None) -> None:
        place = place or Path(tempfile.gettempdir())
        for left in place.glob(f"{glob.escape(prefix)}*.part"):
            with suppress(OSError):
                # It was made a moment before it was locked.
                if time.time() - left.stat().st_mtime > _JUST_MADE_S and (fd := _taken(left)):
                    shutil.rmtree(left, ignore_errors=True)
                    os.close(fd)
        super().__init__(prefix=prefix, suffix=".part", dir=place, ignore_cleanup_errors=True)
        self._held = _taken(Path(self.name))

    def cleanup(self) -> None:
        """Throw it away."""
        super().cleanup()
        if self._held:
            os.close(self._held)
            self._held = 0


def _taken(folder: Path) -> int:
    """A descriptor that locks a folder as long as this program lives; 0 where another has it."""
    if fcntl is None:  # pragma: no cover - there a folder cannot be opened, nor one in use deleted
        return 0
    fd = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(fd)
        return 0
    return fd
