"""A journal: one file of linked lines, appended to and never changed.

Why not use it
--------------
- It finds what was changed, it does not prevent it. Who can write the folder can also compute new
  links from the changed line to the end of the last book. Against that, keep a copy elsewhere.
- Whole lines cut off the end of the last book cannot be told from lines that were never written.
  They show once a later book or a closing names the line that is gone.
- A reader in another program may see a line some milliseconds before it is on the disk. Should the
  disk then refuse it, the line is withdrawn, and the reader reads the book anew.
- An acknowledged line is as safe as the disk's own fsync. Disks that lie about it exist.
- A commit costs one fsync. Thousands of commits a second are another program's job.
- A journal is read whole into memory (a day: a few hundred kilobytes). There is no index.
- Network folders: the lock holds where the file server's does. One computer, one shop folder.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime

from counter.books.files import BookFile, Look, whole_lines
from counter.books.lines import (
    ORIGIN,
    After,
    Entry,
    Header,
    Misfit,
    Records,
    Types,
    follow_link,
    header_line,
    number_and_link,
    read_header,
    seal_line,
)
from counter.errors import BookDamaged, BooksError, DiskRefused

MEND = "Run `counter check`, then put the book back from a backup"
_TAIL_BLOCK = 1 << 16


class _State:
    """What is known of the file up to ``end``, the place behind the last good line."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.end, self.n, self.link = 0, -1, ORIGIN
        self.header: Header | None = None
        self.entries: list[Entry] = []
        self.lines: list[bytes] = []
        self.problem: BookDamaged | None = None


class Journal:
    """One book. Who appends holds the shop's lock; who only reads needs none.

    ``tail_only`` begins at the last line, found from the end of the file, whatever its length;
    the whole is then read on demand with :meth:`walk`.
    """

    def __init__(
        self, file: BookFile, book: str, types: Types | None = None, *, tail_only: bool = False
    ) -> None:
        self.file, self.book, self.tail_only = file, book, tail_only
        self._types = types or Types()
        # A thread must not see a line that another is still bringing to the disk.
        self._guard = threading.RLock()
        self._state = _State(Look(0, None))
        self.catch_up()

    # -- what is known

    @property
    def entries(self) -> list[Entry]:
        """All commits, the first is line 1. With ``tail_only``: those since the last line."""
        return self._state.entries

    @property
    def lines(self) -> list[bytes]:
        """The lines of :attr:`entries` as they stand in the file, without LF. A new list object
        means that the file was read anew."""
        return self._state.lines

    @property
    def header(self) -> Header | None:
        """Line 0, unless the journal was opened at its tail or has not been begun."""
        return self._state.header

    @property
    def last_n(self) -> int:
        """The number of the last line; -1 for a book that is not begun."""
        return self._state.n

    @property
    def last_link(self) -> str:
        """The link of the last line; zeros for a book that is not begun."""
        return self._state.link

    @property
    def size(self) -> int:
        """Bytes up to the end of the last good line."""
        return self._state.end

    @property
    def problem(self) -> BookDamaged | None:
        """Why nothing more may be written, naming book and line; None for a sound book."""
        return self._state.problem

    # -- reading

    def catch_up(self, *, writing: bool = False) -> list[Entry]:
        """Read what was appended since, by whomever. Costs one look at the size when nothing was.

        ``writing`` is for the holder of the shop's lock: only then is an unfinished last line
        known to be torn, and not one that somebody is just writing.
        """
        with self._guard:
            look, state = self.file.look(), self._state
            if look == state.look and look.size == state.end:
                return []
            if look.stamp != state.look.stamp or look.size < state.end:
                return self._reload(look, writing)
            if state.problem is not None:
                return [] if look == state.look else self._reload(look, writing)
            fresh = self._advance(state, look) if look.size > state.end else []
            if state.problem is not None or not self._ends_as_known(state):
                # A line that was seen and then withdrawn (its disk had refused) is no damage.
                return self._reload(look, writing)
            state.look = look
            if writing:
                self._heal(state, look)
            return fresh

    def walk(self, start: int = 0, end: int | None = None) -> Iterator[tuple[int, bytes, Entry]]:
        """All lines from the first on, verified as they are read: number, bytes, commit.

        ``start`` is the place of a line to trust; the lines behind it are given. BookDamaged
        where one does not follow.
        """
        n, link = -1, ORIGIN
        end = self._state.end if end is None else end
        for i, line in enumerate(whole_lines(self.file, start, end)):
            try:
                if start and i == 0:
                    n, link = number_and_link(line)
                    continue
                link, n = follow_link(line, link), n + 1
                if n == 0:
                    read_header(line, self.book)
                else:
                    yield n, line, self._types.read(line, n)
            except Misfit as error:
                if n < 0 and start:
                    # The line to trust is the damaged one: only reading up to it can name it.
                    yield from self.walk()
                raise self._damage(n + 1, str(error)) from None

    # -- writing

    def append(
        self,
        records: Records,
        entered: datetime,
        after: After | None = None,
        *,
        caught_up: bool = False,
    ) -> int:
        """Write one commit and return its line number, once the disk has it.

        A new book gets its header (with ``after``) in the same go. ``caught_up`` says that the
        caller did so, for writing, since it took the lock. Raises BookDamaged for a book
        that is not sound, DiskRefused when the disk has no room or does not answer, BooksError
        for records that do not fit; in each case nothing is changed, in the file or here.
        """
        with self._guard:
            if not caught_up:
                self.catch_up(writing=True)
            self.must_be_sound()
            state = self._state
            head, link = b"", state.link
            if state.n < 0:
                head, link = header_line(self.book, after)
            n = max(state.n, 0) + 1
            line, link = seal_line(self._types.write(n, entered, records), link)
            entry = self._readable(line, n)
            self._put(state, head + line)
            if head:
                state.header = Header(0, self.book, after)
                state.look = self.file.look()  # the file is there now
            state.end += len(head) + len(line)
            state.n, state.link = n, link
            state.lines.append(line[:-1])
            state.entries.append(entry)
            return n

    def must_be_sound(self, tried: str = "write into the shop") -> None:
        """BookDamaged with what to do, where a line of this book is damaged."""
        problem = self._state.problem
        if problem is not None:
            why = f"book {self.book} is damaged in line {problem.line}: {problem.why}"
            raise BookDamaged(tried, why, MEND, book=self.book, line=problem.line)

    def close(self) -> None:
        """Let go of the file; it is opened again when needed."""
        self.file.close()

    # -- within

    def _put(self, state: _State, data: bytes) -> None:
        if not self._ends_as_known(state):
            # Seen and then withdrawn, within one tick of the disk's clock. What was decided on it
            # must be decided again.
            self._reload(self.file.look(), writing=True)
            why = "its last line was withdrawn by another program"
            raise BooksError(f"write into book {self.book}", why, "Do it again")
        try:
            self.file.append(state.end, data)
        except DiskRefused:
            # What the disk holds after an error is for the disk to say.
            self._reload(self.file.look(), writing=False)
            raise

    def _readable(self, line: bytes, n: int) -> Entry:
        """What cannot be read back is not written."""
        try:
            return self._types.read(line, n)
        except Misfit as error:
            do = "Write the records of the table's own type"
            raise BooksError(f"write into book {self.book}", str(error), do) from None

    def _reload(self, look: Look, writing: bool) -> list[Entry]:
        state = _State(look)
        if self.tail_only:
            self._start_at_tail(state, look)
        fresh = self._advance(state, look)
        if writing and state.problem is None:
            self._heal(state, look)
        self._state = state
        return fresh

    def _advance(self, state: _State, look: Look) -> list[Entry]:
        fresh = []
        for line in whole_lines(self.file, state.end, look.size):
            try:
                link = follow_link(line, state.link)
                if state.n < 0:
                    state.header = read_header(line, self.book)
                else:
                    entry = self._types.read(line, state.n + 1)
                    state.lines.append(line)
                    state.entries.append(entry)
                    fresh.append(entry)
            except Misfit as error:
                state.problem = self._damage(state.n + 1, str(error))
                state.look = look
                break
            state.n, state.link = state.n + 1, link
            state.end += len(line) + 1
        return fresh

    def _start_at_tail(self, state: _State, look: Look) -> None:
        """Set the state to the line before the last one, so that the last is read and proved."""
        window, size = _TAIL_BLOCK, look.size
        while window < 2 * size:
            start = max(0, size - window)
            data = self.file.read(start, size)
            behind_last = data.rfind(b"\n") + 1
            behind = data.rfind(b"\n", 0, max(0, behind_last - 1)) + 1
            before = data.rfind(b"\n", 0, max(0, behind - 1)) + 1
            if before or (start == 0 and behind):
                # A line that cannot be trusted leaves the state at the start of the file: reading
                # the whole then names the line that is damaged.
                with suppress(Misfit):
                    state.n, state.link = number_and_link(data[before : behind - 1])
                    state.end = start + behind
                return
            window *= 4

    def _ends_as_known(self, state: _State) -> bool:
        tail = state.link.encode() + b'"}\n'
        return state.n < 0 or self.file.tail(state.end, len(tail)) == tail

    def _heal(self, state: _State, look: Look) -> None:
        if look.size > state.end:
            self.file.set_aside(state.end, look.size)

    def _damage(self, n: int, why: str) -> BookDamaged:
        tried = f"read book {self.book} beyond line {n}"
        return BookDamaged(tried, why, MEND, book=self.book, line=n)
