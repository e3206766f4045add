"""A disk that is full or does not answer refuses the sale and loses nothing."""

from __future__ import annotations

import errno
import gc
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest

from counter.errors import BooksError, DiskRefused
from tests.books.shelf import MONDAY, TUESDAY, Sale, Shelf, numbers, sell

FULL = r"""
import resource, signal, sys
from pathlib import Path
from counter.errors import DiskRefused
from tests.books.shelf import MONDAY, TUESDAY, Shelf, numbers, sell

signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
limit = int(sys.argv[2])
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
shelf = Shelf(Path(sys.argv[1]))
books = shelf.open()
sold = len(numbers(books, MONDAY))
table = books.day(MONDAY).db.table("sales")
try:
    for number in range(sold + 1, 10_000):
        sell(books, MONDAY, number)
        sold = number
except DiskRefused as error:
    print(error)
for _ in range(3):  # it goes on refusing, and nothing piles up
    try:
        sell(books, MONDAY, 0)
    except DiskRefused:
        pass
assert numbers(books, MONDAY) == list(range(1, sold + 1))
assert len(table) == sold
assert shelf.bytes_of("2026-11-23")[-1:] == b"\n"
assert books.check().findings == ()
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
sell(books, MONDAY, sold + 1)
assert numbers(shelf.open(), MONDAY) == list(range(1, sold + 2))
assert len(table) == sold + 1
print(sold)
"""


def sales_in(room: int) -> int:
    """How many more sales there is room for, counted on a shop in memory."""
    shelf = Shelf(None)
    sell(shelf.open(), MONDAY, *range(1, 30))
    lengths = [len(line) for line in shelf.bytes_of("2026-11-23").splitlines(keepends=True)[2:]]
    return next(i for i in range(len(lengths)) if sum(lengths[: i + 1]) > room)


@pytest.mark.parametrize("limit", [1, 100, 300, 301, 999, 3000])
def test_a_full_disk_refuses_and_goes_on_when_there_is_room(tmp_path: Path, limit: int) -> None:
    sell(Shelf(tmp_path).open(), MONDAY, 1)
    there = (tmp_path / "days/2026/2026-11-23.jsonl").stat().st_size
    done = subprocess.run(
        [sys.executable, "-c", FULL, str(tmp_path), str(there + limit)],
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.stderr == ""
    sentence, sold = done.stdout.splitlines()
    assert sentence == (
        "Cannot write into days/2026/2026-11-23.jsonl: the file may not grow further, nothing was"
        " written. Raise the limit, then do it again."
    )
    assert int(sold) == 1 + sales_in(limit)
    shelf = Shelf(tmp_path)
    assert numbers(shelf.open(), MONDAY) == list(range(1, int(sold) + 2))
    assert shelf.names() == ["days/2026/2026-11-23.jsonl"]


def fill(place: Path) -> None:
    with (place / "filler").open("wb", buffering=0) as file, suppress(OSError):
        while True:
            file.write(bytes(1 << 10))


def test_a_disk_without_room_refuses_and_goes_on_when_there_is_room(tmp_path: Path) -> None:
    mount = ["mount", "-t", "tmpfs", "-o", "size=96k", "tmpfs", str(tmp_path)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("a small disk can only be mounted by root; the limit on files says the same")
    shelf = Shelf(tmp_path)
    try:
        books = shelf.open()
        sell(books, MONDAY, 1)
        fill(tmp_path)
        sold = 1
        with pytest.raises(DiskRefused) as caught:  # noqa: PT012 - the last block takes some
            for number in range(2, 1000):
                sell(books, MONDAY, number)
                sold = number
        assert str(caught.value) == (
            "Cannot write into days/2026/2026-11-23.jsonl: the disk is full, nothing was written."
            " Make room on the disk, then do it again."
        )
        with pytest.raises(DiskRefused):
            sell(books, TUESDAY, 1)
        assert numbers(books, MONDAY) == numbers(shelf.open(), MONDAY) == list(range(1, sold + 1))
        assert books.days() == [MONDAY]
        assert books.check().findings == ()
        (tmp_path / "filler").unlink()
        sell(books, MONDAY, sold + 1)
        sell(books, TUESDAY, 1)
        assert numbers(shelf.open(), MONDAY) == list(range(1, sold + 2))
        assert books.check().findings == ()
        books.close()
    finally:
        gc.collect()  # what the shop still holds open would keep the disk busy
        subprocess.run(["umount", str(tmp_path)], check=True)


def test_a_new_book_that_finds_no_room_is_not_left_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(tmp_path)
    books = shelf.open()
    sell(books, MONDAY, 1)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (120, hard))  # Python ignores SIGXFSZ by itself
    try:
        with pytest.raises(DiskRefused):
            sell(books, TUESDAY, 1)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert books.days() == [MONDAY]
    assert shelf.names() == ["days/2026/2026-11-23.jsonl"]
    sell(books, TUESDAY, 1)
    assert numbers(shelf.open(), TUESDAY) == [1]
    assert shelf.open().check().findings == ()
    books.close()


def fails(number: int) -> Callable[..., object]:
    def fail(*_: object) -> object:
        raise OSError(number, os.strerror(number))

    return fail


@pytest.mark.parametrize(
    ("number", "why"),
    [
        (errno.EIO, "the disk reports an error"),
        (errno.ENOSPC, "the disk is full"),
        (errno.EDQUOT, "the disk quota is used up"),
    ],
)
@pytest.mark.parametrize("call", ["write", "fsync"])
def test_a_disk_that_fails_leaves_the_book_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, number: int, why: str
) -> None:
    shelf = Shelf(tmp_path)
    books = shelf.open()
    sell(books, MONDAY, 1)
    before, entries = shelf.bytes_of("2026-11-23"), books.day(MONDAY).entries[:]
    with monkeypatch.context() as patch:
        patch.setattr(os, call, fails(number))
        with pytest.raises(DiskRefused, match=rf"^Cannot write into .*jsonl: {why}, nothing was"):
            sell(books, MONDAY, 2)
        with pytest.raises(DiskRefused):
            sell(books, TUESDAY, 2)
    assert shelf.bytes_of("2026-11-23") == before
    assert books.day(MONDAY).entries == entries
    assert books.days() == [MONDAY]
    sell(books, MONDAY, 3)
    sell(books, TUESDAY, 4)
    assert numbers(shelf.open(), MONDAY) == [1, 3]
    assert books.check().findings == ()
    books.close()


def test_where_even_cutting_back_fails_the_next_writer_sets_the_rest_aside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(tmp_path)
    books = shelf.open()
    sell(books, MONDAY, 1)
    write = os.write

    def half(fd: int, data: memoryview) -> int:
        if len(data) < 100:
            raise OSError(errno.ENOSPC, "full")
        return write(fd, data[: len(data) // 2])

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", half)
        patch.setattr(os, "ftruncate", fails(errno.EIO))
        with pytest.raises(DiskRefused) as caught:
            sell(books, MONDAY, 2)
    assert str(caught.value) == (
        "Cannot write into days/2026/2026-11-23.jsonl: the disk is full, and what was begun could"
        " not be taken back. See whether it is in the book all the same. Make room on the disk,"
        " then do it again."
    )
    assert not shelf.bytes_of("2026-11-23").endswith(b"\n")
    sell(books, MONDAY, 3)
    assert numbers(books, MONDAY) == numbers(shelf.open(), MONDAY) == [1, 3]
    assert len(books.notices) == 1
    books.close()


def test_an_unfinished_line_that_finds_no_room_beside_the_book_stays_where_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(tmp_path)
    sell(shelf.open(), MONDAY, 1)
    torn = shelf.bytes_of("2026-11-23") + b'{"n":2,"ent'
    shelf.put("2026-11-23", torn)
    books = shelf.open()
    with monkeypatch.context() as patch:
        patch.setattr(os, "write", fails(errno.ENOSPC))
        with pytest.raises(DiskRefused, match=r"^Cannot set the unfinished last line of days/2026"):
            sell(books, MONDAY, 2)
    assert shelf.names() == ["days/2026/2026-11-23.jsonl"]
    assert shelf.bytes_of("2026-11-23") == torn
    sell(books, MONDAY, 2)
    assert numbers(shelf.open(), MONDAY) == [1, 2]
    books.close()


def test_a_disk_that_cannot_be_read_is_said_to_be_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(tmp_path)
    sell(shelf.open(), MONDAY, 1)
    books = shelf.open()
    monkeypatch.setattr(Path, "open", fails(errno.EIO))
    with pytest.raises(DiskRefused, match=r"^Cannot read days/2026/2026-11-23.jsonl: the disk "):
        books.day(MONDAY)
    findings = books.check().findings
    assert [(f.book, f.line) for f in findings] == [("2026-11-23", 0)]


def test_an_interrupted_write_is_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(tmp_path)
    books = shelf.open()
    sell(books, MONDAY, 1)

    def interrupt(fd: int) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", interrupt)
        with pytest.raises(KeyboardInterrupt):
            sell(books, MONDAY, 2)
    sell(books, MONDAY, 3)
    assert books.day(MONDAY).records("sales") == [
        Sale(1, ("block", "small cup")), Sale(3, ("block", "small cup")),
    ]  # fmt: skip
    assert books.check().findings == ()
    books.close()


def test_a_line_withdrawn_unnoticed_makes_the_next_writer_decide_again(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    books = shelf.open()
    sell(books, MONDAY, 1, 2)
    books.day(MONDAY)
    path = tmp_path / "days/2026/2026-11-23.jsonl"
    stat = path.stat()
    other = Shelf(None)  # the same book with another second line of equal length
    sell(other.open(), MONDAY, 1, 3)
    path.write_bytes(other.bytes_of("2026-11-23"))
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    with pytest.raises(BooksError) as caught:
        sell(books, MONDAY, 4)
    assert str(caught.value) == (
        "Cannot write into book 2026-11-23: its last line was withdrawn by another program."
        " Do it again."
    )
    assert numbers(books, MONDAY) == [1, 3]
    sell(books, MONDAY, 4)
    assert numbers(books, MONDAY) == numbers(shelf.open(), MONDAY) == [1, 3, 4]
    assert books.check().findings == ()
    books.close()


def test_a_book_put_back_under_the_same_name_is_the_one_written_on(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    books = shelf.open()
    sell(books, MONDAY, 1, 2)
    path = tmp_path / "days/2026/2026-11-23.jsonl"
    copy = tmp_path / "copy"
    copy.write_bytes(path.read_bytes())
    copy.replace(path)  # the old file lives on, nameless, in the open descriptor
    sell(books, MONDAY, 3)
    assert numbers(shelf.open(), MONDAY) == [1, 2, 3]
    books.close()


def test_a_book_begun_within_one_tick_of_the_disks_clock_is_seen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(tmp_path)
    reader, writer = shelf.open(), shelf.open()
    sell(writer, MONDAY, 1)
    year = tmp_path / "days/2026"
    listed = year.stat()
    assert reader.days() == [MONDAY]
    opened = os.open

    def open_at_once(path: str, flags: int, mode: int = 0o777) -> int:
        fd = opened(path, flags, mode)
        if flags & os.O_EXCL:
            os.utime(year, ns=(listed.st_atime_ns, listed.st_mtime_ns))
        return fd

    monkeypatch.setattr(os, "open", open_at_once)
    sell(writer, TUESDAY, 1)
    assert reader.days() == [MONDAY, TUESDAY]
    writer.close()
