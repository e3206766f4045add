"""Many programs on one folder, keys that stand once for ever, and damage met while reading."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import date, timedelta
from pathlib import Path

import pytest
from tinydb import where

from counter.books import Books
from counter.books.lines import link_of
from counter.errors import BookDamaged
from tests.books.shelf import (
    MOMENT,
    MONDAY,
    TUESDAY,
    WEDNESDAY,
    Catalogue,
    Move,
    Sale,
    Shelf,
    numbers,
    sell,
)


@pytest.fixture
def files(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path)


# -- others write


def test_what_was_remembered_is_asked_anew_after_another_program_wrote(files: Shelf) -> None:
    ours, other = files.open(), files.open()
    sell(other, MONDAY, 1)
    ours.commit("catalogue", {"catalogues": [Catalogue({"block": 450})]}, MOMENT)
    assert (ours.days(), ours.head(MONDAY)[0]) == ([date(2026, 11, 23)], 1)
    assert ours.last("catalogues") == Catalogue({"block": 450})
    assert ours.books_naming("late") == []
    sell(other, MONDAY, 2)
    sell(other, WEDNESDAY, 3)
    other.commit("catalogue", {"catalogues": [Catalogue({"block": 475})]}, MOMENT)
    other.commit(TUESDAY, {"sales": [Sale(4, note="late")]}, MOMENT)
    assert [str(day) for day in ours.days()] == [MONDAY, TUESDAY, WEDNESDAY]
    assert (ours.head(MONDAY), ours.end()) == (other.head(MONDAY), other.end())
    assert ours.last("catalogues") == Catalogue({"block": 475})
    entry = ours.last_entry(TUESDAY)
    assert entry is not None
    assert entry.records == {"sales": [Sale(4, note="late")]}
    assert ours.books_naming("late") == [TUESDAY]
    assert [entry.n for entry in ours.entries(MONDAY, 1)] == [2]
    ours.close()
    other.close()


def test_the_epoch_stays_with_own_lines_and_grows_with_others_and_what_is_taken_back(
    files: Shelf,
) -> None:
    ours, other = files.open(), files.open()
    before = ours.refresh()
    sell(ours, MONDAY, 1)
    assert ours.refresh() == before
    sell(other, MONDAY, 2)
    after = ours.refresh()
    assert after > before
    with suppress(ZeroDivisionError), ours.exclusive():
        sell(ours, MONDAY, 3)
        assert numbers(ours, MONDAY) == [1, 2, 3]
        assert numbers(other, MONDAY) == [1, 2]  # nobody else sees it
        raise ZeroDivisionError
    assert ours.refresh() > after
    assert numbers(ours, MONDAY) == [1, 2]
    ours.close()
    other.close()


def test_days_between_two_days_both_included(shelf: Shelf) -> None:
    books = shelf.open()
    days = ["2025-12-31", MONDAY, WEDNESDAY, "2024-02-29"]
    for day in days:
        sell(books, day, 1)
    books.commit("catalogue", {"drawer": [Move(1)]}, MOMENT)
    assert [str(day) for day in books.days()] == sorted(days)
    assert [str(d) for d in books.days(date(2026, 11, 23))] == [MONDAY, WEDNESDAY]
    assert [str(d) for d in books.days(date(2025, 1, 1), date(2026, 11, 23))] == [
        "2025-12-31", MONDAY,
    ]  # fmt: skip
    assert books.days(date(2027, 1, 1)) == []


def test_threads_write_one_after_the_other(shelf: Shelf) -> None:
    books = shelf.open()
    failed: list[BaseException] = []

    def work() -> None:
        try:
            for _ in range(15):
                with books.exclusive():
                    sell(books, MONDAY, 1 + books.head(MONDAY)[0])
                numbers(books, MONDAY)
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert failed == []
    assert numbers(books, MONDAY) == list(range(1, 61))


# -- keys


def test_a_key_stands_once_for_ever_in_whatever_book_and_year(shelf: Shelf) -> None:
    books = shelf.open()
    books.commit(MONDAY, {"sales": [Sale(1, key="slip-1")]}, MOMENT)
    sell(books, MONDAY, *range(2, 30))
    later = MOMENT + timedelta(days=3000)
    with pytest.raises(sqlite3.IntegrityError, match="UNIQUE constraint failed: keys"):
        books.commit("2034-01-01", {"sales": [Sale(1, key="slip-1")]}, later)
    assert books.end()[0] == 29
    assert books.days() == [date(2026, 11, 23)]
    found = books.keyed("slip-1")
    assert found is not None
    assert (found.n, found.records) == (1, {"sales": [Sale(1, key="slip-1")]})
    assert books.keyed("slip-2") is books.keyed("") is None
    assert books.keyed("\udcff") is None  # bytes that are no text


# -- damage

DAMAGE: list[tuple[str, str, tuple[object, ...], str]] = [
    (
        "a figure",
        "UPDATE lines SET body = replace(body, '\"number\":2', '\"number\":7') WHERE n = 2",
        (),
        "its link does not follow from the line before and its own content",
    ),
    (
        "a blank",
        "UPDATE lines SET body = replace(body, '{\"n\":2,', '{\"n\": 2,') WHERE n = 2",
        (),
        "its link does not follow from the line before and its own content",
    ),
    (
        "no text",
        "UPDATE lines SET body = ? WHERE n = 2",
        (b"\xff\x00",),
        "its link does not follow from the line before and its own content",
    ),
    (
        "the link",
        "UPDATE lines SET link = ? WHERE n = 2",
        (b"\x01" * 32,),
        "its link does not follow from the line before and its own content",
    ),
    (
        "the line before is gone",
        "DELETE FROM lines WHERE n = 1",
        (),
        "line 1 of the shop is missing before it",
    ),
]


@pytest.mark.parametrize(("_", "sql", "values", "why"), DAMAGE, ids=[d[0] for d in DAMAGE])
def test_a_changed_line_is_not_shown_and_its_book_and_line_are_named(
    shelf: Shelf, _: str, sql: str, values: tuple[object, ...], why: str
) -> None:
    sell(shelf.open(), MONDAY, 1, 2, 3)
    shelf.spoil(sql, *values)
    books = shelf.open()
    for ask in questions(books):
        with pytest.raises(BookDamaged) as caught:
            ask()
        error = caught.value
        assert (error.book, error.line) == (MONDAY, 2)
        assert str(error) == (
            f"Cannot read book 2026-11-23: line 2 of it is damaged: {why}. Run `counter mend`."
        )


def questions(books: Books) -> list[Callable[[], object]]:
    return [
        lambda: numbers(books, MONDAY),
        lambda: books.entries(MONDAY, 1),
        lambda: books.lines.table("sales").search(where("number") == 3),
    ]


@pytest.mark.parametrize(
    ("sql", "book", "line"),
    [
        ("UPDATE lines SET n = 9 WHERE n = 3", MONDAY, 3),
        ("UPDATE lines SET line = 9 WHERE n = 3", MONDAY, 9),
        ("UPDATE lines SET book = '2026-11-24' WHERE n = 3", TUESDAY, 3),
    ],
)
def test_a_line_that_stands_elsewhere_than_it_says_is_not_shown(
    shelf: Shelf, sql: str, book: str, line: int
) -> None:
    sell(shelf.open(), MONDAY, 1, 2, 3)
    shelf.spoil(sql)
    with pytest.raises(BookDamaged) as caught:
        numbers(shelf.open(), book)
    assert (caught.value.book, caught.value.line) == (book, line)


def test_a_line_that_was_forged_with_a_right_link_still_says_where_it_belongs(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    body = b'{"n":2,"book":"2026-11-23","line":7,"entered":"2026-11-24T08:12:03Z","records":{}}'
    link = bytes.fromhex(link_of(body, books.head(MONDAY)[1]))
    sql = "INSERT INTO lines (n, book, line, link, body) VALUES (2, ?, 2, ?, ?)"
    shelf.spoil(sql, MONDAY, link, body.decode())
    with pytest.raises(BookDamaged, match="it says that it is line 7 of book 2026-11-23"):
        numbers(shelf.open(), MONDAY)
