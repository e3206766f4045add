"""Catalogue and closings: opened at the end, read as far as asked."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

import pytest

from counter.errors import BookDamaged
from tests.books.shelf import (
    MOMENT,
    MONDAY,
    TUESDAY,
    Catalogue,
    Closing,
    Reopening,
    Shelf,
    close_day,
    sell,
)

FIRST = date(2024, 1, 1)
DAYS = 400
LOTS = 8


def lot(i: int, j: int) -> str:
    return f"{(FIRST + timedelta(days=i)):%y%j}-{j:02}"


@cache
def long_closings() -> bytes:
    """More than a megabyte: longer than any window the closings are read through."""
    shelf = Shelf(None)
    books = shelf.open()
    for i in range(DAYS):
        day = FIRST + timedelta(days=i)
        lots = tuple(lot(i, j) + " " * 400 for j in range(LOTS))
        books.commit_closing({"closings": [Closing(day, lots)]}, MOMENT)
    assert len(shelf.bytes_of("closings")) > 1 << 20
    return shelf.bytes_of("closings")


def fill(shelf: Shelf) -> None:
    shelf.put("closings", long_closings())


def test_the_last_record_is_known_after_reopening(shelf: Shelf) -> None:
    books = shelf.open()
    assert books.closings.last() is None
    for price in (400, 450):
        books.commit_catalogue({"catalogues": [Catalogue({"firm block": price})]}, MOMENT)
    books.commit_closing({"closings": [Closing(MONDAY)]}, MOMENT)
    books.commit_closing({"reopenings": [Reopening(MONDAY, "a late sale")]}, MOMENT)
    for now in (books, shelf.open()):
        assert now.catalogue.last("catalogues") == Catalogue({"firm block": 450})
        assert now.closings.last() == Reopening(MONDAY, "a late sale")
        assert now.closings.last("closings") == Closing(MONDAY)
        assert now.closings.last("sales") is None
        assert (now.catalogue.last_n, now.closings.last_n) == (2, 2)


def test_what_another_writes_is_seen_after_a_refresh(shelf: Shelf) -> None:
    ours, other = shelf.open(), shelf.open()
    other.commit_closing({"closings": [Closing(MONDAY)]}, MOMENT)
    ours.refresh()
    assert ours.closings.last() == Closing(MONDAY)
    assert ours.closings.last_n == 1


def test_only_the_end_of_long_closings_is_read_on_opening(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(shelf)
    books = shelf.open()
    assert books.closings.last_n == DAYS
    assert len(books.closings.entries) == 1
    assert books.closings.header is None
    close_day(books, FIRST + timedelta(days=DAYS))
    assert shelf.open().closings.last_n == DAYS + 1
    assert shelf.open().check().lines == DAYS + 2


def test_closings_are_iterated_from_any_day(shelf: Shelf) -> None:
    fill(shelf)
    closings = shelf.open().closings
    assert len(list(closings.iterate())) == DAYS
    for i in (0, 1, 7, 199, 398, 399):
        day = FIRST + timedelta(days=i)
        found = [record.day for record in closings.iterate(day) if isinstance(record, Closing)]
        assert found == [FIRST + timedelta(days=k) for k in range(i, DAYS)]
    assert list(closings.iterate(FIRST + timedelta(days=DAYS))) == []


def test_no_closing_is_lost_where_the_search_for_its_day_ends_on_it(shelf: Shelf) -> None:
    fill(shelf)
    closings = shelf.open().closings
    for i in range(DAYS):
        day = FIRST + timedelta(days=i)
        first = next(closings.iterate(day))
        assert isinstance(first, Closing)
        assert first.day == day


def test_a_lot_is_found_in_the_closings_that_name_it(shelf: Shelf) -> None:
    fill(shelf)
    books = shelf.open()
    again = FIRST + timedelta(days=DAYS)
    books.commit_closing({"closings": [Closing(again, (lot(7, 3),))]}, MOMENT)
    for now in (books, shelf.open()):
        assert now.closings.find(lot(7, 3).encode()) == [FIRST + timedelta(days=7), again]
        assert now.closings.find(lot(399, 0).encode()) == [FIRST + timedelta(days=399)]
        assert now.closings.find(b"99999-01") == []


def test_a_damaged_closing_stops_the_report_that_would_leave_it_out(shelf: Shelf) -> None:
    fill(shelf)
    data = bytearray(shelf.bytes_of("closings"))
    place = data.index(lot(100, 0).encode())
    data[place] ^= 1
    shelf.put("closings", bytes(data))
    with pytest.raises(
        BookDamaged, match=r"^Cannot read book closings beyond line 101: "
    ) as caught:
        list(shelf.open().closings.iterate())
    assert (caught.value.book, caught.value.line) == ("closings", 101)


def test_damage_before_the_last_closing_is_named_by_its_line_on_opening(shelf: Shelf) -> None:
    fill(shelf)
    lines = shelf.bytes_of("closings").splitlines(keepends=True)
    lines[-2] = lines[-2].replace(b',"link":', b',"lnik":')
    shelf.put("closings", b"".join(lines))
    books = shelf.open()
    assert books.closings.problem is not None
    assert books.closings.problem.line == DAYS - 1
    with pytest.raises(BookDamaged, match=r"^Cannot write into the shop: book closings is damaged"):
        sell(books, TUESDAY, 1)


def test_a_report_that_would_begin_at_a_damaged_line_names_it(shelf: Shelf) -> None:
    fill(shelf)
    sound = shelf.bytes_of("closings")
    for i in range(150, 250):  # among them is the line that the search arrives at
        lines = sound.splitlines(keepends=True)
        lines[i] = lines[i].replace(b',"link":', b',"lnik":')
        shelf.put("closings", b"".join(lines))
        with pytest.raises(BookDamaged) as caught:
            list(shelf.open().closings.iterate(FIRST + timedelta(days=250 - 100)))
        assert caught.value.line == i
