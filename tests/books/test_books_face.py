"""What the books show to the rest of the program."""

from __future__ import annotations

import counter.books
from counter.books import Books
from tests.books.shelf import MONDAY, TYPES, numbers, sell


def test_the_face_of_the_package_is_this_list() -> None:
    assert counter.books.__all__ == [
        "CATALOGUE",
        "CLOSINGS",
        "BookTable",
        "BookTables",
        "Books",
        "Entry",
        "Found",
        "Line",
    ]


def test_books_in_memory_behave_and_leave_nothing_behind() -> None:
    books = Books.memory(TYPES)
    sell(books, MONDAY, 1, 2)
    assert numbers(books, MONDAY) == [1, 2]
    assert Books.memory(TYPES).days() == []
