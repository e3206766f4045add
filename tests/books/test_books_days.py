"""Day books: written, read again, followed while others write."""

from __future__ import annotations

import threading
from datetime import date, timedelta

import pytest

from counter.books import Books
from counter.errors import NotAShop
from tests.books.shelf import (
    MOMENT,
    MONDAY,
    TYPES,
    WEDNESDAY,
    Move,
    Sale,
    Shelf,
    numbers,
    sell,
)


def test_opening_writes_nothing(shelf: Shelf) -> None:
    books = shelf.open()
    assert books.days() == []
    assert books.day(MONDAY).entries == []
    assert (books.day(MONDAY).last_n, books.catalogue.last_n) == (-1, -1)
    assert shelf.names() == []


def test_a_folder_that_is_not_there_is_refused(tmp_path: object) -> None:
    missing = tmp_path / "none"  # type: ignore[operator]
    with pytest.raises(NotAShop, match=r"^Cannot open shop '.*none': there is no such folder\. "):
        Books.open(missing, TYPES)


def test_what_was_written_is_read_back_after_reopening(shelf: Shelf) -> None:
    books = shelf.open()
    books.commit(MONDAY, {"sales": [Sale(1)], "drawer": [Move(5), Move(-2)]}, MOMENT)
    books.commit(MONDAY, {"sales": [Sale(2)]}, MOMENT)
    again = shelf.open().day(MONDAY)
    assert [entry.n for entry in again.entries] == [1, 2]
    assert again.entries == books.day(MONDAY).entries
    assert again.entries[0].entered == MOMENT
    assert again.records("drawer") == [Move(5), Move(-2)]
    assert again.records("holds") == []
    assert (again.last_n, again.last_link) == (2, books.day(MONDAY).last_link)


def test_a_reader_follows_what_another_appends(shelf: Shelf) -> None:
    ours, other = shelf.open(), shelf.open()
    sell(other, MONDAY, 1)
    assert numbers(ours, MONDAY) == [1]
    sell(other, MONDAY, 2, 3)
    assert [entry.n for entry in ours.entries_since(MONDAY, 1)] == [2, 3]
    assert ours.entries_since(MONDAY, 3) == []
    assert [entry.n for entry in ours.entries_since(MONDAY, -1)] == [1, 2, 3]
    sell(ours, MONDAY, 4)
    assert numbers(other, MONDAY) == [1, 2, 3, 4]
    assert ours.check().findings == ()


def test_a_held_book_is_brought_up_to_date_on_taking_the_lock(shelf: Shelf) -> None:
    ours, other = shelf.open(), shelf.open()
    sell(ours, MONDAY, 1)
    book = ours.day(MONDAY)
    sell(other, MONDAY, 2)
    assert book.last_n == 1
    with ours.exclusive():
        assert book.last_n == 2


def test_days_are_known_by_their_files_in_order(shelf: Shelf) -> None:
    books = shelf.open()
    days = [WEDNESDAY, date(2025, 12, 31), MONDAY, date(2024, 2, 29)]
    for day in days:
        sell(books, day, 1)
    assert books.days() == sorted(days) == shelf.open().days()
    assert books.days(MONDAY) == [MONDAY, WEDNESDAY]
    assert books.days(date(2025, 1, 1), MONDAY) == [date(2025, 12, 31), MONDAY]


def test_a_book_begun_by_another_appears_among_the_days(shelf: Shelf) -> None:
    ours, other = shelf.open(), shelf.open()
    for i in range(40):  # within one tick of the disk's clock, too
        day = MONDAY + timedelta(days=i)
        sell(other, day, 1)
        assert ours.days()[-1] == day
        with ours.exclusive():
            assert len(ours.days()) == i + 1


def test_other_files_are_not_taken_for_day_books(shelf: Shelf) -> None:
    sell(shelf.open(), MONDAY, 1)
    for name in ("2026-13-01", "2026-11-24 (copy)", "2026-11-24.jsonl"):
        shelf.put(name, b"not ours")
    assert shelf.open().days() == [MONDAY]


def test_the_lock_is_reentrant_and_the_whole_section_is_one(shelf: Shelf) -> None:
    books = shelf.open()
    with books.exclusive(), books.exclusive():
        sell(books, MONDAY, 1)
        assert books.days() == [MONDAY]
    sell(books, MONDAY, 2)
    assert numbers(books, MONDAY) == [1, 2]


def test_threads_write_one_after_the_other(shelf: Shelf) -> None:
    books = shelf.open()
    failed: list[BaseException] = []

    def work(till: int) -> None:
        try:
            for _ in range(25):
                with books.exclusive():
                    sell(books, MONDAY, 1 + len(books.day(MONDAY).entries))
                numbers(books, MONDAY)
                len(books.day(MONDAY).db.table("sales").all())
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=work, args=(i,)) for i in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert numbers(books, MONDAY) == list(range(1, 101))
    assert books.check().findings == ()


def test_many_days_are_read_without_keeping_them_all(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("counter.books.books._KEPT_BYTES", 2000)
    books = shelf.open()
    days = [MONDAY + timedelta(days=i) for i in range(12)]
    for i, day in enumerate(days):
        sell(books, day, i)
    first = books.day(days[0])
    for i, day in enumerate(days):
        assert numbers(books, day) == [i]
    assert len(books._open) < 8
    sell(books, days[0], 100)
    assert numbers(books, days[0]) == [0, 100]
    assert first.records("sales")[0] == Sale(0, ("block", "small cup"))


def test_closed_books_open_again_when_used(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    books.close()
    sell(books, MONDAY, 2)
    assert numbers(books, MONDAY) == [1, 2]
