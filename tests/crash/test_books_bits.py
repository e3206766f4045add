"""One bit changed anywhere, one byte missing at the end: found, and named by book and line."""

from __future__ import annotations

from pathlib import Path

import pytest

from counter.errors import BookDamaged
from tests.books.shelf import MONDAY, TUESDAY, Shelf, close_day, numbers, sell

LINES = 9  # the header and eight sales


@pytest.fixture
def closed(tmp_path: Path) -> Shelf:
    """Monday's book with eight sales, closed, and Tuesday's begun."""
    shelf = Shelf(tmp_path)
    books = shelf.open()
    sell(books, MONDAY, *range(1, LINES))
    close_day(books, MONDAY)
    sell(books, TUESDAY, 1)
    books.close()
    return shelf


@pytest.mark.parametrize("line", range(LINES))
def test_a_bit_flipped_anywhere_in_a_line_is_found_and_named(closed: Shelf, line: int) -> None:
    sound = closed.bytes_of("2026-11-23")
    start = sum(len(text) + 1 for text in sound.split(b"\n")[:line])
    length = len(sound.split(b"\n")[line])
    # The first and last bytes, both sides of the link, the end of line, and steps between.
    link = length - 66
    places = {0, 1, link - 10, link - 1, link, link + 1, length - 3, length - 1, length}
    for i, place in enumerate(sorted(places | set(range(2, length, 17)))):
        spoilt = bytearray(sound)
        spoilt[start + place] ^= 1 << (i % 8)
        closed.put("2026-11-23", bytes(spoilt))
        named = {(f.book, f.line) for f in closed.open().check().findings}
        assert ("2026-11-23", line) in named, (line, place)
        assert {book for book, _ in named} == {"2026-11-23"}


@pytest.mark.parametrize("line", range(LINES))
def test_the_book_of_an_open_day_with_a_flipped_bit_is_read_up_to_there(
    tmp_path: Path, line: int
) -> None:
    shelf = Shelf(tmp_path)
    sell(shelf.open(), MONDAY, *range(1, LINES))
    sound = shelf.bytes_of("2026-11-23")
    spoilt = bytearray(sound)
    spoilt[sum(len(text) + 1 for text in sound.split(b"\n")[:line]) + 9] ^= 1
    shelf.put("2026-11-23", bytes(spoilt))
    books = shelf.open()
    assert numbers(books, MONDAY) == list(range(1, line))
    with pytest.raises(BookDamaged) as caught:
        sell(books, MONDAY, 99)
    assert (caught.value.book, caught.value.line) == ("2026-11-23", line)
    assert shelf.bytes_of("2026-11-23") == bytes(spoilt)
    books.close()


def test_a_book_torn_at_any_byte_of_its_last_line_keeps_all_lines_before(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    books = shelf.open()
    sell(books, MONDAY, 1, 2)
    books.close()
    sound = shelf.bytes_of("2026-11-23")
    last = len(sound.splitlines(keepends=True)[-1])
    for cut in range(1, last):
        torn = sound[:-cut]
        shelf.put("2026-11-23", torn)
        books = shelf.open()
        [finding] = books.check().findings
        assert (finding.book, finding.line) == ("2026-11-23", 2)
        assert numbers(books, MONDAY) == [1]
        sell(books, MONDAY, 3)
        assert numbers(books, MONDAY) == [1, 3]
        aside = tmp_path / "days/2026/2026-11-23.jsonl.torn-1"
        assert aside.read_bytes() == torn[len(sound) - last :]
        aside.unlink()
        assert books.check().findings == ()
        books.close()
