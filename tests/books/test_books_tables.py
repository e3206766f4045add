"""TinyDB over the books: inserting appends, what is handed out is read-only, nothing is changed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from tinydb import TinyDB, where
from tinydb.operations import increment
from tinydb.table import Document

from counter.books import Books, BookTables
from counter.books.tables import _READ, BookStorage
from counter.errors import NotAppendOnly
from tests.books.shelf import (
    MOMENT,
    MONDAY,
    TUESDAY,
    WEDNESDAY,
    Catalogue,
    Move,
    Price,
    Sale,
    Shelf,
    numbers,
    sell,
)


def test_it_is_a_tinydb_over_a_storage_of_ours(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    assert isinstance(books.lines, BookTables)
    assert isinstance(books.lines, TinyDB)
    assert isinstance(books.lines.storage, BookStorage)
    assert books.lines.tables() == {"lines", "sales"}
    assert len(books.lines.table("sales")) == 1


def test_inserting_into_lines_appends_one_line_to_the_book_that_is_named(shelf: Shelf) -> None:
    books = shelf.open()
    lines = books.lines.table("lines")
    records = {"sales": [Sale(1)], "drawer": [Move(2), Move(3)]}
    assert lines.insert({"book": MONDAY, "entered": MOMENT, "records": records}) == 1
    assert lines.insert({"book": MONDAY, "records": {"sales": [{"number": 2}]}}) == 2
    assert books.head(MONDAY)[0] == books.end()[0] == len(lines) == 2
    assert numbers(books, MONDAY) == [1, 2]
    [document] = lines.search(where("n") == 2)
    assert document["entered"] == shelf.clock_at
    assert document.doc_id == 2


def test_inserting_into_a_table_of_records_appends_to_todays_book(shelf: Shelf) -> None:
    books = shelf.open()
    assert books.lines.table("sales").insert({"number": 7, "lines": ["block"]}) == 1
    assert books.select(str(MOMENT.date())).find("sales", Sale) == [Sale(7, ("block",))]


def test_many_documents_are_one_commit_of_a_table_and_stand_or_fall_together(shelf: Shelf) -> None:
    books = shelf.open()
    assert books.lines.table("sales").insert_multiple([{"number": n} for n in (1, 2, 3)]) == [1]
    assert books.lines.table("sales").insert_multiple([]) == []
    lines = books.lines.table("lines")
    good = {"book": MONDAY, "records": {"drawer": [Move(1)]}}
    with pytest.raises(Exception, match="does not fit table 'drawer'"):
        lines.insert_multiple([good, good, {"book": MONDAY, "records": {"drawer": [Sale(1)]}}])
    assert books.end()[0] == 1
    assert books.days() == [MOMENT.date()]
    assert lines.insert_multiple([good, good]) == [2, 3]


@pytest.mark.parametrize(
    "change",
    [
        lambda table: table.update({"note": "x"}),
        lambda table: table.update(increment("number"), where("number") == 1),
        lambda table: table.update_multiple([({"note": "x"}, where("number") == 1)]),
        lambda table: table.upsert({"number": 1}, where("number") == 1),
        lambda table: table.remove(where("number") == 1),
        lambda table: table.remove(doc_ids=[1]),
        lambda table: table.truncate(),
    ],
)
@pytest.mark.parametrize("name", ["sales", "lines"])
def test_what_would_change_what_is_written_is_refused(
    shelf: Shelf, name: str, change: Callable[[Any], object]
) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    with pytest.raises(NotAppendOnly, match=f"^Cannot change table '{name}': "):
        change(books.lines.table(name))
    assert books.select(MONDAY).find("sales", Sale) == [Sale(1, ("block", "small cup"))]


@pytest.mark.parametrize(
    "change",
    [
        lambda db: db.drop_table("sales"),
        lambda db: db.drop_tables(),
        lambda db: db.storage.write({}),
    ],
)
def test_a_table_cannot_be_dropped_nor_all_be_written_anew(
    shelf: Shelf, change: Callable[[Any], object]
) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    with pytest.raises(NotAppendOnly):
        change(books.lines)
    assert numbers(books, MONDAY) == [1]


def test_an_answer_takes_no_documents_and_none_is_written_a_second_time(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    answer = books.select(MONDAY).table("sales")
    with pytest.raises(NotAppendOnly, match="Insert into the table of all lines"):
        answer.insert({"number": 2})
    for again in (answer.all()[0], Document({"number": 2}, doc_id=9)):
        with pytest.raises(NotAppendOnly, match="would be written twice"):
            books.lines.table("sales").insert(again)
    assert books.end()[0] == 1


def test_documents_are_read_only_all_the_way_down(shelf: Shelf) -> None:
    books = shelf.open()
    books.commit(MONDAY, {"sales": [Sale(1, paid=Price(450))]}, MOMENT)
    [document] = books.select(MONDAY).table("sales").all()
    for part in (document, document["paid"]):
        with pytest.raises(TypeError):
            part["minor"] = 1
    assert isinstance(document["lines"], tuple)
    assert (document["number"], document["paid"]["minor"]) == (1, 450)
    assert dict(document).keys() == set(document)
    assert len(document) == len(Sale.__struct_fields__)
    with pytest.raises(KeyError):
        document["record"]


@pytest.fixture
def week(shelf: Shelf) -> Books:
    books = shelf.open()
    books.commit("catalogue", {"catalogues": [Catalogue({"block": 450})]}, MOMENT)
    for i, day in enumerate((MONDAY, TUESDAY, WEDNESDAY)):
        for n in range(1, 4):
            at = MOMENT + timedelta(days=i, hours=n)
            paid = Price(100 * n, "card" if n == 2 else "cash")
            sale = Sale(10 * i + n, ("block",) * n, f"word{n}", f"key-{i}-{n}", paid, at)
            books.commit(day, {"sales": [sale], "drawer": [Move(n)]}, at)
    books.commit("catalogue", {"catalogues": [Catalogue({"block": 475})]}, MOMENT)
    return books


QUESTIONS: list[tuple[str, dict[str, Any], Any, list[int]]] = [
    ("a field", {"book": MONDAY}, where("number") == 2, [2]),
    ("a field of a field", {"book": MONDAY}, where("paid").kind == "card", [2]),
    ("a moment", {"book": TUESDAY}, where("at") > MOMENT + timedelta(days=1, hours=1), [12, 13]),
    ("an element", {"book": TUESDAY}, where("lines").test(lambda lines: len(lines) == 2), [12]),
    ("one of two", {"book": MONDAY}, (where("number") == 1) | (where("number") == 3), [1, 3]),
    ("a field no record has", {"book": MONDAY}, where("gone").exists(), []),
    ("none at all", {"book": MONDAY}, None, [1, 2, 3]),
    ("behind a line", {"book": MONDAY, "after": 2}, None, [3]),
    ("a span", {"book": MONDAY, "until": TUESDAY}, where("note") == "word3", [3, 13]),
    ("a name", {"name": "word1"}, None, [1, 11, 21]),
    ("a name within a span", {"book": TUESDAY, "until": "a", "name": "word1"}, None, [11, 21]),
    ("names up to one", {"name": "word2", "to": "word3"}, None, [2, 3, 12, 13, 22, 23]),
    ("a key", {"key": "key-1-3"}, None, [13]),
    ("a key of nobody", {"key": "key-9-9"}, None, []),
    ("a text that begins so", {"book": TUESDAY, "about": "word2"}, None, [12]),
]


@pytest.mark.parametrize(("_", "selected", "query", "expected"), QUESTIONS)
def test_a_question_is_cut_down_first_and_then_asked_in_tinydbs_words(
    week: Books, _: str, selected: dict[str, Any], query: Any, expected: list[int]
) -> None:
    assert [s.number for s in week.select(**selected).find("sales", Sale, query)] == expected


@pytest.mark.parametrize(
    "selected",
    [
        *(selected for _, selected, _, _ in QUESTIONS),
        {"book": MONDAY, "until": WEDNESDAY, "about": "word2"},
        {"about": "word2"},
        {"book": "catalogue", "name": "catalogues"},
    ],
)
def test_no_question_walks_all_lines(week: Books, selected: dict[str, Any]) -> None:
    """``EXPLAIN QUERY PLAN``: SEARCH is by an index or a number, SCAN reads every row."""
    storage = week.select(**selected).storage
    assert isinstance(storage, BookStorage)
    plan = week.engine.rows(f"EXPLAIN QUERY PLAN {_READ} {storage._sql}", storage._values)
    steps = [detail.decode() for *_, detail in plan]
    assert any(step.startswith("SEARCH l ") for step in steps)
    assert [step for step in steps if step.startswith("SCAN")] == []


def test_what_the_books_ask_of_numbers_and_links_walks_no_lines_either(
    week: Books, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = list[str]()
    rows = week.engine.rows

    def noting(sql: str, values: Any = ()) -> list[Any]:
        if sql.startswith("SELECT"):
            asked.extend(d.decode() for *_, d in rows(f"EXPLAIN QUERY PLAN {sql}", values))
        return rows(sql, values)

    monkeypatch.setattr(week.engine, "rows", noting)
    week._forget(-2)
    week.days(), week.end(), week.head(MONDAY), week.link_at(MONDAY, 2), week.link_of(3)
    week.last_entry("catalogue"), week.last("catalogues"), week.books_naming("word1")
    week.keyed("key-1-1")
    assert len(asked) > 8
    assert any("INDEX begun (book<?)" in step for step in asked)  # the days: a row each
    # The last line of all is one step from the end.
    assert {step for step in asked if step.startswith("SCAN")} == {"SCAN lines"}
    assert asked.count("SCAN lines") == 1
