"""One writer at a time: among the threads of a process and among processes.

The file lock is held on a descriptor that stays open, since opening and closing a lock file at
every sale costs half as much as the fsync itself. Three things follow, and each is looked after
here: the lock file may be deleted (then two programs would lock two different files), a forked
child shares its parent's descriptor (and so its lock), and threads of one process share it too.
"""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path
from types import TracebackType

from filelock import lock_descriptor, unlock_descriptor

from counter.books.files import refused
from counter.errors import BooksError

PATIENCE_S = 30.0  # far longer than any commit; who waits longer waits for something broken
_POLL_S = 0.001


class ShopLock:
    """The shop's lock, re-entrant in a thread. Without a path it holds only among threads."""

    def __init__(self, path: Path | None, patience_s: float = PATIENCE_S) -> None:
        self._path, self._patience_s = path, patience_s
        self._threads = threading.RLock()
        self._owner = self._depth = 0
        self._fd, self._pid = -1, 0

    @property
    def held(self) -> bool:
        """Whether this very thread holds the lock."""
        return self._depth > 0 and self._owner == threading.get_ident()

    def __enter__(self) -> bool:
        """Take the lock; whether this is the outermost of several in this thread."""
        deadline = time.monotonic() + self._patience_s
        if not self._threads.acquire(timeout=self._patience_s):
            raise self._taken("thread of this program")
        try:
            if self._depth == 0:
                self._lock_file(deadline)
                self._owner = threading.get_ident()
            self._depth += 1
            return self._depth == 1
        except BaseException:
            self._threads.release()
            raise

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self._depth -= 1
        try:
            if self._depth == 0 and self._fd >= 0:
                unlock_descriptor(self._fd)
        finally:
            self._threads.release()

    def close(self) -> None:
        """Let go of the lock file."""
        with self._threads:
            if self._fd >= 0 and self._depth == 0:
                os.close(self._fd)
                self._fd = -1

    def _lock_file(self, deadline: float) -> None:
        if self._path is None:
            return
        try:
            while True:
                self._open(self._path)
                if lock_descriptor(self._fd, blocking=False):
                    if os.fstat(self._fd).st_nlink:
                        return
                    os.close(self._fd)
                    self._fd = -1
                elif time.monotonic() > deadline:
                    raise self._taken("program")
                else:
                    time.sleep(_POLL_S)
        except OSError as error:
            raise refused("write into the shop", error) from error

    def _open(self, path: Path) -> None:
        if self._fd >= 0 and self._pid == os.getpid():
            return
        if self._fd >= 0:
            os.close(self._fd)  # the parent's: closing a copy does not release its lock
        self._fd = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        self._pid = os.getpid()

    def _taken(self, by: str) -> BooksError:
        why = f"another {by} has been writing for {self._patience_s:g} seconds"
        return BooksError("write into the shop", why, "Close it, then do it again")

    def __del__(self) -> None:
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1
