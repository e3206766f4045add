"""Several programs at once, and programs that are killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import BinaryIO

import pytest

from counter.books.lock import ShopLock
from counter.errors import BooksError, DiskRefused
from tests.books.shelf import MONDAY, Shelf, numbers, sell

APPEND = r"""
import sys
from pathlib import Path
from tests.books.shelf import MONDAY, Shelf, sell

books = Shelf(Path(sys.argv[1])).open()
for number in range(int(sys.argv[2]), int(sys.argv[3])):
    sell(books, MONDAY, number)
    print(number, flush=True)
"""


def start(folder: Path, first: int, behind: int) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-c", APPEND, str(folder), str(first), str(behind)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def test_two_programs_append_at_once_and_no_line_is_lost(tmp_path: Path) -> None:
    programs = [start(tmp_path, 0, 200), start(tmp_path, 1000, 1200)]
    for program in programs:
        out, err = program.communicate(timeout=60)
        assert err == b""
        assert len(out.split()) == 200
    books = Shelf(tmp_path).open()
    found = numbers(books, MONDAY)
    assert [n for n in found if n < 1000] == list(range(200))
    assert [n for n in found if n >= 1000] == list(range(1000, 1200))
    checked = books.check()
    assert checked.findings == ()
    assert checked.lines == 401


def fork_writer(folder: Path, first: int) -> tuple[int, BinaryIO]:
    """A child that sells until it is killed, and what it acknowledges. Forked: it starts at once."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            books = Shelf(folder).open()
            for number in range(first, first + 100_000):
                sell(books, MONDAY, number)
                os.write(writing, b"%d\n" % number)
        finally:
            os._exit(1)
    os.close(writing)
    return child, os.fdopen(reading, "rb")


def test_a_program_killed_while_appending_keeps_every_acknowledged_line(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    acknowledged: list[int] = []
    for turn in range(20):
        first = turn * 100_000
        child, answers = fork_writer(tmp_path, first)
        with answers:
            assert answers.readline() == b"%d\n" % first
            time.sleep(0.001 * (turn % 7))
            os.kill(child, signal.SIGKILL)
            assert os.waitpid(child, 0)[1] == signal.SIGKILL
            rest = answers.read().splitlines(keepends=True)
        acknowledged += [first, *(int(n) for n in rest if n.endswith(b"\n"))]
    books = shelf.open()
    found = numbers(books, MONDAY)
    assert set(acknowledged) <= set(found)
    assert len(found) - len(acknowledged) <= 20  # written, but killed before it could say so
    sell(books, MONDAY, -1)
    assert [f for f in books.check().findings if f.line is not None] == []
    books.close()


def test_a_killed_program_leaves_no_lock_behind(tmp_path: Path) -> None:
    script = (
        "import sys\nfrom pathlib import Path\nfrom tests.books.shelf import Shelf\n"
        "with Shelf(Path(sys.argv[1])).open().exclusive():\n"
        "    print('in', flush=True)\n    sys.stdin.read()\n"
    )
    program = subprocess.Popen(
        [sys.executable, "-c", script, str(tmp_path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    assert program.stdout is not None
    assert program.stdout.readline() == b"in\n"
    impatient = ShopLock(tmp_path / ".lock", patience_s=0.05)
    with pytest.raises(BooksError) as caught, impatient:
        pass
    assert str(caught.value) == (
        "Cannot write into the shop: another program has been writing for 0.05 seconds."
        " Close it, then do it again."
    )
    program.kill()
    program.communicate(timeout=60)
    with impatient:
        assert impatient.held
    assert not impatient.held
    impatient.close()


def test_a_deleted_lock_file_does_not_let_two_in(tmp_path: Path) -> None:
    one, two = (ShopLock(tmp_path / ".lock", patience_s=0.05) for _ in range(2))
    with one:
        pass
    (tmp_path / ".lock").unlink()
    with two:
        pass
    with one, pytest.raises(BooksError), two:
        pass
    one.close()
    two.close()


def test_a_forked_child_does_not_share_its_parents_lock(tmp_path: Path) -> None:
    lock = ShopLock(tmp_path / ".lock", patience_s=0.05)
    with lock:
        pass
    child = os.fork()
    if child == 0:
        with lock:
            time.sleep(0.3)
        os._exit(0)
    time.sleep(0.1)
    try:
        with pytest.raises(BooksError), lock:
            pass
    finally:
        os.waitpid(child, 0)
        lock.close()


def test_a_shop_that_may_not_be_written_can_be_read_and_checked(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    sell(shelf.open(), MONDAY, 1)
    (tmp_path / ".lock").unlink()
    (tmp_path / ".lock").mkdir()  # root may write anywhere: so take the lock's own place
    books = shelf.open()
    assert numbers(books, MONDAY) == [1]
    assert books.check().findings == ()
    with pytest.raises(DiskRefused, match=r"^Cannot write into the shop: "):
        sell(books, MONDAY, 2)
