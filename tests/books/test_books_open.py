"""Opening the books of a folder: what is refused, and how books of another format are taken."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from counter.books import Books, formats
from counter.books.formats import FILE
from counter.errors import BooksError, NotAShop
from tests.books.shelf import MONDAY, TYPES, Shelf, numbers, sell


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def refused(folder: Path) -> str:
    """The sentence; and nothing was made or changed."""
    before = {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}
    with pytest.raises(BooksError) as caught:
        Books.open(folder, TYPES).days()
    assert {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()} == before
    return str(caught.value)


def database(folder: Path, *statements: str) -> None:
    with closing(sqlite3.connect(folder / FILE, isolation_level=None)) as con:
        for statement in statements:
            con.execute(statement)


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NotAShop, match=r"^Cannot open shop '.*none': there is no such folder\. "):
        Books.open(tmp_path / "none", TYPES)


def test_missing_books_are_named_and_none_are_begun(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text("")
    assert refused(tmp_path) == (
        f"Cannot open shop '{tmp_path}': books.sqlite is missing in it."
        " Bring it back with `counter mend`, or put a backup back with `counter restore`."
    )
    assert names(tmp_path) == ["shop.toml"]


@pytest.mark.parametrize("old", ["catalogue.jsonl", "days"])
def test_the_text_books_that_were_never_released_get_one_sentence(tmp_path: Path, old: str) -> None:
    (tmp_path / old).touch() if "." in old else (tmp_path / old).mkdir()
    assert refused(tmp_path) == (
        f"Cannot open shop '{tmp_path}': its books are text files of a program that was never"
        " released. Make a new shop with `counter new DIR`."
    )


def test_books_of_a_newer_format_are_refused_with_the_format_that_is_needed(tmp_path: Path) -> None:
    Shelf(tmp_path)
    database(tmp_path, "PRAGMA user_version = 7", "PRAGMA journal_mode = DELETE")
    assert refused(tmp_path) == (
        "Cannot open books.sqlite: it has format 7, and this program knows formats up to 1."
        " Use a program that knows format 7."
    )


@pytest.mark.parametrize(
    "statements",
    [
        ("CREATE TABLE lines (n INTEGER)",),  # another program's, with a table of that name
        ("PRAGMA application_id = 1952867701",),  # ours, and of a format there never was
        ("PRAGMA application_id = 1", "PRAGMA user_version = 1"),
        (),  # an empty file
    ],
)
def test_another_programs_database_is_refused_and_left_as_it_is(
    tmp_path: Path, statements: tuple[str, ...]
) -> None:
    (tmp_path / FILE).touch()
    database(tmp_path, *statements)
    assert refused(tmp_path) == (
        "Cannot open books.sqlite: it is no file of a shop's books. Run `counter mend`."
    )


def test_what_is_no_database_is_refused(tmp_path: Path) -> None:
    (tmp_path / FILE).write_bytes(b"a shopping list\n" * 400)
    said = refused(tmp_path)
    assert said.startswith("Cannot open the books: books.sqlite is damaged (")
    assert said.endswith(". Run `counter mend`.")


# -- an older format, by a program that is invented: its second format knows notes of lines


@pytest.fixture
def old(tmp_path: Path) -> Path:
    books = Shelf(tmp_path).open()
    sell(books, MONDAY, 1, 2)
    books.close()
    return tmp_path


@pytest.fixture
def later(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The program of the future, which knows a format more, opens what was written before."""
    assert numbers(Books.open(old, TYPES), MONDAY) == [1, 2]
    step = ("CREATE TABLE notes (n INTEGER)", "INSERT INTO notes SELECT n FROM lines")
    monkeypatch.setattr(formats, "STEPS", (step,))
    monkeypatch.setattr(formats, "FORMAT", 2)


def notes(folder: Path) -> tuple[int, int]:
    """The format, and how many notes there are."""
    with closing(sqlite3.connect(folder / FILE)) as con:
        (version,) = con.execute("PRAGMA user_version").fetchone()
        (count,) = con.execute("SELECT count(*) FROM notes").fetchone()
    return version, count


@pytest.mark.usefixtures("later")
def test_books_of_an_older_format_are_brought_up_once_and_the_old_kept(old: Path) -> None:
    before = Books.open(old, TYPES)
    sell(before, MONDAY, 3)
    assert numbers(before, MONDAY) == [1, 2, 3]
    before.close()
    assert notes(old) == (2, 2)
    kept = old / f"{FILE}.format-1"
    with closing(sqlite3.connect(kept)) as con:
        assert con.execute("PRAGMA user_version").fetchone() == (1,)
        assert con.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert con.execute("SELECT count(*) FROM lines").fetchone() == (2,)
    stamp = kept.read_bytes()
    again = Books.open(old, TYPES)
    assert numbers(again, MONDAY) == [1, 2, 3]
    again.close()
    assert (notes(old), kept.read_bytes()) == ((2, 2), stamp)
    assert f"{FILE}.part" not in names(old)


@pytest.mark.usefixtures("later")
def test_programs_that_bring_the_same_books_up_at_once_do_it_once(old: Path) -> None:
    opened = [Books.open(old, TYPES) for _ in range(6)]
    failed = list[BaseException]()

    def look(books: Books) -> None:
        try:
            assert numbers(books, MONDAY) == [1, 2]
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=look, args=(books,)) for books in opened]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    for books in opened:
        books.close()
    assert failed == []
    assert notes(old) == (2, 2)


@pytest.mark.usefixtures("later")
def test_a_step_that_fails_leaves_the_old_books_as_they_were(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    step = ("CREATE TABLE notes (n INTEGER)", "INSERT INTO notes SELECT nobody FROM lines")
    with monkeypatch.context() as wrong:
        wrong.setattr(formats, "STEPS", (step,))
        with pytest.raises(BooksError, match="no such column"):
            Books.open(old, TYPES).days()
    with closing(sqlite3.connect(old / FILE)) as con:
        assert con.execute("PRAGMA user_version").fetchone() == (1,)
        tables = {name for (name,) in con.execute("SELECT name FROM sqlite_schema")}
    assert "notes" not in tables
    assert numbers(Books.open(old, TYPES), MONDAY) == [1, 2]
    assert notes(old) == (2, 2)
