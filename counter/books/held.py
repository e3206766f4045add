"""What a program holds only while it lives: a log that it proved."""

from __future__ import annotations

import os
import struct
from contextlib import suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # pragma: no cover - Windows
    fcntl = None  # type: ignore[assignment]

_OFD = hasattr(fcntl, "F_OFD_GETLK")  # locks that go with a descriptor, not with a program
_LOCK = "hhqqi4x"  # kind, whence, start, length, owner


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
