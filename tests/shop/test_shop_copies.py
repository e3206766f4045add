"""The copies of a shop: listed, read back, compared, sealed, and made while the counter sells."""

from __future__ import annotations

import io
import os
import shlex
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from counter.books.copies import PAGE, verify_copy, write_copy
from counter.books.formats import copy_whole
from counter.books.lines import link_of
from counter.errors import (
    BadArchive,
    BadInput,
    BookDamaged,
    DiskRefused,
    NotFound,
    Refused,
    SealedCopy,
)
from counter.shop import Shop, make_shop
from counter.shop.restoring import restore
from counter.shop.sealing import Seal
from counter.shop.staffing import check_pin, owner_has_pin, person_named, pins_of, set_pin
from counter.shop.sticks import Saved, let_go
from tests.conftest import CATALOGUE, SETTINGS, ShopInHand
from tests.lines import kept as kept_in
from tests.lines import lines_of
from tests.often import IN_CI

ROOT = Path(__file__).parents[2]
WORDS = "correct horse battery staple"


def with_copies_in(hand: ShopInHand, folder: str) -> Shop:
    place = hand.shop.desk.folder
    assert place is not None
    (place / "shop.toml").write_text(f"{SETTINGS}\n[backup]\nfolder = '{folder}'\n", "utf-8")
    return Shop.open(place, hand.clock)


@pytest.fixture
def kept(folder_shop: ShopInHand, tmp_path: Path) -> Shop:
    (tmp_path / "stick").mkdir()
    folder_shop.batch("firm", 48)
    return with_copies_in(folder_shop, str(tmp_path / "stick"))


def test_the_copies_of_this_shop_alone_are_listed_newest_first(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    assert kept.copies.listed() == []
    first = Path(kept.copies.back_up().path)
    folder_shop.clock.forward(days=1)
    second = Path(kept.copies.back_up().path)
    os.utime(first, (1_700_000_000, 1_700_000_000))
    neighbour = make_shop(tmp_path / "other", SETTINGS, folder_shop.clock)
    neighbour.products.load_catalogue(CATALOGUE.replace("8.90", "9.10"))
    other = Path(neighbour.copies.back_up(tmp_path / "stick").path)
    (tmp_path / "stick" / "holiday.zip").write_bytes(b"x")
    assert other.parent == first.parent
    assert [(c.name, c.size) for c in kept.copies.listed()] == [
        (second.name, second.stat().st_size), (first.name, first.stat().st_size),
    ]  # fmt: skip
    assert [c.name for c in neighbour.copies.listed(tmp_path / "stick")] == [other.name]


def test_a_stick_that_is_not_in_is_said_and_no_folder_is_too(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    (tmp_path / "stick").rmdir()
    with pytest.raises(DiskRefused) as refusal:
        kept.copies.listed()
    assert str(refusal.value) == (
        f"Cannot look at the copies: {tmp_path / 'stick'} cannot be read (no such file or "
        "directory). Put the stick in, or name another folder."
    )
    with pytest.raises(Refused, match="no folder is named for them"):
        folder_shop.shop.copies.listed()


def test_a_folder_of_the_shops_own_that_is_not_made_yet_holds_none(folder_shop: ShopInHand) -> None:
    assert with_copies_in(folder_shop, "backups").copies.listed() == []


def test_a_copy_is_read_back_and_one_with_a_changed_byte_is_found(kept: Shop) -> None:
    path = Path(kept.copies.back_up().path)
    told: list[tuple[int, int]] = []
    found = kept.copies.prove_copy(path.name, lambda done, whole: told.append((done, whole)))
    assert told[-1][0] == told[-1][1] == found.size
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)
    with pytest.raises(BadArchive):
        kept.copies.prove_copy(path.name)


@pytest.mark.parametrize("name", ["", "../shop.toml", "holiday.zip", "/etc/passwd", "shop.toml"])
def test_only_a_copy_of_the_list_is_read_back(kept: Shop, name: str) -> None:
    kept.copies.back_up()
    with pytest.raises(NotFound, match=r"Cannot read a copy back: there is no copy"):
        kept.copies.prove_copy(name)


def test_the_counter_sells_while_a_copy_is_made_and_the_copy_is_whole(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    folder = kept.desk.folder
    assert folder is not None
    (folder / "reports").mkdir()
    (folder / "reports" / "old.pdf").write_bytes(b"thrown away meanwhile")
    sold: list[str] = []

    def meanwhile(_done: int, _whole: int) -> None:
        if not sold:  # another opened shop, as the server beside the command line
            sold.append(folder_shop.sell("firm-block").number)
            (folder / "reports" / "old.pdf").unlink()
            (folder / "shop.toml").write_text(SETTINGS + "\n# longer than it was\n", "utf-8")

    saved = kept.copies.back_up(progress=meanwhile)
    assert sold == ["2026-11-24/0001"]
    assert kept.desk.books.end()[0] == verify_copy(Path(saved.path)).n + 1
    made = restore(Path(saved.path), tmp_path / "back")
    assert made.checked.findings == ()
    back = Shop.open(tmp_path / "back", folder_shop.clock)
    assert back.desk.ledger().rows["26328-01"].on_hand == 48
    assert (tmp_path / "back" / "shop.toml").read_text("utf-8").endswith("# longer than it was\n")


# -- compared with the newest copy there


def came_back(saved: str, place: Path, hand: ShopInHand) -> Shop:
    restore(Path(saved), place)
    shop = Shop.open(place, hand.clock)
    shop.desk.questions.given = {"restored": "none"}
    return shop


def test_a_copy_of_books_that_only_grew_is_the_same(kept: Shop, folder_shop: ShopInHand) -> None:
    first = kept.copies.back_up()
    folder_shop.sell("firm-block")
    again = kept.copies.back_up()
    assert (first.against, again.against, again.good) == ("", "", True)
    said, name = kept.copies.compare_with(Path(again.path)).said, Path(again.path).name
    assert said == f"{name}: all {again.n} of its lines stand in the books as they were."


def rewrite(folder: Path, n: int, old: str, new: str) -> None:
    """Change a line and make every link behind it fit again, as somebody would who knows how."""
    with closing(sqlite3.connect(folder / "books.sqlite")) as con, con:
        rows = con.execute("SELECT n, body, link FROM lines ORDER BY n").fetchall()
        before = "0" * 64
        for at, body, link in rows:
            if at >= n:
                changed = body.replace(old, new) if at == n else body
                assert at > n or changed != body
                link = bytes.fromhex(link_of(changed.encode(), before))
                con.execute("UPDATE lines SET body = ?, link = ? WHERE n = ?", (changed, link, at))
            before = link.hex()


def test_a_line_rewritten_with_all_links_behind_it_is_named_and_the_old_copy_kept(
    kept: Shop, folder_shop: ShopInHand
) -> None:
    """The links prove nothing against somebody who can write the folder; the copy does."""
    folder = kept.desk.folder
    assert folder is not None
    sale = folder_shop.sell("firm-block", cash=1000)
    folder_shop.sell("firm-block*2", cash=2000)
    old = Path(kept.copies.back_up().path)
    before = old.read_bytes()
    n = kept.desk.books.end()[0] - 1
    kept.desk.books.close()
    (folder / "books.last").unlink()  # they know of that, too
    rewrite(folder, n, f'"total":{sale.total}', '"total":1')
    shop = Shop.open(folder, folder_shop.clock)
    assert shop.audit.check().findings == ()  # the books by themselves show nothing
    saved = shop.copies.back_up()
    assert not saved.good
    moment = "2026-11-24 04:10:00"
    assert saved.against == (
        f"No longer as it was is line {n} (line 2 of 2026-11-24, {moment}),"
        f" the first of 1 in {old.name}."
    )
    assert Path(saved.path).name == old.name.replace(".zip", "-2.zip")
    assert old.read_bytes() == before


def test_books_that_are_shorter_than_the_newest_copy_are_named(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    early = kept.copies.back_up(tmp_path)
    folder_shop.sell("firm-block")
    folder_shop.sell("firm-block")
    late = kept.copies.back_up()
    back = came_back(early.path, tmp_path / "back", folder_shop)
    saved = back.copies.back_up(tmp_path / "stick")
    assert saved.against == (
        f"{Path(late.path).name} goes on where the books end: from line {late.n - 1}"
        f" (line 2 of 2026-11-24, 2026-11-24 04:10:00) up to line {late.n}."
    )
    assert Path(late.path).exists()


def test_two_computers_that_went_apart_are_named_when_their_copies_meet(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    begun = kept.copies.back_up(tmp_path)
    other = came_back(begun.path, tmp_path / "other", folder_shop)
    folder_shop.clock.set("2026-11-24 08:05")
    folder_shop.sell("firm-block")
    first = kept.copies.back_up()
    folder_shop.clock.set("2026-11-24 09:30")
    other.evening.move_cash("float", 15000)
    saved = other.copies.back_up(tmp_path / "stick")
    assert not saved.good
    assert saved.against == (
        f"Two computers wrote on from line {begun.n} (2026-11-24 04:10:00): this one at"
        f" 2026-11-24 09:30:00, that of {Path(first.path).name} at 2026-11-24 08:05:00."
    )
    assert len(list((tmp_path / "stick").glob("*.zip"))) == 2


def test_every_backup_names_each_copy_on_the_stick_that_went_apart_and_keeps_them_all(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    """Also behind newer copies that agree, and once for all copies of one computer."""
    stick = tmp_path / "stick"
    begun = kept.copies.back_up(tmp_path)
    theirs = []
    for minute in (5, 6):
        other = came_back(begun.path, tmp_path / f"other-{minute}", folder_shop)
        for day in (24, 25):
            folder_shop.clock.set(f"2026-11-{day} 08:0{minute}")
            other.evening.move_cash("float", 15000 + minute)
            theirs.append(Path(other.copies.back_up(stick).path))
    folder_shop.clock.set("2026-11-26 09:30")
    folder_shop.sell("firm-block")
    for _ in range(3):
        folder_shop.clock.forward(days=1)
        saved = with_copies_in(folder_shop, str(stick)).copies.back_up()
        assert not saved.good
        assert saved.against.count("Two computers wrote on from line") == 2
        assert [path.name in saved.against for path in theirs] == [False, True, False, True]
    thrifty = let_go([p.name for p in stick.iterdir()], stem(saved), 1, 0)
    assert {path.name for path in theirs} <= set(thrifty)  # the rule alone would let them go
    assert kept.desk.folder is not None
    text = f"{SETTINGS}\n[backup]\nfolder = '{stick}'\nkeep_days = 1\nkeep_months = 0\n"
    (kept.desk.folder / "shop.toml").write_text(text, "utf-8")
    folder_shop.clock.forward(days=1)
    saved = Shop.open(kept.desk.folder, folder_shop.clock).copies.back_up()
    assert len(saved.removed) == 3  # our own older ones
    assert all(path.exists() for path in theirs)


def stem(saved: Saved) -> str:
    return Path(saved.path).name.rpartition("-2026-")[0]


def test_a_copy_on_the_stick_is_for_its_owner_alone(kept: Shop) -> None:
    assert Path(kept.copies.back_up().path).stat().st_mode & 0o777 == 0o600


def test_of_several_shops_on_a_stick_each_has_a_page_that_names_its_own_copies(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("counter.shop.wheels.carry_wheels", lambda place: None)
    neighbour = make_shop(
        tmp_path / "neighbour", SETTINGS.replace("Tofu", "Harbour", 1), folder_shop.clock
    )
    neighbour.products.load_catalogue(CATALOGUE.replace("8.90", "9.10"))
    stick, pages = tmp_path / "stick", {}
    for shop in (kept, neighbour):
        saved = shop.copies.back_up(stick, program=True)
        assert saved.apart == ""
        pages[stem(saved)] = (saved, shop.desk.settings.shop.name)
    assert {p.name for p in stick.glob("*.txt")} == {f"{name} {PAGE}" for name in pages}
    for name, (saved, title) in pages.items():
        said = (stick / f"{name} {PAGE}").read_text("utf-8")
        assert said.startswith(f"{title}: a copy of the shop")
        assert f"Last line: {saved.n}\n{saved.link}" in said
        assert f"of those that begin with {name}.\n" in said


def test_a_copy_of_another_shop_is_said_to_be_one(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    neighbour = make_shop(tmp_path / "neighbour", SETTINGS, folder_shop.clock)
    neighbour.products.load_catalogue(CATALOGUE.replace("8.90", "9.10"))
    saved = Path(neighbour.copies.back_up(tmp_path).path)
    assert kept.copies.compare_with(saved).said == f"{saved.name} is a copy of another shop."


def test_books_written_anew_from_the_first_line_on_are_not_taken_for_a_new_shop_in_silence(
    kept: Shop, folder_shop: ShopInHand
) -> None:
    folder = kept.desk.folder
    assert folder is not None
    old = Path(kept.copies.back_up().path)
    kept.desk.books.close()
    (folder / "books.last").unlink()
    rewrite(folder, 1, '"catalogues"', ' "catalogues"')
    saved = Shop.open(folder, folder_shop.clock).copies.back_up()
    assert not saved.good
    first = "line 1 (line 1 of catalogue, 2026-11-24 04:10:00)"
    assert saved.against == f"No longer as it was is {first}, the first of 1 in {old.name}."
    assert old.exists()


def test_what_a_copy_left_unfinished_a_day_ago_is_cleared_away(kept: Shop) -> None:
    first = Path(kept.copies.back_up().path)
    old, new = (first.with_name(f".{first.name}.{n}.part") for n in ("ab12", "cd34"))
    for part in (old, new):
        part.write_bytes(b"cut off")
    os.utime(old, (1_700_000_000, 1_700_000_000))
    kept.copies.back_up()
    assert (old.exists(), new.exists()) == (False, True)


def test_a_newest_copy_that_cannot_be_read_is_told_and_the_new_one_made(
    kept: Shop, folder_shop: ShopInHand
) -> None:
    old = Path(kept.copies.back_up().path)
    old.write_bytes(old.read_bytes()[:-5])
    folder_shop.clock.forward(days=1)
    saved = kept.copies.back_up()
    assert not saved.good
    assert saved.against.startswith(
        f"Cannot read backup {old}: it is no backup of a shop, or it was"
    )
    assert verify_copy(Path(saved.path))


# -- sealed


def test_a_sealed_copy_comes_back_with_its_passphrase_and_says_nothing_without_it(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    kept.copies.seal_copies(WORDS)
    path = Path(kept.copies.back_up().path)
    assert path.name.endswith("-2026-11-24.zip.sealed")
    for part in (b"firm", b"Millrace", b"SQLite", b"PK", WORDS.encode()):
        assert part not in path.read_bytes() or part == b"PK"
    with pytest.raises(SealedCopy) as refusal:
        restore(path, tmp_path / "back")
    assert str(refusal.value) == (
        f"Cannot read backup {path}: it is sealed with a passphrase."
        " Give the passphrase that it was sealed with."
    )
    with pytest.raises(SealedCopy) as refusal:
        restore(path, tmp_path / "back", passphrase="correct horse battery stable")
    assert str(refusal.value) == (
        f"Cannot read backup {path}: the passphrase does not fit it."
        " Give the passphrase that it was sealed with."
    )
    assert not (tmp_path / "back").exists()
    assert restore(path, tmp_path / "back", passphrase=f" {WORDS} ").checked.sound
    assert kept_in(tmp_path / "back")["books"] == kept_in(kept.desk.folder or Path())["books"]


def test_the_shop_seals_and_reads_back_without_asking_and_keeps_no_passphrase(
    kept: Shop, folder_shop: ShopInHand
) -> None:
    kept.copies.seal_copies(WORDS)
    closing = kept.evening.close_day()
    copy = kept.copies.back_up_after_closing(closing.day)
    assert copy is not None
    assert copy.good
    [listed] = kept.copies.listed()
    assert kept.copies.prove_copy(listed.name).n == kept.desk.books.end()[0]
    folder = kept.desk.folder
    assert folder is not None
    key = folder / ".copy-key"
    assert key.stat().st_mode & 0o777 == 0o600
    assert all(WORDS.encode() not in p.read_bytes() for p in folder.rglob("*") if p.is_file())
    first = Path(kept.copies.back_up().path).read_bytes()
    assert Path(kept.copies.back_up().path).read_bytes() != first  # another key for every file
    kept.copies.leave_copies_open()
    assert not key.exists()
    assert kept.copies.back_up().path.endswith(".zip")


def test_a_copy_sealed_with_another_passphrase_is_neither_believed_nor_replaced(
    kept: Shop, folder_shop: ShopInHand
) -> None:
    kept.copies.seal_copies(WORDS)
    old = Path(kept.copies.back_up().path)
    before = old.read_bytes()
    kept.copies.seal_copies("four other words than those")
    saved = kept.copies.back_up()
    assert saved.good
    with pytest.raises(SealedCopy, match="with another passphrase than this shop's copies are now"):
        kept.copies.prove_copy(old.name)
    assert Path(saved.path).name == old.name.replace(".zip", "-2.zip")
    assert old.read_bytes() == before
    assert kept.copies.compare_with(old, WORDS).kind == "same"


@pytest.mark.parametrize("words", ["", "tofu", "aaaaaaaaaaaaaaaaaaaa", "12121212121212"])
def test_a_passphrase_that_is_soon_guessed_is_refused(kept: Shop, words: str) -> None:
    with pytest.raises(BadInput, match="Take four words that do not belong together"):
        kept.copies.seal_copies(words)
    assert not kept.copies.copies_sealed


@pytest.mark.parametrize("size", [0, 1, 65535, 65536, 65537, 131072, 200_000])
def test_a_sealed_file_gives_back_every_byte_from_wherever_it_is_read(
    tmp_path: Path, size: int
) -> None:
    data, seal = os.urandom(size), Seal.of(WORDS)
    with (tmp_path / "f").open("wb") as raw, seal.writing(raw) as sink:
        for at in range(0, size, 4099):
            sink.write(data[at : at + 4099])
    with (tmp_path / "f").open("rb") as raw:
        file = seal.reading(raw, "read it")
        assert file.read() == data
        for at in (0, 1, 65530, 65536, size - 3):
            file.seek(max(at, 0))
            assert file.read(20) == data[max(at, 0) :][:20]


def test_pieces_of_a_sealed_file_cannot_be_left_out_moved_or_taken_from_another(
    tmp_path: Path,
) -> None:
    """STREAM: the nonce counts the pieces and marks the last."""
    seal, piece = Seal.of(WORDS), 65536 + 16
    whole = []
    for name in ("a", "b"):
        with (tmp_path / name).open("wb") as raw, seal.writing(raw) as sink:
            sink.write(name.encode() * (4 * 65536))
        whole.append((tmp_path / name).read_bytes())
    first, end = whole[0], whole[0][-16:]
    head = len(first) - 16 - 4 * piece
    pieces = [first[head + i * piece :][:piece] for i in range(4)]
    other = [whole[1][head + i * piece :][:piece] for i in range(4)]
    for wrong in (
        pieces[:3], pieces[1:], [pieces[1], pieces[0], *pieces[2:]], [*pieces[:3], other[3]],
        [*pieces, pieces[3]], [other[0], *pieces[1:]],
    ):  # fmt: skip
        (tmp_path / "c").write_bytes(first[:head] + b"".join(wrong) + end)
        changed = "its bytes are not those that were written"
        with (tmp_path / "c").open("rb") as raw, pytest.raises(BadArchive, match=changed):
            seal.reading(raw, "read it").read()


# -- PINs


def test_pins_of_a_copy_fit_nowhere_else_until_the_owner_sets_them_anew(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    set_pin(kept.desk, "rosa", "2580")
    rosa = person_named(kept.desk, "rosa", "sign in")
    assert check_pin(kept.desk, rosa, "2580")
    assert not check_pin(kept.desk, rosa, "2581")
    saved = kept.copies.back_up()
    made = restore(Path(saved.path), tmp_path / "back", clock=folder_shop.clock)
    assert made.said.endswith(
        " No PIN fits any more: set the owner's anew with `counter pin PERSON`."
    )
    back = Shop.open(tmp_path / "back", folder_shop.clock)
    assert pins_of(back.desk)  # nobody comes in without one
    assert not owner_has_pin(back.desk)
    for pin in ("2580", "2581", ""):
        with pytest.raises(Refused) as refusal:
            check_pin(back.desk, rosa, pin)
        assert str(refusal.value) == (
            "Cannot sign in as Rosa: that PIN was set on another computer, and copies carry no key"
            " for PINs. Let the owner set it anew on the shop's computer: `counter pin rosa`."
        )
    with pytest.raises(Refused, match="no owner has a PIN yet"):
        set_pin(back.desk, "ida", "3690")
    set_pin(back.desk, "rosa", "2581")
    assert check_pin(back.desk, rosa, "2581")
    assert owner_has_pin(back.desk)
    assert check_pin(kept.desk, rosa, "2580")  # and the first computer goes on


# -- a disk that takes nothing


def test_a_shop_on_a_read_only_disk_is_copied_and_nothing_is_written_into_it(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    folder, place = kept.desk.folder, tmp_path / "readonly"
    assert folder is not None
    kept.desk.books.close()
    place.mkdir()
    here = [sys.executable, "-m", "counter", "--shop", str(place), "backup", "--no-wheels", "--to"]
    words = " ".join(shlex.quote(word) for word in [*here, str(tmp_path / "stick")])
    bind = f"mount --bind {folder} {place} && mount -o remount,ro,bind {place}"
    mounted = subprocess.run(["unshare", "-m", "sh", "-c", bind], capture_output=True, timeout=60)
    if mounted.returncode:
        assert not IN_CI, mounted.stderr
        pytest.skip(f"no read-only mount can be made here: {mounted.stderr!r}")
    before = {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in folder.rglob("*") if p.is_file()}
    done = subprocess.run(
        ["unshare", "-m", "sh", "-c", f"{bind} && ! touch {place}/x && {words}"],
        capture_output=True, text=True, cwd=ROOT, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Backup written and read back" in done.stdout
    assert "read-only" in done.stderr
    assert before == {
        p: (p.stat().st_mtime_ns, p.read_bytes()) for p in folder.rglob("*") if p.is_file()
    }
    [copy] = (tmp_path / "stick").glob("*.zip")
    restore(copy, tmp_path / "back")
    assert lines_of(tmp_path / "back") == lines_of(folder)


def test_of_a_database_that_the_disk_fails_at_all_is_copied_that_it_still_gives(
    kept: Shop, folder_shop: ShopInHand, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for _ in range(40):
        folder_shop.sell("firm-block")
    folder = kept.desk.folder
    assert folder is not None
    folder_shop.shop.desk.books.close()
    kept.desk.books.close()
    whole = lines_of(folder)
    at = (folder / "books.sqlite").read_bytes().index(whole[-9].encode()) // 4096 * 4096

    class Failing(io.FileIO):
        def read(self, size: int = -1, /) -> bytes:
            if self.tell() == at and size == 4096:
                raise OSError(5, "Input/output error")
            return super().read(size)

    opened = Path.open

    def fails(path: Path, mode: str = "r", **given: Any) -> object:
        bad = path == folder / "books.sqlite" and mode == "rb"
        return Failing(path) if bad else opened(path, mode, **given)

    def refuses(con: sqlite3.Connection, to: Path) -> None:
        if con.execute("PRAGMA database_list").fetchone()[2] != bytes(folder / "books.sqlite"):
            return copy_whole(con, to)
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR
        raise error

    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", fails)
        patch.setattr("counter.books.engine.copy_whole", refuses)
        saved = kept.copies.back_up()
    assert not saved.good
    assert "It holds what is damaged in the shop: " in saved.said
    with zipfile.ZipFile(saved.path) as archive:
        texts = b"".join(archive.read(n) for n in archive.namelist() if n.startswith("books/"))
    there = [line for line in whole if line[:-1].encode() in texts]
    assert len(whole) - 10 <= len(there) < len(whole)
    with monkeypatch.context() as patch:  # a database of which nothing is left is no copy
        patch.setattr("counter.books.engine.copy_whole", refuses)
        (folder / "books.sqlite").write_bytes(b"")
        with pytest.raises(BookDamaged, match="it is no file of a shop.s books"):
            write_copy(
                kept.desk.books, {}, tmp_path / "c.zip", lambda *_: "", shop="s", day="2026-11-24"
            )
    assert not (tmp_path / "c.zip").exists()


def test_a_paper_that_cannot_be_read_does_not_keep_the_books_from_being_copied(
    kept: Shop, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    folder = kept.desk.folder
    assert folder is not None
    (folder / "labels").mkdir()
    (folder / "labels" / "bad.pdf").write_bytes(b"on a bad block")
    opened = Path.open

    def fails(path: Path, mode: str = "r", **given: Any) -> object:
        if path.name == "bad.pdf" and mode == "rb":
            raise OSError(5, "Input/output error")
        return opened(path, mode, **given)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", fails)
        saved = kept.copies.back_up()
    assert saved.damaged == ("shop/labels/bad.pdf",)
    assert restore(Path(saved.path), tmp_path / "back").checked.sound


# -- the program beside the copies


def test_a_new_computer_needs_no_network(kept: Shop, wheels: None, tmp_path: Path) -> None:
    """As READ ME.txt tells it: a new environment from the wheels beside the copy, nothing else."""
    saved = kept.copies.back_up(program=True)
    assert saved.apart == ""
    stick = tmp_path / "stick"
    page = (stick / f"{stem(saved)} {PAGE}").read_text("utf-8")
    assert saved.link in page
    there = {p.name: p.stat().st_mtime_ns for p in (stick / "wheels").iterdir()}
    for name in ("tofu_counter-", "cryptography-", "tinydb-"):
        assert any(wheel.startswith(name) for wheel in there), name
    kept.copies.back_up(program=True)  # once a stick
    assert {p.name: p.stat().st_mtime_ns for p in (stick / "wheels").iterdir()} == there
    venv, clean = tmp_path / "tofu", {"PATH": os.environ["PATH"], "PIP_NO_INDEX": "1"}

    def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            list(map(str, words)), capture_output=True, text=True, cwd=tmp_path, env=clean,
            timeout=300,
        )  # fmt: skip

    made = run(sys.executable, "-m", "venv", venv)
    if made.returncode:
        assert not IN_CI, made.stderr
        pytest.skip(f"no environment can be made here: {made.stderr}")
    pip = [venv / "bin" / "pip", "install", "--disable-pip-version-check", "--no-index"]
    installed = run(*pip, "--find-links", stick / "wheels", "tofu-counter")
    assert installed.returncode == 0, installed.stderr
    counter = venv / "bin" / "counter"
    assert "Follow the day of a tofu workshop" in run(counter, "--help").stdout
    back = run(counter, "restore", saved.path, tmp_path / "my shop")
    assert back.returncode == 0, back.stderr
    assert "It is of 2026-11-24" in back.stdout
    assert run(counter, "--shop", tmp_path / "my shop", "check").returncode == 0
    assert run(venv / "bin" / "pip", "check").returncode == 0
    kept.copies.seal_copies(WORDS)
    clean["COUNTER_PASSPHRASE"] = "correct  horse\tbattery staple"  # however it was typed
    sealed = run(counter, "restore", kept.copies.back_up().path, tmp_path / "sealed")
    assert sealed.returncode == 0, sealed.stderr
