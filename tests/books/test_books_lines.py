"""What stands in the files, byte for byte."""

from __future__ import annotations

import json
from datetime import datetime
from hashlib import sha256
from typing import Any

import pytest

from counter.errors import BooksError
from tests.books.shelf import MOMENT, MONDAY, TUESDAY, Move, Sale, Shelf, sell


def test_one_commit_is_one_line_whatever_tables_it_touches(shelf: Shelf) -> None:
    books = shelf.open()
    n = books.commit(MONDAY, {"sales": [Sale(1), Sale(2)], "drawer": [Move(450)]}, MOMENT)
    assert n == 1
    lines = shelf.bytes_of("2026-11-23").split(b"\n")
    assert lines[-1] == b""
    assert len(lines) == 3
    assert lines[1].startswith(
        b'{"n":1,"entered":"2026-11-24T08:12:03.123456-05:00","records":{"sales":['
        b'{"number":1,"lines":[],"note":""},{"number":2,"lines":[],"note":""}],'
        b'"drawer":[{"amount":450}]},"link":"'
    )


def test_a_link_is_the_hash_of_the_link_before_and_of_the_bytes_of_the_line(shelf: Shelf) -> None:
    sell(shelf.open(), MONDAY, 1, 2, 3)
    before = "0" * 64
    for line in shelf.bytes_of("2026-11-23").splitlines():
        body, _, tail = line.partition(b',"link":"')
        assert tail == sha256(before.encode() + body).hexdigest().encode() + b'"}'
        before = json.loads(line)["link"]


def test_the_header_of_the_first_book_names_none_before_it(shelf: Shelf) -> None:
    sell(shelf.open(), MONDAY, 1)
    header = json.loads(shelf.bytes_of("2026-11-23").splitlines()[0])
    assert {k: v for k, v in header.items() if k != "link"} == {"n": 0, "book": "2026-11-23"}


def test_the_header_of_a_day_names_the_last_line_of_the_day_before(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1, 2)
    last = books.day(MONDAY).last_link
    sell(books, TUESDAY, 3)
    sell(books, MONDAY, 4)  # a late note: the header tells how Monday stood then
    header = json.loads(shelf.bytes_of("2026-11-24").splitlines()[0])
    assert header["after"] == {"book": "2026-11-23", "n": 2, "link": last}
    assert books.check().findings == ()


def test_text_of_any_language_and_control_characters_stay_in_one_line(shelf: Shelf) -> None:
    note = 'soft "豆花"\nline two\u2028three\x00\x1f end'
    books = shelf.open()
    books.commit(MONDAY, {"sales": [Sale(1, note=note)]}, MOMENT)
    assert shelf.bytes_of("2026-11-23").count(b"\n") == 2
    [sale] = shelf.open().day(MONDAY).records("sales")
    assert sale == Sale(1, note=note)


ONE: Any = "one"
NOTHING: Any = object()


@pytest.mark.parametrize(
    ("records", "sentence"),
    [
        # a record of another table
        ({"sales": [Move(1)]}, "does not fit table 'sales'"),
        # a table nobody declared
        ({"tills": [Sale(1)]}, "it writes into 'tills', a table this program does not know"),
        # a value of the wrong kind, which a Struct itself would take
        ({"sales": [Sale(ONE)]}, "does not fit table 'sales'"),
        # half a character
        ({"sales": [Sale(1, note="\ud800")]}, "surrogates not allowed"),
        # what JSON has no word for
        ({"sales": [Sale(1, note=NOTHING)]}, "cannot be written as JSON"),
        ({}, "it holds no record"),
        ({"sales": []}, "it holds no record"),
    ],
)
def test_what_could_not_be_read_back_is_not_written(
    shelf: Shelf, records: dict[str, list[object]], sentence: str
) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    before = shelf.bytes_of("2026-11-23")
    with pytest.raises(BooksError, match="^Cannot write .*" + sentence):
        books.commit(MONDAY, records, MOMENT)  # type: ignore[arg-type]
    assert shelf.bytes_of("2026-11-23") == before
    assert books.day(MONDAY).last_n == 1


def test_a_moment_without_a_time_zone_is_refused(shelf: Shelf) -> None:
    with pytest.raises(BooksError, match=r"^Cannot write sales: the moment .* has no time zone\."):
        shelf.open().commit(MONDAY, {"sales": [Sale(1)]}, datetime(2026, 11, 24, 8))  # noqa: DTZ001
    assert shelf.names() == []
