"""Whatever happens to the rows is found and named, and stops writing where it must."""

from __future__ import annotations

import pytest

from counter.books import Books
from counter.books.check import check_books
from counter.errors import BookDamaged
from tests.books.shelf import MOMENT, MONDAY, TUESDAY, Catalogue, Sale, Shelf, sell


def week(shelf: Shelf) -> Books:
    """A catalogue, three sales on Monday, and two with keys and notes on Tuesday."""
    books = shelf.open()
    books.commit("catalogue", {"catalogues": [Catalogue({"firm block": 450})]}, MOMENT)
    sell(books, MONDAY, 1, 2, 3)
    for key in ("a", "b"):
        books.commit(TUESDAY, {"sales": [Sale(1, note=f"word {key}", key=key)]}, MOMENT)
    return books


def found(shelf: Shelf) -> list[tuple[str, int | None]]:
    return [(f.book, f.line) for f in check_books(shelf.open()).findings]


def test_sound_books_are_counted_and_have_no_findings(shelf: Shelf) -> None:
    week(shelf)
    told: list[tuple[int, int]] = []
    checked = check_books(shelf.open(), lambda done, of: told.append((done, of)))
    assert (checked.findings, checked.books, checked.lines) == ((), 3, 6)
    assert told == [(6, 6)]


# What is done to the rows, and the first place that must be named.
SPOILT = [
    ("UPDATE lines SET body = replace(body, '450', '150') WHERE n = 1", ("catalogue", 1)),
    ("UPDATE lines SET body = replace(body, ',', ', ') WHERE n = 3", (MONDAY, 2)),  # a blank
    ("UPDATE lines SET link = x'00' WHERE n = 3", (MONDAY, 2)),
    ("DELETE FROM lines WHERE n = 3", (MONDAY, 3)),
    ("UPDATE lines SET line = 9 WHERE n = 4", (MONDAY, 9)),
    ("UPDATE lines SET line = 'x' WHERE n = 4", (MONDAY, 0)),  # a flip in the type of a column
    ("UPDATE lines SET book = '2026-11-29' WHERE n = 4", ("2026-11-29", 3)),
    ("DELETE FROM keys WHERE key = 'a'", (TUESDAY, 1)),
    ("UPDATE keys SET n = 6 WHERE key = 'a'", (TUESDAY, 1)),
    ("INSERT INTO keys VALUES ('never sent', 2)", ("", None)),
    ("DELETE FROM names WHERE name = 'word b'", (TUESDAY, 2)),
    ("UPDATE names SET name = 'word c' WHERE name = 'word a'", (TUESDAY, 1)),
]


@pytest.mark.parametrize(("sql", "place"), SPOILT)
def test_whatever_is_changed_is_found(
    shelf: Shelf, sql: str, place: tuple[str, int | None]
) -> None:
    week(shelf).close()
    shelf.spoil(sql)
    assert place in found(shelf)


def test_a_chain_that_was_made_anew_from_the_end_is_told_by_the_line_answered_last(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    shelf = Shelf(tmp_path_factory.mktemp("shop"))
    week(shelf).close()
    for table in ("lines", "keys", "names"):
        shelf.spoil(f"DELETE FROM {table} WHERE n = 6")
    [finding] = check_books(shelf.open()).findings
    assert finding.sentence == (
        "Cannot read the books of the shop: they end at line 5, and line 6 was answered for."
        " Run `counter mend`."
    )
    books = shelf.open()
    with pytest.raises(BookDamaged, match="line 6 was answered for"):
        sell(books, TUESDAY, 3)
    assert books.notices == [finding.sentence]


def test_damage_in_an_open_day_stops_writing_and_one_in_a_closed_day_does_not(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    shelf = Shelf(tmp_path_factory.mktemp("shop"))
    books = week(shelf)
    books.commit("closings", {"drawer": []} | {"sales": [Sale(9)]}, MOMENT)
    sell(books, "2026-11-25", 1)
    books.close()
    shelf.spoil("UPDATE lines SET body = replace(body, '450', '150') WHERE n = 1")
    books = shelf.open()
    sell(books, "2026-11-25", 2)
    assert books.notices == []
    books.close()
    shelf.spoil("UPDATE lines SET body = replace(body, '\"number\":1', '\"number\":7') WHERE n = 8")
    with pytest.raises(BookDamaged, match="line 1 of book 2026-11-25 does not follow"):
        sell(shelf.open(), "2026-11-25", 3)
