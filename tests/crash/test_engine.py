"""The engine in one process: transactions that fail, threads, two at once, what is left behind."""

from __future__ import annotations

import os
import resource
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

import msgspec
import pytest

from counter.books import Books
from counter.books import engine as engine_module
from counter.books.books import end_is_gone
from counter.books.engine import FILE, LAST
from counter.books.workplace import Workplace
from counter.errors import BooksError, DiskRefused
from counter.shop import Shop
from tests.conftest import ZONE, Clock, ShopInHand
from tests.crash.driver import sell
from tests.crash.shops import Law, Program, stocked
from tests.needs import small_disk

DAY = "2026-11-24"
NOON = datetime(2026, 11, 24, 12, tzinfo=ZONE)


class Note(msgspec.Struct, frozen=True):
    """A record of no trade."""

    word: str


def note(books: Books, word: str) -> None:
    books.commit(DAY, {"notes": [Note(word)]}, NOON)


def words(books: Books) -> list[str]:
    return [record.word for record in books.select(DAY).find("notes", Note)]


Opener = Callable[[], Books]


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Opener]:
    """Opens the same books as often as it is called, each time anew; one note stands in them."""
    Books.create(tmp_path)
    there = list[Books]()

    def open_books() -> Books:
        there.append(Books.open(tmp_path, {"notes": Note}))
        return there[-1]

    first = open_books()
    note(first, "first")
    first.close()
    yield open_books
    for books in there:
        books.close()


@contextmanager
def full_disk() -> Iterator[None]:
    """No file may grow: as a disk without room."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (64, hard))  # Python ignores SIGXFSZ by itself
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def still_well(books: Books, opened: Opener, *expected: str) -> None:
    """The books hold what is expected, to themselves and to others, and take the next note, of this
    thread and of another."""
    assert words(books) == words(opened()) == list(expected)
    assert books.head(DAY)[0] == len(expected)
    note(books, "next")
    thread = threading.Thread(target=note, args=(books, "of another thread"))
    thread.start()
    thread.join(20)
    assert words(opened()) == [*expected, "next", "of another thread"]


def test_a_part_that_failed_takes_all_of_it_back_even_where_its_error_is_caught(
    opened: Opener,
) -> None:
    books = opened()
    with pytest.raises(BooksError) as caught, books.exclusive():  # noqa: PT012 - what fails is all of it
        note(books, "before")
        with suppress(ZeroDivisionError), books.exclusive():
            note(books, "within")
            raise ZeroDivisionError
        note(books, "after")
    assert str(caught.value) == (
        "Cannot write into the shop: what belongs to it could not be written. Do it again."
    )
    still_well(books, opened, "first")


def test_a_part_that_failed_before_it_wrote_takes_nothing_back(opened: Opener) -> None:
    books = opened()
    with books.exclusive():
        with suppress(ZeroDivisionError), books.exclusive():
            raise ZeroDivisionError
        note(books, "after")
    still_well(books, opened, "first", "after")


def test_what_a_full_disk_took_back_is_not_half_written_by_who_goes_on(opened: Opener) -> None:
    books = opened()
    with pytest.raises(BooksError), books.exclusive():  # noqa: PT012 - what fails is all of it
        note(books, "before")
        with full_disk(), suppress(BooksError):
            for i in range(400):  # until the engine's memory runs over
                note(books, f"{i:04d}" * 4000)
        note(books, "after")
    still_well(books, opened, "first")


def test_a_commit_that_the_disk_refuses_leaves_the_books_as_they_were(opened: Opener) -> None:
    books = opened()
    note(books, "second")
    for _ in range(3):
        with full_disk(), pytest.raises(DiskRefused):
            note(books, "refused")
        assert words(books) == ["first", "second"]
    still_well(books, opened, "first", "second")


@pytest.mark.parametrize("error", [KeyboardInterrupt, SystemExit, ZeroDivisionError])
def test_an_interruption_takes_the_transaction_back(
    opened: Opener, error: type[BaseException]
) -> None:
    books = opened()
    with pytest.raises(error), books.exclusive():  # noqa: PT012 - what fails is all of it
        note(books, "before")
        raise error
    still_well(books, opened, "first")


def test_books_closed_within_a_transaction_keep_nothing_of_it(opened: Opener) -> None:
    books = opened()
    with pytest.raises(BooksError), books.exclusive():  # noqa: PT012 - what fails is all of it
        note(books, "before")
        books.close()
        note(books, "after")
    still_well(books, opened, "first")


def test_who_writes_for_ever_is_named_and_readers_wait_for_nobody(
    opened: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in ("engine", "files"):
        monkeypatch.setattr(f"counter.books.{module}.PATIENCE_S", 0.2)
    books = opened()
    with closing(sqlite3.connect(tmp_path / FILE, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(BooksError) as caught:
            note(books, "second")
        assert str(caught.value) == (
            "Cannot write into the shop: another program has been writing for 0.2 seconds."
            " Close it, then do it again."
        )
        assert books.notices == []  # the disk has refused nothing
        monkeypatch.setattr(engine_module, "PATIENCE_S", 3600)
        assert words(books) == words(opened()) == ["first"]
    still_well(books, opened, "first")


def test_a_thread_that_writes_for_ever_is_named(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine_module, "PATIENCE_S", 0.2)
    books, said = opened(), list[str]()

    def write() -> None:
        try:
            note(books, "second")
        except BooksError as error:
            said.append(str(error))

    with books.exclusive():
        thread = threading.Thread(target=write)
        thread.start()
        thread.join(20)
    assert said == [
        "Cannot write into the shop: another thread has been writing for 0.2 seconds. Do it again."
    ]
    still_well(books, opened, "first")


def test_two_books_on_one_folder_in_one_process_see_each_other(opened: Opener) -> None:
    one, two = opened(), opened()
    for i in range(5):
        note(one, f"one {i}")
        assert words(two)[-1] == f"one {i}"
        note(two, f"two {i}")
        assert one.entries(DAY)[-1].records["notes"] == [Note(f"two {i}")]
    one.close()
    still_well(two, opened, *words(one))


@pytest.mark.parametrize("cut", range(0, 87, 3))
def test_a_torn_witness_accuses_nobody(opened: Opener, tmp_path: Path, cut: int) -> None:
    books = opened()
    before = (tmp_path / LAST).read_bytes()
    note(books, "second")
    after = (tmp_path / LAST).read_bytes()
    for torn in (after[:cut] + before[cut:], before[:cut] + after[cut:], after[:cut],
                 after[:cut] + bytes(len(after) - cut)):  # fmt: skip
        (tmp_path / LAST).write_bytes(torn)
        assert end_is_gone(books) is None
        assert end_is_gone(opened()) is None


def test_an_end_that_is_gone_is_still_seen(opened: Opener, tmp_path: Path) -> None:
    books = opened()
    note(books, "second")
    books.close()
    witness = (tmp_path / LAST).read_bytes()
    with closing(sqlite3.connect(tmp_path / FILE)) as con:
        con.execute("DELETE FROM lines WHERE n = 2")
        con.commit()
    assert (tmp_path / LAST).read_bytes() == witness
    assert end_is_gone(opened()) is not None


def test_a_disk_that_takes_nothing_is_read_and_written_to_when_it_does_again(
    opened: Opener, tmp_path: Path
) -> None:
    left = opened()
    note(left, "in the log only")  # left is open: its log stays beside the books
    with small_disk(tmp_path / "disk", "4m") as disk:
        for name in (FILE, f"{FILE}-wal"):
            (disk / name).write_bytes((tmp_path / name).read_bytes())
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        books = Books.open(disk, {"notes": Note})
        assert words(books) == ["first", "in the log only"]
        with pytest.raises(DiskRefused):
            note(books, "refused")
        assert words(books) == ["first", "in the log only"]
        assert len(books.notices) == 1
        subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
        note(books, "taken")
        assert words(books) == ["first", "in the log only", "taken"]
        assert books.notices == []
        books.close()


def test_what_another_program_writes_while_one_looks_is_counted_once(
    folder_shop: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert folder_shop.shop.desk.folder is not None
    [lot] = [folder_shop.batch(made=40).lot]
    other = Shop.open(folder_shop.shop.desk.folder, Clock("2026-11-24 12:00"))
    reader = Shop.open(folder_shop.shop.desk.folder, Clock("2026-11-24 12:00"))
    select, sold = reader.desk.books.select, list[str]()

    def meanwhile(*given: object, **named: object) -> object:
        if len(sold) < 4:
            sold.append(sell(other, f"k/{len(sold)}"))
        return select(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(reader.desk.books, "select", meanwhile)
    for _ in range(6):
        ledger = reader.desk.ledger()
        assert ledger.rows[lot].sold == len(ledger.sales)
    assert list(ledger.sales) == sold
    other.desk.books.close()
    reader.desk.books.close()


def test_a_sale_that_the_disk_took_back_goes_from_the_view_and_its_number_to_the_next(
    folder_shop: ShopInHand,
) -> None:
    assert folder_shop.shop.desk.folder is not None
    lot = folder_shop.batch(made=40).lot
    one, other = (
        Shop.open(folder_shop.shop.desk.folder, Clock("2026-11-24 12:00")) for _ in range(2)
    )
    assert sell(one, "k/1") == "2026-11-24/0001"
    with full_disk(), pytest.raises(DiskRefused), one.desk.books.exclusive():  # noqa: PT012
        assert sell(one, "k/2") == "2026-11-24/0002"
        assert len(one.desk.ledger().sales) == 2  # seen within, before it is synced
    assert sell(other, "k/3") == "2026-11-24/0002"
    for shop in (one, other):
        assert [sale.key for sale in shop.desk.ledger().sales.values()] == ["k/1", "k/3"]
        assert shop.desk.ledger().rows[lot].sold == 2
        assert shop.counter.booked("k/2") is None
    assert one.evening.close_day().sales == 2
    one.desk.books.close()
    other.desk.books.close()


@pytest.fixture
def proofs(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The logs that were written anew, one entry a time."""
    done, really = list[Path](), engine_module.write_anew

    def write_anew(file: Path) -> None:
        really(file)
        done.append(file)

    monkeypatch.setattr(engine_module, "write_anew", write_anew)
    return done


def test_who_only_reads_beside_a_living_program_writes_nothing_and_who_writes_proves_once(
    opened: Opener, proofs: list[Path]
) -> None:
    one = opened()
    note(one, "second")
    proofs.clear()
    for _ in range(3):
        reader = opened()
        assert words(reader) == ["first", "second"]
        reader.close()
    assert proofs == []
    writer = opened()
    note(writer, "third")
    note(writer, "fourth")
    assert len(proofs) == 1
    one.close()
    assert words(opened()) == ["first", "second", "third", "fourth"]  # the writer vouches for it
    assert len(proofs) == 1


def test_beside_one_that_only_read_or_was_refused_the_next_proves_for_itself(
    opened: Opener, proofs: list[Path]
) -> None:
    one = opened()
    note(one, "second")
    reader = opened()
    assert words(reader) == ["first", "second"]
    one.close()  # the reader has it open still, and answers for nothing
    proofs.clear()
    two = opened()
    assert words(two) == ["first", "second"]
    assert len(proofs) == 1
    with full_disk(), pytest.raises(DiskRefused):
        note(two, "refused")
    assert words(opened()) == ["first", "second"]
    assert len(proofs) == 2


def test_the_first_to_open_behind_a_program_that_was_killed_proves_its_log(
    tmp_path: Path, proofs: list[Path]
) -> None:
    folder, law = stocked(tmp_path / "shop"), Law()
    with Program(folder, law) as program:
        program.ask("sell", "k/1")
        proofs.clear()
        beside = Shop.open(folder)
        assert beside.desk.books.end()[0]
        beside.desk.books.close()
        assert proofs == []
        program.kill()
        program.gone()
    shops = [Shop.open(folder) for _ in range(2)]
    for shop in shops:
        assert [sale.key for sale in shop.desk.ledger().sales.values()] == ["k/1"]
        assert len(proofs) == 1  # not again beside the first
    for shop in shops:
        shop.desk.books.close()
    law.judge(folder)


def test_what_a_killed_program_left_in_the_temporary_folder_is_cleared_and_who_lives_keeps_his(
    tmp_path: Path,
) -> None:
    begin = "import sys, time; from pathlib import Path; from counter.books.workplace import Workplace\n"
    begin += "made = Workplace('tofu-copy-', Path(sys.argv[1])); print(made.name, flush=True)\n"
    begin += "Path(made.name, 'books.sqlite').write_text('private'); time.sleep(60)"
    dead = subprocess.Popen(
        [sys.executable, "-c", begin, str(tmp_path)], stdout=subprocess.PIPE, text=True
    )
    with dead:
        assert dead.stdout is not None
        left = Path(dead.stdout.readline().strip())
        os.utime(left, (0, 0))
        living = Workplace("tofu-copy-", tmp_path)
        assert left.is_dir()  # it works there still
        dead.kill()
    (tmp_path / "tofu-copy-of-mine.txt").write_text("somebody's own")
    (just_made := tmp_path / "tofu-copy-1.part").mkdir()
    os.utime(living.name, (0, 0))
    with Workplace("tofu-copy-", tmp_path) as here:
        assert not left.exists()
        assert Path(living.name).is_dir()
        assert just_made.is_dir()
        assert Path(here).stat().st_mode & 0o777 == 0o700
    assert not Path(here).exists()
    living.cleanup()
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "tofu-copy-1.part", "tofu-copy-of-mine.txt",
    ]  # fmt: skip
