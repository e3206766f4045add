"""What is acknowledged has been brought to the disk: contents, and the names of new files."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from tests.books.shelf import MONDAY, TUESDAY, Shelf, sell


class Synced:
    """Notes every fsync: of which file or folder, and how long it was then."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.notes: list[tuple[str, int]] = []
        self._fsync = os.fsync
        patch.setattr(os, "fsync", self)

    def __call__(self, fd: int) -> None:
        self._fsync(fd)
        name = Path(f"/proc/self/fd/{fd}").readlink().name
        status = os.fstat(fd)
        self.notes.append((name, 0 if stat.S_ISDIR(status.st_mode) else status.st_size))


def test_a_commit_into_a_begun_book_costs_one_fsync_behind_its_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(tmp_path)
    books = shelf.open()
    sell(books, MONDAY, 1)
    synced = Synced(monkeypatch)
    sell(books, MONDAY, 2)
    assert synced.notes == [("2026-11-23.jsonl", len(shelf.bytes_of("2026-11-23")))]
    books.close()


def test_a_new_book_is_synced_with_every_folder_that_names_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(tmp_path)
    books = shelf.open()
    synced = Synced(monkeypatch)
    sell(books, MONDAY, 1)
    length = len(shelf.bytes_of("2026-11-23"))
    assert synced.notes == [
        (tmp_path.name, 0),  # it names days/
        ("days", 0),
        ("2026", 0),
        ("2026-11-23.jsonl", length),
    ]
    synced.notes.clear()
    sell(books, TUESDAY, 1)
    assert synced.notes == [("2026", 0), ("2026-11-24.jsonl", len(shelf.bytes_of("2026-11-24")))]
    books.close()


def test_an_unfinished_line_is_safe_beside_the_book_before_it_is_cut_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(tmp_path)
    sell(shelf.open(), MONDAY, 1)
    sound = shelf.bytes_of("2026-11-23")
    shelf.put("2026-11-23", sound + b'{"n":2')
    books = shelf.open()
    synced = Synced(monkeypatch)
    with books.exclusive():
        books.day(MONDAY)
    assert synced.notes == [
        ("2026-11-23.jsonl.torn-1", 6),
        ("2026", 0),
        ("2026-11-23.jsonl", len(sound)),
    ]
    books.close()
