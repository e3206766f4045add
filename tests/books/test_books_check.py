"""Whatever happens to the files is found and named, and stops writing where it must."""

from __future__ import annotations

import pytest

from counter.books.lines import seal_line
from counter.errors import BookDamaged
from tests.books.shelf import (
    MOMENT,
    MONDAY,
    TUESDAY,
    WEDNESDAY,
    Catalogue,
    Reopening,
    Shelf,
    close_day,
    numbers,
    sell,
)


def found(shelf: Shelf) -> list[tuple[str, int | None]]:
    return [(f.book, f.line) for f in shelf.open().check().findings]


def week(shelf: Shelf) -> None:
    """Monday and Tuesday closed, Wednesday open."""
    books = shelf.open()
    books.commit_catalogue({"catalogues": [Catalogue({"firm block": 450})]}, MOMENT)
    for day in (MONDAY, TUESDAY):
        sell(books, day, 1, 2, 3)
        close_day(books, day)
    sell(books, WEDNESDAY, 1, 2, 3)


def cut(shelf: Shelf, book: str, lines: int) -> None:
    kept = shelf.bytes_of(book).splitlines(keepends=True)[:-lines]
    shelf.put(book, b"".join(kept))


def test_sound_books_are_counted_and_have_no_findings(shelf: Shelf) -> None:
    week(shelf)
    told: list[tuple[int, int]] = []
    checked = shelf.open().check(lambda done, of: told.append((done, of)))
    assert checked.findings == ()
    assert checked.sound
    assert (checked.books, checked.lines) == (5, 2 + 3 + 4 + 4 + 4)
    assert checked.size == sum(len(shelf.read(name)) for name in shelf.names())
    assert told == [(i, 5) for i in range(1, 6)]


def test_an_edited_figure_is_found_and_stops_writing(shelf: Shelf) -> None:
    week(shelf)
    shelf.put("2026-11-25", shelf.bytes_of("2026-11-25").replace(b'"number":2', b'"number":7'))
    assert found(shelf) == [("2026-11-25", 2)]
    books = shelf.open()
    assert numbers(books, WEDNESDAY) == [1]  # up to there it can be shown
    problem = books.day(WEDNESDAY).problem
    assert problem is not None
    assert str(problem) == (
        "Cannot read book 2026-11-25 beyond line 2: its link does not follow from the line before"
        " and its own content. Run `counter check`, then put the book back from a backup."
    )
    assert str(problem) in books.notices
    with pytest.raises(BookDamaged) as caught:
        sell(books, WEDNESDAY, 4)
    assert (caught.value.book, caught.value.line) == ("2026-11-25", 2)
    assert str(caught.value) == (
        "Cannot write into the shop: book 2026-11-25 is damaged in line 2: its link does not follow"
        " from the line before and its own content."
        " Run `counter check`, then put the book back from a backup."
    )


def test_damage_in_an_open_day_stops_writing_into_any_book(shelf: Shelf) -> None:
    week(shelf)
    sell(shelf.open(), WEDNESDAY.replace(day=26), 1)
    shelf.put("2026-11-25", shelf.bytes_of("2026-11-25").replace(b'"number":2', b'"number":7'))
    books = shelf.open()
    books.day(WEDNESDAY)
    for write in (
        lambda: sell(books, WEDNESDAY.replace(day=26), 2),
        lambda: close_day(books, WEDNESDAY),
        lambda: books.commit_catalogue({"catalogues": [Catalogue({})]}, MOMENT),
    ):
        with pytest.raises(BookDamaged):
            write()


def test_damage_in_the_archive_is_found_but_does_not_stop_the_counter(shelf: Shelf) -> None:
    week(shelf)
    shelf.put("2026-11-23", shelf.bytes_of("2026-11-23").replace(b'"number":2', b'"number":7'))
    books = shelf.open()
    assert books.day(MONDAY).problem is not None
    sell(books, WEDNESDAY, 4)
    assert numbers(books, WEDNESDAY) == [1, 2, 3, 4]
    assert found(shelf) == [("2026-11-23", 2)]
    with pytest.raises(BookDamaged):  # only the damaged book itself takes nothing
        sell(books, MONDAY, 4)


def test_a_book_put_back_from_a_backup_is_taken_up_without_reopening(shelf: Shelf) -> None:
    week(shelf)
    sound = shelf.bytes_of("2026-11-25")
    books = shelf.open()
    table = books.day(WEDNESDAY).db.table("sales")
    shelf.put("2026-11-25", sound.replace(b'"number":2,', b'"number":72,'))
    assert books.day(WEDNESDAY).problem is not None
    assert len(table) == 1
    shelf.put("2026-11-25", sound)
    assert books.day(WEDNESDAY).problem is None
    sell(books, WEDNESDAY, 4)
    assert numbers(books, WEDNESDAY) == [1, 2, 3, 4]
    assert len(table) == 4
    assert found(shelf) == []


def test_a_changed_blank_is_found(shelf: Shelf) -> None:
    week(shelf)
    lines = shelf.bytes_of("2026-11-24").splitlines(keepends=True)
    lines[1] = lines[1].replace(b'"n":1,', b'"n": 1,')
    shelf.put("2026-11-24", b"".join(lines))
    assert found(shelf) == [("2026-11-24", 1)]


def test_every_damaged_line_is_named_not_only_the_first(shelf: Shelf) -> None:
    week(shelf)
    data = shelf.bytes_of("2026-11-24")
    data = data.replace(b'"number":1,', b'"number":6,').replace(b'"number":3,', b'"number":8,')
    shelf.put("2026-11-24", data)
    assert found(shelf) == [("2026-11-24", 1), ("2026-11-24", 3)]


def test_a_line_taken_out_of_the_middle_is_found(shelf: Shelf) -> None:
    week(shelf)
    lines = shelf.bytes_of("2026-11-25").splitlines(keepends=True)
    shelf.put("2026-11-25", b"".join(lines[:2] + lines[3:]))
    assert ("2026-11-25", 2) in found(shelf)


def test_lines_cut_off_a_closed_day_are_found_by_its_seal(shelf: Shelf) -> None:
    week(shelf)
    shelf.remove("2026-11-25")
    cut(shelf, "2026-11-24", 1)
    [finding] = shelf.open().check().findings
    assert (finding.book, finding.line) == ("2026-11-24", 3)
    assert finding.sentence == (
        "Book 2026-11-24 ends at line 2, but the day was closed with line 3."
    )


def test_lines_cut_off_before_a_later_book_are_found_by_its_header(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1, 2, 3)
    sell(books, TUESDAY, 1)
    cut(shelf, "2026-11-23", 2)
    [finding] = shelf.open().check().findings
    assert (finding.book, finding.line) == ("2026-11-23", 2)
    assert finding.sentence == (
        "Book 2026-11-23 ends at line 1, but the header of book 2026-11-24 names its line 3."
    )


def test_a_book_written_anew_with_right_links_is_found_by_header_and_seal(shelf: Shelf) -> None:
    week(shelf)
    shelf.remove("2026-11-23")
    sell(shelf.open(), MONDAY, 1, 2, 9)
    assert found(shelf) == [("2026-11-23", 3), ("2026-11-23", 3)]


def test_lines_added_behind_a_seal_are_found(shelf: Shelf) -> None:
    week(shelf)
    sell(shelf.open(), MONDAY, 4, 5)
    [finding] = shelf.open().check().findings
    assert (finding.book, finding.line) == ("2026-11-23", 4)
    assert finding.sentence == (
        "Line 4 of book 2026-11-23 was added later: the day was closed with line 3."
    )


def test_a_reopened_day_may_go_on_and_be_closed_again(shelf: Shelf) -> None:
    week(shelf)
    books = shelf.open()
    close_day(books, WEDNESDAY)
    books.commit_closing({"reopenings": [Reopening(WEDNESDAY, "a late sale")]}, MOMENT)
    sell(books, WEDNESDAY, 4)
    assert found(shelf) == []
    close_day(books, WEDNESDAY)
    assert found(shelf) == []
    cut(shelf, "2026-11-25", 1)
    assert found(shelf) == [("2026-11-25", 4)]


def test_a_missing_book_is_found(shelf: Shelf) -> None:
    week(shelf)
    shelf.remove("2026-11-23")
    findings = shelf.open().check().findings
    assert {f.book for f in findings} == {"2026-11-23", "2026-11-24"}
    assert findings[-1].sentence == "Book 2026-11-23 is missing: the day was closed with line 3."


def test_an_emptied_book_is_found_and_written_anew(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    shelf.put("2026-11-23", b"")
    assert found(shelf) == [("2026-11-23", 0)]
    sell(books, MONDAY, 2)
    assert found(shelf) == []
    assert numbers(shelf.open(), MONDAY) == [2]


def test_a_book_under_another_name_is_found(shelf: Shelf) -> None:
    week(shelf)
    shelf.put("2026-11-26", shelf.bytes_of("2026-11-25"))
    assert found(shelf) == [("2026-11-26", 0)]


def test_a_record_that_no_longer_fits_is_found(shelf: Shelf) -> None:
    week(shelf)
    books = shelf.open()
    books._types = type(books._types)({"sales": Catalogue})
    sentences = [f.sentence for f in books.check().findings]
    assert any(s.startswith("Line 1 of book 2026-11-25 is damaged: its record does") for s in sentences)  # fmt: skip


def test_a_book_full_of_damage_is_not_listed_without_end(shelf: Shelf) -> None:
    sell(shelf.open(), MONDAY, *range(60))
    shelf.put("2026-11-23", shelf.bytes_of("2026-11-23").replace(b'"number":', b'"munber":'))
    assert len(shelf.open().check().findings) == 20


@pytest.mark.parametrize("rest", [b'{"n":4,"ent', b"\0\0\0\0", b'{"n":4\0\0\0', b"\xff"])
def test_an_unfinished_line_is_set_aside_by_the_next_writer(shelf: Shelf, rest: bytes) -> None:
    week(shelf)
    sound = shelf.bytes_of("2026-11-25")
    shelf.put("2026-11-25", sound + rest)
    reader = shelf.open()
    assert numbers(reader, WEDNESDAY) == [1, 2, 3]  # a reader leaves it alone
    assert shelf.bytes_of("2026-11-25") == sound + rest
    [finding] = reader.check().findings
    assert (finding.book, finding.line) == ("2026-11-25", 4)
    assert finding.sentence == (
        "Line 4 of book 2026-11-25 is unfinished; the next writing sets it aside."
    )
    sell(reader, WEDNESDAY, 4)
    aside = "days/2026/2026-11-25.jsonl.torn-1"
    assert shelf.read(aside) == rest
    assert shelf.bytes_of("2026-11-25").startswith(sound)
    assert numbers(shelf.open(), WEDNESDAY) == [1, 2, 3, 4]
    notice = (
        "Book 2026-11-25 ended in an unfinished line, as after a power cut; it was set aside in"
        f" {aside}. Enter again what it held, then delete it."
    )
    assert shelf.open().notices == reader.notices == [notice]
    assert [f.sentence for f in shelf.open().check().findings] == [notice]


def test_each_unfinished_line_gets_a_file_of_its_own(shelf: Shelf) -> None:
    week(shelf)
    for k in (1, 2, 3):
        shelf.put("2026-11-25", shelf.bytes_of("2026-11-25") + b"rest %d" % k)
        sell(shelf.open(), WEDNESDAY, 3 + k)
    torn = [name for name in shelf.names() if ".torn-" in name]
    assert [shelf.read(name) for name in torn] == [b"rest 1", b"rest 2", b"rest 3"]
    assert found(shelf) == [("2026-11-25", None)] * 3


def test_an_unfinished_line_of_yesterday_is_set_aside_when_today_is_begun(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    shelf.put("2026-11-23", shelf.bytes_of("2026-11-23") + b"{")
    sell(shelf.open(), TUESDAY, 1)
    assert found(shelf) == [("2026-11-23", None)]


@pytest.mark.parametrize("book", ["catalogue", "closings"])
def test_an_unfinished_line_of_a_long_book_is_set_aside(shelf: Shelf, book: str) -> None:
    week(shelf)
    shelf.put(book, shelf.bytes_of(book) + b'{"n":')
    books = shelf.open()
    with books.exclusive():
        pass
    assert shelf.read(f"{book}.jsonl.torn-1") == b'{"n":'
    assert found(shelf) == [(book, None)]


def test_an_unfinished_header_is_set_aside_and_written_anew(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    sell(books, TUESDAY, 1)
    shelf.put("2026-11-24", shelf.bytes_of("2026-11-24")[:30])
    sell(shelf.open(), TUESDAY, 2)
    assert numbers(shelf.open(), TUESDAY) == [2]
    assert found(shelf) == [("2026-11-24", None)]


def test_a_withdrawn_line_that_was_seen_is_no_damage(shelf: Shelf) -> None:
    reader, writer = shelf.open(), shelf.open()
    sell(writer, MONDAY, 1)
    before = shelf.bytes_of("2026-11-23")
    sell(writer, MONDAY, 2)
    assert numbers(reader, MONDAY) == [1, 2]
    shelf.put("2026-11-23", before)  # as when the fsync of line 2 had failed
    sell(shelf.open(), MONDAY, 3)  # a line of the same length
    sell(reader, MONDAY, 4)
    assert numbers(reader, MONDAY) == [1, 3, 4]
    assert found(shelf) == []


def test_a_line_with_a_right_link_but_a_wrong_number_is_found(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1)
    forged, _ = seal_line(
        b'{"n":3,"entered":"2026-11-24T08:12:03Z","records":{"drawer":[{"amount":5}]}}',
        books.day(MONDAY).last_link,
    )
    shelf.put("2026-11-23", shelf.bytes_of("2026-11-23") + forged)
    assert [f.sentence for f in shelf.open().check().findings] == [
        "Line 2 of book 2026-11-23 is damaged: it carries number 3."
    ]


def test_tables_show_what_is_in_a_book_that_was_replaced(shelf: Shelf) -> None:
    books = shelf.open()
    sell(books, MONDAY, 1, 2)
    table = books.day(MONDAY).db.table("sales")
    assert len(table) == 2
    other = Shelf(None)
    sell(other.open(), MONDAY, 7, 8, 9)
    shelf.remove("2026-11-23")
    assert len(table) == 0
    shelf.put("2026-11-23", other.bytes_of("2026-11-23"))
    assert [doc["number"] for doc in table] == [7, 8, 9]
