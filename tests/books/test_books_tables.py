"""TinyDB over the books, and each of TinyDB's traps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from tinydb import Query, where
from tinydb.operations import increment
from tinydb.table import Document

from counter.books import BookTables, Journal, JournalStorage
from counter.books.folder import MemoryFolder
from counter.errors import BooksError, NotAppendOnly
from tests.books.shelf import MOMENT, MONDAY, Sale, Shelf, numbers, sell


def test_documents_are_found_by_tinydb_queries(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1, 2, 3)
    table = books.day(MONDAY).db.table("sales")
    assert len(table) == 3
    assert [doc["number"] for doc in table.search(where("number") >= 2)] == [2, 3]
    assert table.get(where("number") == 3)["number"] == 3  # type: ignore[index]
    assert table.get(doc_id=2)["number"] == 2  # type: ignore[index]
    assert table.get(doc_id=4) is None
    assert table.count(Query().lines.any(["small cup"])) == 3
    assert table.contains(doc_id=3)
    assert not table.contains(doc_id=0)
    assert books.day(MONDAY).db.tables() == {"sales"}


def test_an_insert_is_a_commit_with_a_typed_record(shelf: Shelf) -> None:
    books = shelf.open()
    table = books.day(MONDAY).db.table("sales")
    assert table.insert({"number": 1}) == 1
    assert table.insert_multiple([{"number": 2}, {"number": 3}]) == [2, 3]
    assert table.insert_multiple([]) == []
    assert books.day(MONDAY).last_n == 2
    assert books.day(MONDAY).records("sales") == [Sale(1), Sale(2), Sale(3)]
    assert books.day(MONDAY).entries[1].entered == MOMENT
    assert numbers(shelf.open(), MONDAY) == [1, 2, 3]


def test_an_insert_that_does_not_fit_its_type_is_refused(shelf: Shelf) -> None:
    books = shelf.open()
    with pytest.raises(BooksError, match=r"its record does not fit table 'sales' \(Object missing"):
        books.day(MONDAY).db.table("sales").insert({"amount": 1})
    with pytest.raises(BooksError, match="it writes into '_default', a table this program does no"):
        books.day(MONDAY).db.insert({"number": 1})
    assert shelf.names() == []


def test_a_table_shows_what_commits_and_other_writers_add(shelf: Shelf) -> None:
    books, other = shelf.open(), shelf.open()
    table = books.day(MONDAY).db.table("sales")
    assert len(table) == 0
    sell(books, MONDAY, 1)
    sell(other, MONDAY, 2)
    assert [doc["number"] for doc in table] == [1, 2]
    assert table.insert({"number": 3}) == 3


CHANGES: list[tuple[str, Callable[[Any], object]]] = [
    ("update", lambda t: t.update({"number": 9})),
    ("update in place by a function", lambda t: t.update(increment("number"))),
    ("update by number", lambda t: t.update({"number": 9}, doc_ids=[1])),
    ("update several", lambda t: t.update_multiple([({"number": 9}, where("number") == 1)])),
    ("upsert", lambda t: t.upsert({"number": 9}, where("number") == 1)),
    ("upsert of a new one", lambda t: t.upsert({"number": 9}, where("number") == 99)),
    ("remove", lambda t: t.remove(where("number") == 1)),
    ("truncate", lambda t: t.truncate()),
    ("insert under a number", lambda t: t.insert(Document({"number": 9}, doc_id=1))),
    ("insert what was handed out", lambda t: t.insert(t.get(doc_id=1))),
]


@pytest.mark.parametrize("change", [c for _, c in CHANGES], ids=[name for name, _ in CHANGES])
def test_what_is_written_cannot_be_changed(shelf: Shelf, change: Callable[[Any], object]) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1, 2)
    before = shelf.bytes_of("2026-11-23")
    table = books.day(MONDAY).db.table("sales")
    with pytest.raises(NotAppendOnly, match=r"^Cannot .*'?sales'?: .*\. Write a new record that"):
        change(table)
    assert shelf.bytes_of("2026-11-23") == before
    assert [doc["number"] for doc in table] == [1, 2]


@pytest.mark.parametrize(
    "change",
    [
        lambda db: db.drop_tables(),
        lambda db: db.drop_table("sales"),
        lambda db: db.table("drawer", persist_empty=True),
        lambda db: db.storage.write({}),
    ],
)
def test_tables_cannot_be_dropped_or_rewritten(
    shelf: Shelf, change: Callable[[Any], object]
) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    with pytest.raises(NotAppendOnly, match=r"^Cannot rewrite .*: books are append-only\.$"):
        change(books.day(MONDAY).db)
    assert numbers(shelf.open(), MONDAY) == [1]


def test_documents_are_read_only_at_any_depth(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    table = books.day(MONDAY).db.table("sales")
    document: Any = table.all()[0]
    with pytest.raises(TypeError):
        document["number"] = 9
    with pytest.raises(AttributeError):
        document["lines"].append("tub")
    books.commit(MONDAY, {"sales": [Sale(2)]}, MOMENT)
    assert [doc["number"] for doc in table] == [1, 2]


def test_reading_gives_a_dictionary_of_ones_own(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    storage = books.day(MONDAY).db.storage
    first = storage.read()
    assert first is not None
    first.clear()
    again = storage.read()
    assert again is not None
    assert list(again) == ["sales"]
    with pytest.raises(TypeError):
        again["sales"]["2"] = {}  # a table itself is read-only


def test_a_table_read_before_an_insert_stays_as_it_was(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    before = books.day(MONDAY).db.storage.read()
    assert before is not None
    sell(books, MONDAY, 2)
    assert list(before["sales"].items()) == [("1", {"number": 1, "lines": ("block", "small cup"), "note": ""})]  # fmt: skip
    assert list(before["sales"]) == ["1"]
    assert "2" not in before["sales"]


def test_a_number_is_never_given_twice_not_even_after_reopening(shelf: Shelf) -> None:
    ids = [shelf.open().day(MONDAY).db.table("sales").insert({"number": i}) for i in range(1, 4)]
    assert ids == [1, 2, 3]


def test_no_answer_comes_from_a_cache(shelf: Shelf) -> None:
    books, other = shelf.open(), shelf.open()
    table = books.day(MONDAY).db.table("sales", cache_size=30)
    query = where("number") > 0
    assert table.search(query) == []
    sell(other, MONDAY, 1)
    first = table.search(query)
    assert len(first) == 1
    first.clear()
    assert len(table.search(query)) == 1


def test_without_a_clock_tinydb_only_reads(shelf: Shelf) -> None:
    books = shelf.open()
    books._clock = None
    with pytest.raises(NotAppendOnly, match=r"^Cannot insert into sales: no clock was given\. "):
        books.day(MONDAY).db.table("sales").insert({"number": 1})


def test_a_bare_journal_is_a_tinydb_storage_too() -> None:
    journal = Journal(MemoryFolder().file("catalogue"), "catalogue")
    db = BookTables(journal, lambda records: journal.append(records, MOMENT))
    assert db.table("notes").insert({"text": "soak 12 kg"}) == 1
    assert db.table("notes").all()[0]["text"] == "soak 12 kg"
    assert list(journal.entries[0].records) == ["notes"]
    reader = BookTables(journal, storage=JournalStorage)
    with pytest.raises(NotAppendOnly, match=r"^Cannot insert into notes: this view only reads\. "):
        reader.table("notes").insert({"text": "x"})
