"""Damage is named, a mending brings back what is whole, and selling goes on the same minute."""

from __future__ import annotations

import errno
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, Literal

import pypdfium2
import pytest
import zxingcpp
from click.testing import CliRunner
from msgspec.structs import replace

from counter.books import Books
from counter.books.engine import FILE, LAST, Engine, refused
from counter.books.mend import put_in_place
from counter.cli import main
from counter.errors import (
    BadInput,
    BookDamaged,
    BooksError,
    DiskRefused,
    NotAShop,
    NotFound,
    SealedCopy,
)
from counter.languages import language
from counter.shop import Shop
from counter.shop.mending import mend_shop
from counter.shop.tables import found_by
from counter.trade.closing import Closing
from counter.trade.mendings import Mending
from counter.trade.sales import Sale
from counter.trade.tables import TABLES
from labels.say import say
from tests.conftest import SAID, ShopInHand


@pytest.fixture
def sold(folder_shop: ShopInHand) -> ShopInHand:
    """A closed Monday and an open Tuesday with a batch, a tub, a refund, waste and a count."""
    hand = folder_shop
    hand.clock.set("2026-11-23 04:10")
    hand.batch("firm")
    hand.clock.set("2026-11-23 09:00")
    hand.sell("firm-block*2")
    hand.clock.set("2026-11-23 18:30")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-24 04:10")
    lot = hand.batch("firm").lot
    hand.clock.set("2026-11-24 09:00")
    _, tub = hand.pudding()
    first = hand.sell("firm-block", "cup-small", key="first")
    hand.sell("firm-block*3", "cup-small", key="second")
    hand.shop.counter.refund(first.number, "cold", {1: 1})
    hand.shop.waste.throw_away(lot, 2, "broken")
    hand.shop.tubs.end_tub(tub, 7000, True)
    hand.shop.evening.count(lot, hand.on_hand(lot))
    hand.sell("firm-block", key="third")
    hand.shop.desk.books.close()
    return hand


def folder_of(hand: ShopInHand) -> Path:
    assert hand.shop.desk.folder is not None
    return hand.shop.desk.folder


def spoil(folder: Path, n: int) -> None:
    """Make one line unreadable where it lies on the disk, and its link, too."""
    data = bytearray((folder / FILE).read_bytes())
    at, begins = -1, f'{{"n":{n},"book"'.encode()
    while (at := data.find(begins, at + 1)) >= 0:
        data[at - 32 : at + 4] = bytes(36)
    with (folder / FILE).open("r+b") as file:
        file.write(data)


def mended(hand: ShopInHand, copy: Path | Literal[False] | None = None) -> Mending:
    hand.shop.desk.books.close()
    record = mend_shop(folder_of(hand), "Ida", copy, hand.clock)
    assert record is not None
    hand.shop = Shop.open(folder_of(hand), hand.clock)
    return record


def test_whichever_line_is_lost_the_shop_is_mended_and_sells_on(sold: ShopInHand) -> None:
    last = sold.shop.desk.books.end()[0]
    numbers = {s.number for s in sold.shop.desk.recorded(Sale, sold.shop.desk.today())}
    sold.shop.desk.books.close()
    file = folder_of(sold) / FILE
    whole, note = file.read_bytes(), (folder_of(sold) / "books.last").read_bytes()
    for n in range(1, last + 1):
        (folder_of(sold) / f"{FILE}-wal").unlink(missing_ok=True)
        file.write_bytes(whole)
        (folder_of(sold) / "books.last").write_bytes(note)
        for old in folder_of(sold).glob(f"{FILE}.damaged-*"):
            old.unlink()
        spoil(folder_of(sold), n)
        record = mended(sold)
        shop = sold.shop
        assert record.lost == (n,)
        checked = shop.audit.check()
        assert checked.findings == (), n
        assert any("1 is lost" in known for known in checked.known), checked.known
        if not shop.desk.catalogue.portions:
            shop.products.load_catalogue(
                (Path(__file__).parents[2] / "demo_shop/catalogue.toml").read_text()
            )
        lot = sold.batch("firm").lot
        sale = sold.sell(f"firm-block@{lot}")
        assert sale.number not in numbers, n
        shop.evening.closing_preview()
        shop.desk.books.close()


def test_a_line_that_is_lost_is_taken_from_the_copy(sold: ShopInHand, tmp_path: Path) -> None:
    place = tmp_path / "stick"
    place.mkdir()
    copy = Path(sold.shop.copies.back_up(place).path)
    before = [e.link for e in sold.shop.desk.books.lines.entries()]
    sold.shop.desk.books.close()
    spoil(folder_of(sold), 7)
    record = mended(sold, copy)
    assert (record.lost, record.filled, record.unproved) == ((), (7,), ())
    assert [e.link for e in sold.shop.desk.books.lines.entries()][:-1] == before
    assert sold.shop.audit.check().findings == ()


@pytest.mark.parametrize("n", [1, 7])
def test_with_a_line_lost_it_is_the_same_shop_to_its_copies_and_its_lake(
    sold: ShopInHand, tmp_path: Path, n: int
) -> None:
    """And no other computer that wrote on."""
    copy = Path(sold.shop.copies.back_up(tmp_path).path)
    mark = sold.shop.exports.whose.mark
    sold.clock.set("2026-11-24 12:00")
    sold.shop.desk.books.close()
    for lost in (n, n + 1):  # the mark goes on through the next mending
        file = folder_of(sold) / FILE
        file.write_bytes(file.read_bytes().replace(f'{{"n":{lost},'.encode(), b'{"N":0,'))
        assert mended(sold, copy=False).lost == (lost,)
        assert sold.shop.exports.whose.mark == mark
    compared = sold.shop.copies.compare_with(copy)
    assert (compared.kind, compared.first, compared.lines) == ("changed", n, 2)
    assert [found.name for found in sold.shop.copies.listed(tmp_path)] == [copy.name]


def test_a_sealed_copy_is_asked_for_also_where_the_first_line_was_lost(sold: ShopInHand) -> None:
    settings = folder_of(sold) / "shop.toml"
    settings.write_text(settings.read_text("utf-8") + '\n[backup]\nfolder = "backups"\n', "utf-8")
    spoil(folder_of(sold), 1)
    assert mended(sold).lost == (1,)
    sold.shop.copies.seal_copies("plum river lantern seven")
    sold.shop.copies.back_up()
    (folder_of(sold) / ".copy-key").unlink()  # another disk brought it back
    sold.shop.desk.books.close()
    spoil(folder_of(sold), 7)
    with pytest.raises(SealedCopy, match=r"or mend with --no-copy\.$"):
        mended(sold)


def test_the_seal_on_the_closing_report_is_that_of_the_books(sold: ShopInHand) -> None:
    """ISO/IEC 18004: read back by a reader that is not ours."""
    day = sold.shop.desk.books.days()[0]
    seal = sold.shop.closings.seal_of(day)
    pages = pypdfium2.PdfDocument(sold.shop.reports.day_report(day))
    pictures = [page.render(scale=3).to_pil() for page in pages]
    said = [found.text for one in pictures for found in zxingcpp.read_barcodes(one)]
    assert said == [f"{sold.shop.desk.settings.shop.name}, {day}: {seal}"]
    found, proved = sold.shop.audit.check_seal(said[0])  # as a scanner types it
    assert found == day
    assert proved == (
        "It is the seal of day 2026-11-23: its figures and all that was written before stand as "
        "they were when it was printed."
    )
    assert language("es", "es").shown(proved).startswith("Es el sello del día 23 nov 2026: ")
    text = " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())
    assert seal[:4] in text
    assert "The books alone prove nothing" in text
    assert sold.shop.audit.check_seal(" ".join(seal[i : i + 4] for i in range(0, 16, 4)))[0] == day
    with pytest.raises(NotFound, match="there is no closing with the seal"):
        sold.shop.audit.check_seal("0" * 64)
    with pytest.raises(BadInput, match="a seal is written in 0 to 9 and a to f"):
        sold.shop.audit.check_seal("yesterday")


def found_in_forged(sold: ShopInHand, change: Callable[[Closing], Closing]) -> list[str]:
    """What a check finds in the same books under new links, with another closing in them."""
    books = sold.shop.desk.books
    named = books.engine.rows("SELECT book FROM lines ORDER BY n")
    entries = [(e, book.decode()) for e, (book,) in zip(books.lines.entries(), named, strict=True)]
    other = folder_of(sold).parent / "other"
    other.mkdir()
    (other / "shop.toml").write_bytes((folder_of(sold) / "shop.toml").read_bytes())
    Books.create(other)
    forged = Books.open(other, TABLES, found_by)
    for entry, book in entries:
        records = dict(entry.records)
        if "closings" in records:
            (closing,) = records["closings"]
            assert isinstance(closing, Closing)
            n, link = forged.head(str(closing.day))
            records["closings"] = [replace(change(closing), book_lines=n, book_link=link)]
        forged.commit(book, records, entry.entered)
    forged.close()
    return [f.sentence for f in Shop.open(other, sold.clock).audit.check().findings]


def test_a_figure_of_a_closing_that_its_day_does_not_give_is_named(sold: ShopInHand) -> None:
    """Whoever can write the folder can make every link anew; the figures must follow all the same."""
    said = found_in_forged(sold, lambda closing: replace(closing, total=closing.total - 100))
    assert said == [
        "The closing of day 2026-11-23 says otherwise than its book: total is 550, and by its book"
        " 650."
    ]


def test_a_closing_that_an_older_program_worded_otherwise_is_as_it_was(sold: ShopInHand) -> None:
    def worded(closing: Closing) -> Closing:
        carried = tuple(
            replace(c, lot=replace(c.lot, mark=replace(c.lot.mark, reason=say("so long it keeps"))))
            for c in closing.carried
        )
        assert carried
        return replace(closing, carried=carried)

    assert found_in_forged(sold, worded) == []


def test_a_stop_that_the_day_does_not_give_is_named(sold: ShopInHand) -> None:
    def stopped(closing: Closing) -> Closing:
        return replace(closing, lots=tuple(replace(n, stopped=say("no")) for n in closing.lots))

    [said] = found_in_forged(sold, stopped)
    assert "stopped is no, and by its book" in said


def test_the_damaged_file_is_kept_for_its_owner_only(sold: ShopInHand) -> None:
    spoil(folder_of(sold), 7)
    record = mended(sold)
    kept = folder_of(sold) / record.kept
    assert record.kept == "books.sqlite.damaged-20261124-090000"
    assert kept.stat().st_mode & 0o777 == 0o600


def test_a_seal_from_before_a_mending_is_known_after_it(sold: ShopInHand) -> None:
    seal = sold.shop.closings.seal_of(sold.shop.desk.books.days()[0])
    sold.shop.desk.books.close()
    spoil(folder_of(sold), 3)  # before the closing: every link behind it is new
    mended(sold)
    day, said = sold.shop.audit.check_seal(seal)
    assert str(day) == "2026-11-23"
    assert said.endswith("but for what a mending names as lost.")
    assert sold.shop.closings.seal_of(day) != seal


def test_a_shop_whose_end_is_gone_sells_only_once_it_is_mended(sold: ShopInHand) -> None:
    with closing(sqlite3.connect(folder_of(sold) / FILE)) as con:
        for table in ("lines", "keys", "names"):
            con.execute(f"DELETE FROM {table} WHERE n > 12")
        con.commit()
    shop = Shop.open(folder_of(sold), sold.clock)
    shop.desk.questions.given = SAID
    with pytest.raises(BookDamaged, match=r"and line \d+ was answered for. Run `counter mend`."):
        ShopInHand(shop, sold.clock).sell("firm-block")
    assert "was answered for" in shop.desk.books.notices[0]
    shop.desk.books.close()
    record = mended(sold)
    assert record.lost[-1] == sold.shop.desk.books.end()[0] - 1
    assert sold.shop.audit.check().sound
    sold.sell(f"firm-block@{sold.batch('firm').lot}")


def test_a_running_program_sees_damage_at_its_next_look(sold: ShopInHand) -> None:
    shop = Shop.open(folder_of(sold), sold.clock)
    shop.counter.shelf()
    assert shop.desk.books.notices == []
    assert not (folder_of(sold) / f"{FILE}-wal").read_bytes()  # all of it is in the file
    spoil(folder_of(sold), shop.desk.books.end()[0] - 1)
    assert "Run `counter mend`" in shop.desk.books.notices[0]
    with pytest.raises(BookDamaged):
        ShopInHand(shop, sold.clock).sell("firm-block")


def test_what_is_damaged_says_once_what_to_do(sold: ShopInHand) -> None:
    """Of a damaged line, and of an end that is gone, whose sentence says it by itself."""
    sold.shop.desk.books.close()
    spoil(folder_of(sold), 7)
    damaged = Shop.open(folder_of(sold), sold.clock).audit.damage(lambda _n, _all: None)
    assert damaged.count("Run `counter mend`.") == 1
    mended(sold)
    with closing(sqlite3.connect(folder_of(sold) / FILE)) as con:
        for table in ("lines", "keys", "names"):
            con.execute(f"DELETE FROM {table} WHERE n > 12")
        con.commit()
    gone = sold.shop.audit.damage(lambda _n, _all: None)
    assert "was answered for" in gone
    assert gone.count("Run `counter mend`.") == 1
    assert language("es", "es").shown(gone).count("Ejecute `counter mend`.") == 1


def test_what_another_program_has_open_is_not_mended(sold: ShopInHand) -> None:
    spoil(folder_of(sold), 7)
    with closing(sqlite3.connect(folder_of(sold) / FILE)) as con:
        con.execute("SELECT n FROM lines LIMIT 1").fetchall()
        said = subprocess.run(
            [sys.executable, "-m", "counter", "--shop", str(folder_of(sold)), "mend"],
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
    assert said.returncode == 1
    assert said.stderr == (
        "Cannot mend the shop: another program has it open. Close it, the counter page too, then"
        " run `counter mend` again.\n"
    )


def test_the_command_line_says_what_is_lost(sold: ShopInHand, tmp_path: Path) -> None:
    copy = sold.shop.copies.back_up(tmp_path).path
    spoil(folder_of(sold), sold.shop.desk.books.end()[0] - 1)
    sold.shop.desk.books.close()
    said = CliRunner().invoke(main, ["--shop", str(folder_of(sold)), "mend", "--no-copy"])
    assert said.exit_code == 0, said.output
    assert "1 is lost" in said.output
    again = CliRunner().invoke(main, ["--shop", str(folder_of(sold)), "mend"])
    assert again.output == "The books are whole; nothing was changed.\n"
    late = CliRunner().invoke(main, ["--shop", str(folder_of(sold)), "mend", "--copy", copy])
    assert late.output == (
        f"{again.output}What a mending before could not bring back stays lost, since all that came"
        " later was worked out without it. To look at it, put the copy back into another folder"
        " with `counter restore`.\n"
    )


def test_books_of_which_no_line_can_be_read_stay_as_they_are(sold: ShopInHand) -> None:
    file = folder_of(sold) / FILE
    file.write_bytes(b"\0" * 8192)
    sold.shop.desk.books.close()
    with pytest.raises(BooksError, match="no line of its books can be read"):
        mend_shop(folder_of(sold), clock=sold.clock)
    assert file.read_bytes() == b"\0" * 8192


def test_nobody_opens_the_books_while_they_are_mended(
    sold: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is sold meanwhile would be laid over by the books made anew."""
    spoil(folder_of(sold), 4)
    look = (
        "import sqlite3, sys\n"
        "con = sqlite3.connect(sys.argv[1], timeout=0)\n"
        "print(con.execute('SELECT count(*) FROM lines').fetchall())\n"
    )
    said: list[str] = []

    def meanwhile(*given: object) -> None:
        command = [sys.executable, "-c", look, str(folder_of(sold) / FILE)]
        said.append(subprocess.run(command, capture_output=True, text=True).stderr)
        put_in_place(*given)  # type: ignore[arg-type]

    monkeypatch.setattr("counter.shop.mending.put_in_place", meanwhile)
    mended(sold)
    assert "database is locked" in said[0]


def test_a_mending_that_brings_nothing_leaves_the_folder_as_it_was(sold: ShopInHand) -> None:
    folder = folder_of(sold)
    whole = (folder / FILE).read_bytes()
    (folder / FILE).unlink()
    (folder / f"{FILE}-wal").unlink(missing_ok=True)
    before = sorted(folder.iterdir())
    with pytest.raises(BooksError, match="no line of its books can be read"):
        mend_shop(folder)
    assert sorted(folder.iterdir()) == before
    (folder / FILE).write_bytes(whole)
    (folder / "days").mkdir()
    with pytest.raises(NotAShop, match="a program that was never released"):
        mend_shop(folder)


@pytest.mark.parametrize("at", ["counter.books.mend._write", "counter.books.engine.Engine.write"])
def test_a_mending_that_finds_no_room_says_so_and_leaves_nothing(
    sold: ShopInHand, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    spoil(folder_of(sold), 5)
    before = {path.name for path in folder_of(sold).iterdir()}

    write = Engine.write

    def full(one: Any, *given: Any) -> None:
        if getattr(one, "file", one) is None:
            return write(one, *given)  # in memory
        raise refused("write into the shop", OSError(errno.ENOSPC, ""))

    with monkeypatch.context() as patch:
        patch.setattr(at, full)
        with pytest.raises(DiskRefused, match=r"the disk is full\. Make room"):
            mend_shop(folder_of(sold), clock=sold.clock)
    assert {path.name for path in folder_of(sold).iterdir()} == before
    assert mended(sold).lost == (5,)


def test_books_of_a_newer_program_are_not_mended_away(sold: ShopInHand) -> None:
    with closing(sqlite3.connect(folder_of(sold) / FILE)) as con:
        con.execute("PRAGMA user_version=7")
    with pytest.raises(NotAShop, match="Use a program that knows format 7"):
        mend_shop(folder_of(sold))


@pytest.mark.parametrize("hurt", ["deleted", "swapped", "log"])
def test_nothing_is_sold_into_a_file_that_nobody_finds_again(sold: ShopInHand, hurt: str) -> None:
    shop = sold.shop
    file = folder_of(sold) / FILE
    old = file.read_bytes()
    sold.sell("firm-block", key="answered")
    if hurt == "deleted":
        file.unlink()
    elif hurt == "log":
        file.with_name(f"{FILE}-wal").unlink()
    else:
        file.with_name("other").write_bytes(old)
        file.with_name("other").replace(file)
        file.with_name(f"{FILE}-wal").unlink()
    if hurt != "log":  # what stood in the log that is open is brought over at once
        with pytest.raises(BookDamaged, match="Run `counter mend`"):
            sold.sell("firm-block", key="into nothing")
        return
    sold.sell("firm-block", key="after")
    other = Shop.open(folder_of(sold), sold.clock)
    assert other.counter.booked("answered")
    assert other.counter.booked("after")
    assert other.audit.check().findings == ()
    shop.desk.books.close()


@pytest.mark.parametrize("kept", [0, 0.5, 0.9])
def test_a_log_that_was_cut_while_the_books_are_open_is_damage_and_is_mended(
    sold: ShopInHand, kept: float
) -> None:
    """It is no failing disk: another disk would not help."""
    for number in range(8):
        sold.sell("firm-block", key=f"in the log {number}")
    last = sold.shop.desk.books.end()[0]
    log = folder_of(sold) / f"{FILE}-wal"
    with log.open("r+b") as file:
        file.truncate(int(log.stat().st_size * kept))
    assert "Run `counter mend`" in sold.shop.desk.books.notices[0]
    with pytest.raises(BookDamaged, match="Run `counter mend`"):
        sold.sell("firm-block")
    record = mended(sold)
    assert record.lost[-1] == last
    assert sold.shop.audit.check().findings == ()
    sold.sell(f"firm-block@{sold.batch('firm').lot}")


@pytest.mark.parametrize("looked", [True, False])
def test_of_a_log_with_a_bad_line_what_stands_behind_it_is_brought_back(
    sold: ShopInHand, tmp_path: Path, looked: bool
) -> None:
    """The engine takes of such a log only what stands before the line, and drops the rest."""
    for number in range(8):
        sold.sell("firm-block", key=f"in the log {number}")
    folder = tmp_path / "killed"
    shutil.copytree(folder_of(sold), folder)  # as a program leaves it that dies
    sold.shop.desk.books.close()
    log = folder / f"{FILE}-wal"
    data = log.read_bytes()
    assert b'"in the log 2"' in data
    log.write_bytes(data.replace(b'"in the log 2"', b'"in the lOg 2"'))
    if looked:
        other = Shop.open(folder, sold.clock)
        assert "Run `counter mend`" in other.desk.books.notices[0]
        other.desk.books.close()
    record = mend_shop(folder, clock=sold.clock)
    assert record
    assert len(record.lost) == 1
    shop = Shop.open(folder, sold.clock)
    assert [bool(shop.counter.booked(f"in the log {n}")) for n in range(8)] == [
        n != 2 for n in range(8)
    ]
    assert shop.audit.check().findings == ()
    shop.desk.books.close()


@pytest.mark.parametrize(("more", "lost"), [(2, -1), (2, -2), (30, -2), (30, -30)])
@pytest.mark.parametrize("kept", ["log", "copy"])
def test_what_the_shop_wrote_before_it_was_put_back_is_not_brought_in(
    sold: ShopInHand, tmp_path: Path, more: int, lost: int, kept: str
) -> None:
    """Of the lines of old, one follows from the line before the lost one, and the next from it."""
    folder = folder_of(sold)
    older = (folder / FILE).read_bytes()
    for number in range(20):
        sold.sell("firm-block", key=f"of old {number}")
    copy = Path(sold.shop.copies.back_up(tmp_path).path)
    log = (folder / f"{FILE}-wal").read_bytes()
    sold.shop.desk.books.close()
    if kept == "log":
        (folder / f"{FILE}.damaged-{sold.shop.desk.books.end()[0]}-wal").write_bytes(log)
        sold.shop.desk.books.close()
    (folder / FILE).write_bytes(older)
    (folder / LAST).unlink()
    sold.shop = Shop.open(folder, sold.clock)
    for number in range(more):
        sold.sell("firm-block*2", key=f"anew {number}")
    end, today = sold.shop.desk.books.end()[0], sold.shop.desk.today()
    sold.shop.desk.books.close()
    spoil(folder, n := end + 1 + lost)
    record = mended(sold, copy if kept == "copy" else None)
    assert (record.lost, record.lines, record.filled) == ((n,), end - 1, ())
    keys = [sale.key for sale in sold.shop.desk.recorded(Sale, today)]
    gone = f"anew {more + lost}"
    assert keys[3:] == [key for key in (f"anew {n}" for n in range(more)) if key != gone]
    assert sold.shop.audit.check().findings == ()


@pytest.fixture
def week(folder_shop: ShopInHand) -> ShopInHand:
    """Three closed days and an open one, with sales; a stop in the catalogue on the second."""
    hand = folder_shop
    for day in range(21, 25):
        hand.clock.set(f"2026-11-{day} 04:10")
        lot = hand.batch("firm").lot
        hand.clock.set(f"2026-11-{day} 09:00")
        hand.sell("firm-block*2")
        if day == 22:
            hand.shop.holds.stop([lot], "a stone in it")
        if day < 24:
            hand.clock.set(f"2026-11-{day} 18:30")
            hand.shop.evening.close_day()
    hand.shop.desk.books.close()
    return hand


def lines_in(hand: ShopInHand, book: str) -> list[int]:
    found = [e.number for e in hand.shop.desk.books.entries(book)]
    hand.shop.desk.books.close()
    return found


@pytest.mark.parametrize(
    ("book", "line", "told"),
    [
        # The sale of a closed day: that day alone.
        ("2026-11-22", 1, [("2026-11-22", "2026-11-22")]),
        # A closing: what its day left is lost to the next, and to no other.
        ("closings", 0, [("2026-11-22", "closings")]),
        # The catalogue itself: the words of all the days are lost.
        ("catalogue", 0, [(f"2026-11-{day}", "catalogue") for day in (21, 22, 23)]),
        # A stop kept there: no closed day says otherwise.
        ("catalogue", -1, []),
    ],
)
def test_what_can_be_folded_anew_after_a_lost_line_is_folded(
    week: ShopInHand, book: str, line: int, told: list[tuple[str, str]]
) -> None:
    spoil(folder_of(week), lines_in(week, book)[line])
    mended(week)
    checked = week.shop.audit.check()
    assert checked.findings == ()
    assert [known for known in checked.known if known.startswith("Day")] == [
        f"Day {day} cannot be compared with its closing: a line of book {why} is lost."
        for day, why in told
    ]


def test_a_long_list_of_days_is_cut_with_their_count(
    week: ShopInHand, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("counter.shop.audit._MOST", 1)
    spoil(folder_of(week), lines_in(week, "catalogue")[0])
    mended(week)
    assert week.shop.audit.check().known[-1] == "There are 2 more such days."
