"""A line: what it is made of, its link, and the text it is beside the database."""

from __future__ import annotations

import hashlib
from datetime import datetime

import msgspec
import pytest

from counter.books.lines import ORIGIN, Line, Misfit, Types, as_text, from_text, link_of, unproved
from counter.errors import BooksError
from counter.trade.closing import LotDay
from counter.trade.production import Batch, Hold
from counter.trade.stock import Lot
from counter.trade.tables import TABLES
from labels.say import Said, all_of, join, say
from tests.books.shelf import MOMENT, MONDAY, TYPES, Move, Sale, Shelf, sell

BODY = (
    b'{"n":1,"book":"2026-11-23","line":1,"entered":"2026-11-24T08:12:03.123456-05:00",'
    b'"records":{"drawer":[{"amount":5}]}}'
)


def test_a_line_is_these_bytes_and_its_link_the_digest_of_link_before_and_bytes() -> None:
    types = Types(TYPES)
    body = types.write(1, MONDAY, 1, MOMENT, {"drawer": [Move(5)]})
    assert body == BODY
    assert link_of(body, ORIGIN) == hashlib.sha256(b"0" * 64 + BODY).hexdigest()
    assert types.read(Line(1, MONDAY, 1, "", body)).records == {"drawer": [Move(5)]}


def test_the_lines_of_all_books_are_one_chain(shelf: Shelf) -> None:
    books = shelf.open()
    for day in (MONDAY, "catalogue", MONDAY):
        books.commit(day, {"drawer": [Move(1)]}, MOMENT)
    rows = books.engine.rows("SELECT n, book, line, link, body FROM lines ORDER BY n")
    before = ORIGIN
    for n, book, line, link, body in rows:
        assert not unproved(Line(n, book.decode(), line, link.hex(), body), before)
        before = link.hex()
    assert [(n, book, line) for n, book, line, *_ in rows] == [
        (1, b"2026-11-23", 1), (2, b"catalogue", 1), (3, b"2026-11-23", 2),
    ]  # fmt: skip
    assert books.end() == (3, before)
    assert books.head(MONDAY) == (2, before)
    assert books.link_at(MONDAY, 2) == books.link_of(3) == before
    assert books.link_at(MONDAY, 3) == books.link_of(4) == ""


def test_as_text_a_line_ends_with_its_link_and_reads_back() -> None:
    line = Line(1, MONDAY, 1, link_of(BODY, ORIGIN), BODY)
    text = as_text(line)
    assert text == BODY[:-1] + b',"link":"' + line.link.encode() + b'"}'
    assert from_text(text) == line


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"{}",
        BODY,  # no link
        BODY[:-1] + b',"link":"' + b"0" * 63 + b'"}',  # one digit short
        BODY[:-1] + b',"link":"' + b"-" * 64 + b'"}',  # no digits
        b'{"n":1' + b',"link":"' + b"0" * 64 + b'"}',  # no records
    ],
)
def test_what_is_no_line_as_text_is_said_to_be_none(text: bytes) -> None:
    with pytest.raises(Misfit):
        from_text(text)


def within(text: object, times: int, template: str = "so {t}") -> object:
    for _ in range(times):
        text = {"say": template, "with": {"t": text}}
    return text


@pytest.mark.parametrize(
    "kept",
    [
        4,
        {},
        {"say": None},
        {"say": "a", "with": ["b"]},
        {"say": "a", "with": "b"},
        {"say": "a", "with": None},
        {"say": "a", "as": ["small"]},
        {"say": "a", "many": ["as"]},
        {"say": "{n} tub", "many": "{n} tubs"},
        {"say": "{n} tub", "many": "{n} tubs", "with": {"n": "2"}},
        {"say": "{n} l", "with": {"n": {"number": "much"}}},
        {"say": "{n} l", "with": {"n": {"number": [1]}}},
        {"say": "on {t}", "with": {"t": {"date": "2026-02-30"}}},
        {"say": "on {t}", "with": {"t": {"moment": 5}}},
        {"say": "on {t}", "with": {"t": {"other": "5"}}},
        within("x", 160),
        within("x", 450),
        within("x", 26, "{t}{t}"),
    ],
)
def test_a_text_that_no_program_of_ours_kept_is_damage_said_in_one_sentence(kept: object) -> None:
    records = {"holds": [{"lot": "26328-01", "stopped": True, "why": kept, "at": f"{MOMENT}"}]}
    body = msgspec.json.encode(
        {"n": 1, "book": MONDAY, "line": 1, "entered": MOMENT, "records": records}
    )
    with pytest.raises(Misfit, match=r"^its record does not fit table 'holds' \("):
        Types(TABLES).read(Line(1, MONDAY, 1, "", body))


@pytest.mark.parametrize(
    "why",
    [
        all_of(f"nut {n}" for n in range(120)),
        join("; ", (say("lot {lot} went into it", lot="26328-01") for _ in range(3000))),
        join("; ", ("x" * 500 for _ in range(2500))),
    ],
)
def test_a_text_of_many_parts_is_kept_and_read_again(why: Said) -> None:
    types, hold = Types(TABLES), Hold(lot="26328-01", stopped=True, why=why, at=MOMENT)
    body = types.write(1, MONDAY, 1, MOMENT, {"holds": [hold]})
    assert types.read(Line(1, MONDAY, 1, "", body)).records == {"holds": [hold]}


def test_a_text_within_many_texts_is_no_end_of_the_reading() -> None:
    deep = b'{"say":"{t}","with":{"t":' * 100_000 + b'""' + b"}}" * 100_000
    body = BODY.replace(b'{"amount":5}', b'{"amount":5,"why":' + deep + b"}")
    with pytest.raises(Misfit):
        Types(TABLES).read(Line(1, MONDAY, 1, "", body))


def test_what_cannot_be_a_line_is_refused_and_nothing_is_written(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    for records, why in (
        ({}, "write a commit: it holds no record"),
        ({"drawer": []}, "write a commit: it holds no record"),
        ({"drawer": [object()]}, "write drawer: a object cannot be kept"),
        ({"drawer": [Sale(1)]}, "write into book 2026-11-23: its record does not fit"),
        ({"bills": [Move(1)]}, "it writes into 'bills', a table this program does not know"),
    ):
        with pytest.raises(BooksError) as caught:
            books.commit(MONDAY, records, MOMENT)
        assert why in str(caught.value)
    with pytest.raises(BooksError, match="has no time zone"):
        books.commit(MONDAY, {"drawer": [Move(1)]}, datetime(2026, 11, 24, 8))  # noqa: DTZ001
    assert books.end()[0] == shelf.open().end()[0] == 1


@pytest.mark.parametrize("field", ["raw", "stopped", "void"])
def test_what_a_record_takes_from_a_batch_or_a_stop_may_be_a_text_of_the_program(
    field: str,
) -> None:
    for kind in (Batch, Lot, LotDay):
        types = {f.name: f.type for f in msgspec.structs.fields(kind)}
        assert types.get(field, Said) is Said
