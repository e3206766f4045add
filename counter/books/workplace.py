"""A folder that a program works in, held only while it lives."""

from __future__ import annotations

import glob
import os
import shutil
import tempfile
import time
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

try:
    import fcntl
except ImportError:  # pragma: no cover - Windows
    fcntl = None  # type: ignore[assignment]

_JUST_MADE_S = 10


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
