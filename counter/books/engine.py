"""The file of the books: SQLite in WAL mode, synced at every commit.

What is visible was synced: SQLite shows a commit to other connections only after its sync. The one
exception is a log that a dead program left behind, which the first to open the file reads again:
so what was found there is brought into the database and synced (a checkpoint) before it is
answered for. After a refusal of the disk the connection is given up, and nothing is written until
a checkpoint has gone through.

Source: "Write-Ahead Logging" and "Atomic Commit In SQLite" in the engine's documentation (from
memory); proved by ``tests/crash``.
"""

from __future__ import annotations

import errno
import os
import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager, nullcontext, suppress
from pathlib import Path
from typing import Any
from zlib import crc32

from counter.books.files import FILE as FILE
from counter.books.files import MEND as MEND
from counter.books.files import PATIENCE_S, copy_pages, free_bytes, sync_folder, write_anew
from counter.books.files import refused as refused
from counter.books.formats import SCHEMA, check_format, copy_whole
from counter.books.held import Vouching, vouched
from counter.errors import BookDamaged, BooksError, DiskRefused
from labels.say import figure, say

Rows = Callable[..., list[Any]]  # what a question answers: a text and its values
LAST = "books.last"
RESTORED = "restored.txt"  # left by a restore until somebody has said which numbers are out
# A short log: less is lost with a bad one, and once it goes round, a sync need not grow the file.
_LOG_PAGES = 128
_END = "SELECT coalesce(max(n), 0) FROM lines"


@contextmanager
def reading(file: Path) -> Iterator[Rows]:
    """Ask a file as it lies on the disk, and nothing that was read before."""
    try:
        uri = f"{file.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True)) as con:
            con.text_factory = bytes
            yield lambda sql, values=(): con.execute(sql, values).fetchall()
    except sqlite3.Error as error:
        raise refused(say("read the books"), error) from error


class Engine:
    """The one connection of a program to the books of one shop. ``folder`` None: in memory.

    ``epoch`` grows whenever what was read before may no longer hold: another program wrote, a
    transaction was taken back, or the file was opened anew.
    """

    def __init__(self, folder: Path | None) -> None:
        self.file = folder / FILE if folder else None
        self._paths = [str(self.file), f"{self.file}-wal"] if self.file else []
        self.lock = threading.RLock()
        self.epoch = 0
        self.refused: BooksError | None = None  # the disk's last word, until it is proved again
        self._con: sqlite3.Connection | None = None
        self._proved = False
        self._version = -1
        self._depth = self._wrote = 0
        self._last, self._vouching = -1, Vouching()
        self._aside: Any = None
        self._stamp = list[tuple[int, int, int]]()  # of the files as this program knows them
        self.moved = False  # they are not, nobody having committed: somebody should look
        if self.file is None:
            self.connection().executescript(SCHEMA)

    def create(self) -> None:
        """Begin the file of a new shop, or of one that is built up again. Raises DiskRefused."""
        assert self.file is not None
        try:
            with closing(sqlite3.connect(self.file, isolation_level=None)) as con:
                con.execute("PRAGMA journal_mode=WAL")
                con.executescript(SCHEMA)
        except sqlite3.Error as error:
            raise refused(say("begin the books of a shop"), error) from error

    # -- reading

    def connection(self) -> sqlite3.Connection:
        """The connection, opened if it is not. Raises BooksError."""
        if self._con is None:
            log = b""
            with suppress(OSError, IndexError):
                log = Path(self._paths[1]).read_bytes()
            try:
                con, whole = self._connect(), False
            except BookDamaged:
                self._keep(log)
                raise
            with suppress(sqlite3.Error):  # who asks next is told
                whole = not log or self.witnessed()[0] <= con.execute(_END).fetchone()[0]
            if not whole:
                self._keep(log)
            self.epoch += 1
            self._version = con.execute("PRAGMA data_version").fetchone()[0]
            self._con, self.moved, self._stamp = con, True, self._stamped()
        return self._con

    def _keep(self, log: bytes) -> None:
        """Keep a log as it was found: of a damaged one the engine takes the beginning, and throws
        away the rest, which may be whole."""
        if self.file is not None and log:
            kept = self.file.with_name(f"{FILE}.damaged-{self.witnessed()[0]}-wal")
            with suppress(OSError):
                new = os.open(kept, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
                with os.fdopen(new, "wb") as out:
                    out.write(log)

    def rows(self, sql: str, values: Sequence[object] = ()) -> list[Any]:
        """What a question answers. Raises BooksError."""
        with self.lock:
            try:
                return (self._con or self.connection()).execute(sql, values).fetchall()
            except UnicodeEncodeError:
                return []  # bytes that are no text stand in no book
            except sqlite3.Error as error:
                self.close()  # within a transaction, too: the engine may have taken it back
                raise refused(say("read the books"), error) from error

    def look(self) -> int:
        """The epoch now, after a look whether another program wrote: some microseconds."""
        with self.lock:
            if self._depth == 0 or self._con is None:
                stamp = self._stamped()
                if self._gone(stamp) or (self._aside is not None and stamp != self._stamp):
                    self.close()  # others write elsewhere
                con, epoch = self._con, self.epoch
                self._see_others()
                if self._con is con:
                    self.moved |= stamp != self._stamp and epoch == self.epoch
                    self._stamp = stamp
            return self.epoch

    def _see_others(self) -> None:
        (version,) = self.rows("PRAGMA data_version")[0]
        if version != self._version:
            self._version = version
            self.epoch += 1

    # -- writing

    def begin(self) -> bool:
        """Be the only writer, among threads and programs; whether this is the outermost of several
        in this thread. Raises BooksError when the disk, or another writer, does not let go."""
        if not self.lock.acquire(timeout=PATIENCE_S):
            why = say(
                "another thread has been writing for {seconds} seconds",
                seconds=figure(f"{PATIENCE_S:g}"),
            )
            raise BooksError(say("write into the shop"), why, say("Do it again"))
        if self._depth:
            self._depth += 1
            return False
        self._wrote = 0
        try:
            self.prove()
            self._execute("BEGIN IMMEDIATE")
            self._see_others()
        except BaseException:
            self._take_back()
            self.lock.release()
            raise
        self._depth = 1
        return True

    def end(self, *, keep: bool) -> None:
        """End what :meth:`begin` began: commit and sync at the outermost, or take it back.

        Raises DiskRefused; then nothing counts as written, and whether it is shows when the disk
        answers again.
        """
        try:
            if keep and self._depth == 1:
                self.write("COMMIT")
                stamp = self._stamped()
                if self._gone(stamp):
                    tried = say("write into the shop")
                    raise DiskRefused(tried, say("{file} is another file now", file=FILE), MEND)
                self._stamp = stamp
        finally:
            # All of it where a part that wrote has failed, whoever catches the error.
            if self._depth == 1 or (self._wrote and not keep):
                self._take_back()
            self._depth -= 1
            self.lock.release()

    def write(self, sql: str, values: Sequence[object] = ()) -> None:
        """One statement of the transaction that was begun, never one by itself."""
        self._wrote = 1
        if self._con is None or not self._con.in_transaction:
            why = say("what belongs to it could not be written")
            raise self.refused or BooksError(say("write into the shop"), why, say("Do it again"))
        self._execute(sql, values)

    def write_loosely(self, sql: str, values: Sequence[object]) -> None:
        """One statement of its own that need not last: a power cut may take it, and nothing else.
        Without any syncing (OFF) the log could begin anew out of order, and spoil the rest."""
        with self.lock:
            try:
                self._execute("PRAGMA synchronous=NORMAL")
                self._execute(sql, values)
                self._execute("PRAGMA synchronous=FULL")
            except BooksError:
                self.close()  # who opens it again syncs
                raise

    def prove(self) -> None:
        """Bring what a dead program or a refusal left in the log to the disk, or say that the disk
        does not take it. Costs nothing once it is proved."""
        with self.lock:
            if self.refused is not None:
                self.close()  # the disk may be well again
            con = self.connection()
            if not self._proved:
                self._prove(con)

    def witness(self, n: int, link: str) -> None:
        """Note beside the books which line was answered last: whoever opens them sees whether the
        end of them is gone. It is not synced, so it may lag behind, but is never ahead."""
        if self.file is None:
            return
        with suppress(OSError):
            if self._last < 0:
                flags = os.O_WRONLY | os.O_CREAT
                self._last = os.open(self.file.with_name(LAST), flags, 0o600)
            told = f"{n:012d} {link}"
            os.pwrite(self._last, f"{told} {crc32(told.encode()):08x}\n".encode(), 0)

    def witnessed(self) -> tuple[int, str]:
        """The line that was answered last, by number and link; (0, "") where nobody noted it."""
        with suppress(OSError, ValueError):
            if self.file is not None:
                told, _, proof = self.file.with_name(LAST).read_text("ascii").rpartition(" ")
                if proof == f"{crc32(told.encode()):08x}\n":  # half of it tells nothing
                    return int(told[:12]), told[13:]
        return 0, ""

    def copy(self, to: Path) -> None:
        """Copy the books as they stand into a new file, while others sell; where the disk fails at
        some of it, what it still gives. Raises BooksError where that is no database."""
        try:
            # A connection of its own: what is being written here is not part of the copy.
            here = self.connection()
            own = nullcontext(here) if self._aside else closing(self._connect())
            with own as con:
                copy_whole(con, to)
        except sqlite3.Error as error:
            said = refused(say("copy the books"), error)
            if self.file is None or self._aside or not isinstance(said, DiskRefused):
                raise said from error
            try:
                with self.lock, closing(self._read_only(said)) as con:
                    copy_whole(con, to)
            except (BooksError, sqlite3.Error):
                raise said from error
            finally:
                self.close()

    def close(self) -> None:
        """Let go of the file; it is opened again when needed."""
        with self.lock:
            if self.file is None:
                return  # what is in memory would be gone
            con, proved = self._con, self._proved or self._aside is not None
            self._con, self._proved = None, False
            self._vouching.end()
            if con is not None:
                with suppress(sqlite3.Error, BooksError), ExitStack() as last:
                    # The last one brings the log over and deletes it, which must not be before it
                    # is proved: so then the last is one that only reads.
                    if not proved:
                        last.enter_context(reading(self.file))("SELECT 1 FROM lines LIMIT 1")
                    con.close()
            if self._aside is not None:
                self._aside.cleanup()
                self._aside = None
            if self._last >= 0:
                os.close(self._last)
                self._last = -1

    def __del__(self) -> None:
        # A connection stands in a circle with what it has prepared: nobody else would close it.
        with suppress(Exception):
            self.close()

    # -- within

    def _take_back(self) -> None:
        """End a transaction that is still open. Nothing of it was seen by anybody else."""
        if self._con is not None and self._con.in_transaction:
            self.epoch += self._wrote
            try:
                self._con.execute("ROLLBACK")
            except sqlite3.Error:
                self.close()

    def _execute(self, sql: str, values: Sequence[object] = ()) -> None:
        try:
            (self._con or self.connection()).execute(sql, values)
        except sqlite3.IntegrityError:
            raise
        except sqlite3.Error as error:
            said = refused(say("write into the shop"), error)
            if isinstance(said, DiskRefused):
                # What the disk holds after an error is for the disk to say.
                self.refused = said
                self.epoch += 1
                self.close()
            raise said from error

    def _connect(self) -> sqlite3.Connection:
        if self.file is None:
            return self._opened(":memory:")
        try:
            con = self._opened(f"{self.file.absolute().as_uri()}?mode=rw")
            con.execute("SELECT 1 FROM lines LIMIT 1").fetchall()
        except (OSError, sqlite3.Error) as error:
            said = refused(say("open the books"), error)
            with suppress(OSError):
                if free_bytes(self.file.parent) < 1 << 17:  # what the log needs, too
                    said = refused(say("open the books"), OSError(errno.ENOSPC, ""))
            if not self.file.is_file():
                why = say("{file} is missing", file=FILE)
                raise BookDamaged(say("open the books"), why, MEND, book=FILE, line=0) from None
            if not isinstance(said, DiskRefused):
                raise said from error
            return self._read_only(said)
        with suppress(BooksError):
            con.execute("PRAGMA busy_timeout=0")  # who only reads waits for nobody
            # All that is seen behind what a living program proved was synced. Who writes proves it
            # nevertheless: where a sync failed the disk may have a hole.
            if self.refused or not vouched(self._paths[1]):
                self._prove(con)
        con.execute(f"PRAGMA busy_timeout={PATIENCE_S * 1000:.0f}")
        return con

    def _opened(self, name: str) -> sqlite3.Connection:
        con = sqlite3.connect(
            name, timeout=PATIENCE_S, isolation_level=None, check_same_thread=False, uri=True
        )
        con.text_factory = bytes  # a flipped bit may leave no text
        try:
            if self.file is not None:
                check_format(con)  # first: what is not ours stays as it is
            con.execute("PRAGMA journal_mode=WAL")
            con.execute("PRAGMA synchronous=FULL")
            con.execute(f"PRAGMA wal_autocheckpoint={_LOG_PAGES}")
        except BaseException:
            con.close()  # and what was begun is taken back
            raise
        return con

    def _read_only(self, why: BooksError) -> sqlite3.Connection:
        """The books on a disk that takes nothing or fails, as far as it gives them and their log:
        read from a copy."""
        from counter.books.workplace import Workplace

        self.refused, self._aside = why, Workplace("tofu-books-")
        to = Path(self._aside.name) / FILE
        try:
            for path, end in zip(self._paths, ("", "-wal"), strict=True):
                copy_pages(Path(path), Path(f"{to}{end}"))
            return self._opened(f"{to.as_uri()}?mode=rw")
        except (OSError, sqlite3.Error) as error:
            self.close()
            raise refused(say("open the books"), error) from error

    def _stamped(self) -> list[tuple[int, int, int]]:
        """Which files the books are, and what a write into them changes of them."""
        found = list[os.stat_result]()
        with suppress(OSError):  # the log, where there is none
            found.extend(map(os.stat, self._paths))  # half the cost of Path.stat, at every sale
        return [(one.st_ino, one.st_size, one.st_mtime_ns) for one in found]

    def _gone(self, stamp: list[tuple[int, int, int]]) -> bool:
        """Whether a file that is open was deleted, or another put in its place: what is written
        into it nobody finds again."""
        known, now = [one[0] for one in self._stamp], [one[0] for one in stamp]
        return known != now and not set(known) <= set(now)

    def _prove(self, con: sqlite3.Connection) -> None:
        # After a failed sync the system may show what the disk does not hold, and call it synced
        # at the next. So the log is written anew before anything is brought over from it: a log of
        # which the disk has the beginning only would be laid over newer pages after a power cut.
        # Where others read, not all of it is brought over; then it is safe in the log.
        if self._aside is not None and self.refused is not None:
            raise self.refused
        try:
            if self.file is not None:
                con.execute("BEGIN IMMEDIATE")  # nobody appends meanwhile
                write_anew(self.file.with_name(f"{FILE}-wal"))
                sync_folder(self.file.parent)  # the name of the log: the engine passes over errors
                con.execute("ROLLBACK")
            con.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
        except (sqlite3.Error, OSError) as error:
            said = refused(say("write into the shop"), error)
            if isinstance(said, DiskRefused):
                self.refused = said
            with suppress(sqlite3.Error):
                con.execute("ROLLBACK")
            raise said from error
        self._proved, self.refused = True, None
        if self.file is not None:
            self._vouching.begin(self._paths[1])
