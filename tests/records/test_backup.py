"""A copy of the shop is proved before it is called one, and comes back byte for byte or not."""

from __future__ import annotations

import errno
import hashlib
import io
import os
import zipfile
from datetime import date, timedelta
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from counter.books.archived import unpack_archive, verify_archive
from counter.books.backup import let_go
from counter.books.manifest import INSIDE, MANIFEST, MARK, Kept, Manifest, safe_name
from counter.errors import BadArchive, BadInput, BooksError, DiskRefused, Refused
from counter.shop import Shop, restore
from counter.trade.settings import parse_settings
from tests.conftest import SETTINGS, Clock, ShopInHand
from tests.records.conftest import content


def saved(hand: ShopInHand, stick: Path) -> Path:
    return Path(hand.shop.back_up(stick).path)


def with_backup(hand: ShopInHand, lines: str) -> Shop:
    """The shop opened anew with a ``[backup]`` in its shop.toml."""
    folder = hand.shop.folder
    assert folder is not None
    (folder / "shop.toml").write_text(f"{SETTINGS}\n[backup]\n{lines}\n", "utf-8")
    return Shop.open(folder, hand.clock)


def test_a_restored_shop_is_the_same_byte_for_byte(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "shop"
    (folder / "logo.png").write_bytes(bytes(range(256)) * 5000)
    (folder / "labels").mkdir()
    (folder / "labels" / "26328-01.pdf").write_bytes(b"%PDF")
    (folder / "notes ümlaut.txt").write_text("", "utf-8")
    made = restore(saved(hand, stick), tmp_path / "back")
    assert content(tmp_path / "back") == content(folder)
    assert made.checked.sound
    assert made.files == len(content(folder))
    again = Shop.open(tmp_path / "back", hand.clock)
    assert again.trace("26328-01") == hand.shop.trace("26328-01")


def test_the_same_folder_gives_the_same_bytes(hand: ShopInHand, stick: Path) -> None:
    first = saved(hand, stick).read_bytes()
    hand.clock.forward(minutes=5)
    assert saved(hand, stick).read_bytes() == first
    assert [p.suffix for p in stick.iterdir()] == [".zip"]


def test_the_manifest_names_every_file_and_where_each_book_ended(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    manifest = verify_archive(saved(hand, stick))
    files = content(tmp_path / "shop")
    assert {k.name: (k.size, k.sha256) for k in manifest.files} == {
        name: (len(data), hashlib.sha256(data).hexdigest()) for name, data in files.items()
    }
    ends = {b.book: (b.n, b.link) for b in manifest.books}
    books = hand.shop.books
    for day in books.days():
        assert ends[str(day)] == (books.day(day).last_n, books.day(day).last_link)
    assert ends["closings"] == (books.closings.last_n, books.closings.last_link)
    assert all(b.damaged is None for b in manifest.books)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The archive of a shop just begun."""
    from counter.books.archive import survey, write_archive

    folder = tmp_path_factory.mktemp("small")
    (folder / "shop.toml").write_text(SETTINGS, "utf-8")
    shop = Shop.open(folder, Clock())
    shop.move_cash("float", 15000)
    (folder / ".lock").unlink()
    archive = tmp_path_factory.mktemp("out") / "a.zip"
    write_archive(folder, survey(folder), archive, "small", None)
    return archive.read_bytes()


def test_an_archive_cut_at_any_byte_is_refused(small: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    for size in range(len(small)):
        path.write_bytes(small[:size])
        with pytest.raises(BadArchive):
            verify_archive(path)


def test_an_archive_with_a_flipped_bit_in_any_byte_is_refused(small: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    for at in range(len(small)):
        flipped = bytearray(small)
        flipped[at] ^= 1 << at % 8
        path.write_bytes(flipped)
        with pytest.raises(BadArchive):
            verify_archive(path)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=300), st.data())
def test_noise_is_no_archive(
    tmp_path: Path, small: bytes, noise: bytes, data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(small)))
    path = tmp_path / "noise.zip"
    path.write_bytes(noise)
    with pytest.raises(BadArchive):
        verify_archive(path)
    if noise:
        path.write_bytes(small[:at] + noise + small[at:])
        with pytest.raises(BadArchive):
            verify_archive(path)


def test_a_damaged_archive_leaves_nothing_behind(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    path = saved(hand, stick)
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(BadArchive) as refusal:
        restore(path, tmp_path / "back")
    assert str(refusal.value) == (
        f"Cannot read backup {path}: it is no backup of a shop, or it was cut off."
        " Name a .zip of `counter backup`."
    )
    assert {p.name for p in tmp_path.iterdir()} == {"shop", "stick"}


def forged(members: dict[str, bytes], manifest: Manifest | bytes, *, deflate: bool = True) -> bytes:
    """An archive that proves itself, whatever is in it: what an enemy could write."""
    buffer = io.BytesIO()
    how = zipfile.ZIP_DEFLATED if deflate else zipfile.ZIP_STORED
    with zipfile.ZipFile(buffer, "w", how) as archive:
        archive.comment = MARK + b"0" * 64
        for name, data in members.items():
            archive.writestr(name, data)
        made = manifest if isinstance(manifest, bytes) else msgspec.json.encode(manifest)
        archive.writestr(MANIFEST, made)
    body = buffer.getvalue()[:-64]
    return body + hashlib.sha256(body).hexdigest().encode()


def kept(name: str, data: bytes, size: int | None = None) -> Kept:
    return Kept(name, len(data) if size is None else size, hashlib.sha256(data).hexdigest())


@pytest.mark.parametrize(
    "name",
    [
        "../evil.txt", "a/../../evil.txt", "/etc/evil", "//evil", "a//b", "./evil", "..",
        "..\\evil", "C:evil", "C:\\evil", "a/./b", "evil\x00.txt", "evil\n", "a\x7fb", "",
    ],
)  # fmt: skip
def test_names_that_lead_out_of_the_folder_are_refused(name: str, tmp_path: Path) -> None:
    assert not safe_name(name)
    path, target = tmp_path / "a.zip", tmp_path / "deep" / "back"
    path.write_bytes(forged({INSIDE + name: b"x"}, Manifest(1, "s", (kept(name, b"x"),), ())))
    with pytest.raises(BadArchive):
        restore(path, target)
    assert {p.name for p in tmp_path.rglob("*")} <= {"a.zip", "deep"}


def test_a_zip_bomb_is_refused_before_a_byte_is_written(tmp_path: Path) -> None:
    zeros = bytes(30_000_000)
    path = tmp_path / "a.zip"
    whole = forged({INSIDE + "z": zeros}, Manifest(1, "s", (kept("z", zeros, 1000),), ()))
    path.write_bytes(whole)
    with pytest.raises(BadArchive, match="the size of z is not the one its list names"):
        unpack_archive(path, tmp_path)
    promised = Manifest(1, "s", (Kept("z", 1 << 50, "0" * 64),), ())
    path.write_bytes(forged({INSIDE + "z": b""}, promised))
    with pytest.raises(BadArchive):
        unpack_archive(path, tmp_path)
    assert not (tmp_path / "z").exists()


def test_a_list_that_does_not_fit_what_is_there_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    cases: list[tuple[dict[str, bytes], Manifest | bytes]] = [
        ({INSIDE + "a": b"x"}, Manifest(1, "s", (), ())),  # a file the list does not name
        ({}, Manifest(1, "s", (kept("a", b"x"),), ())),  # a file that is not there
        ({INSIDE + "a": b"x"}, Manifest(1, "s", (kept("a", b"y"),), ())),  # another content
        ({INSIDE + "a": b"x"}, Manifest(2, "s", (kept("a", b"x"),), ())),  # another format
        ({INSIDE + "a": b"x"}, Manifest(1, "s", (kept("a", b"x"),) * 2, ())),  # named twice
        ({INSIDE + "a": b"x"}, b"{}"),
        ({INSIDE + "a": b"x"}, b"\xff"),
        # a book whose end is not the one the list says
        (
            {INSIDE + "closings.jsonl": b"x\n"},
            Manifest(1, "s", (kept("closings.jsonl", b"x\n"),), ()),
        ),
    ]
    for members, manifest in cases:
        path.write_bytes(forged(members, manifest))
        with pytest.raises(BadArchive):
            verify_archive(path)


def test_restore_touches_no_folder_that_holds_something(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    path = saved(hand, stick)
    target = tmp_path / "back"
    target.mkdir()
    (target / "mine.txt").write_text("mine")
    with pytest.raises(BooksError, match="it is not an empty folder"):
        restore(path, target)
    assert content(target) == {"mine.txt": b"mine"}
    (target / "mine.txt").unlink()
    restore(path, target)
    assert content(target) == content(tmp_path / "shop")


def test_a_damaged_shop_is_copied_and_said_to_be_damaged(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    book = tmp_path / "shop" / "days" / "2026" / "2026-11-24.jsonl"
    lines = book.read_bytes().split(b"\n")
    lines[3] = lines[3].replace(b'"at":"2026', b'"at":"2027')
    book.write_bytes(b"\n".join(lines))
    shop = Shop.open(tmp_path / "shop", hand.clock)
    made = shop.back_up(stick)
    assert made.damaged == ("2026-11-24",)
    assert "It holds damaged books, as the shop does: 2026-11-24. Run `counter check`." in made.said
    back = restore(Path(made.path), tmp_path / "back")
    assert content(tmp_path / "back") == content(tmp_path / "shop")
    assert [(f.book, f.line) for f in back.checked.findings] == [("2026-11-24", 3)]


def test_labels_and_reports_stay_out_where_the_owner_says_so(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    (tmp_path / "shop" / "labels").mkdir()
    (tmp_path / "shop" / "labels" / "a.pdf").write_bytes(b"x")
    shop = with_backup(hand, "papers = false")
    names = {k.name for k in verify_archive(Path(shop.back_up(stick).path)).files}
    assert "labels/a.pdf" not in names
    assert "shop.toml" in names


# -- the stick


def test_the_closing_makes_a_copy_where_shop_toml_names_a_folder(
    hand: ShopInHand, stick: Path
) -> None:
    shop = with_backup(hand, f"folder = '{stick}'")
    shop.move_cash("float", 15000)
    closing = shop.close_day()
    copy = shop.back_up_after_closing(closing.day)
    assert copy is not None
    (archive,) = stick.iterdir()
    assert archive.name.endswith("-2026-11-26.zip")
    assert copy.said.startswith(f"Backup written and read back: {archive}, ")
    assert copy.good
    last = {b.book: b.link for b in verify_archive(archive).books}
    assert last["2026-11-26"] == closing.book_link


def test_without_a_folder_in_shop_toml_a_closing_makes_no_copy(hand: ShopInHand) -> None:
    assert hand.shop.back_up_after_closing(date(2026, 11, 25)) is None
    with pytest.raises(Refused, match="Name one with --to DIR"):
        hand.shop.back_up()


def test_a_missing_stick_does_not_undo_the_closing(hand: ShopInHand, tmp_path: Path) -> None:
    shop = with_backup(hand, f"folder = '{tmp_path / 'gone'}'")
    shop.move_cash("float", 15000)
    closing = shop.close_day()
    copy = shop.back_up_after_closing(closing.day)
    assert copy is not None
    assert not copy.good
    assert copy.said == (
        f"The day is closed, but no backup was made. Cannot back up into '{tmp_path / 'gone'}':"
        " there is no such folder. Put the stick in, or name another folder; then run"
        " `counter backup`."
    )
    assert shop.sealed_until() == closing.day
    assert not (tmp_path / "gone").exists()


def test_a_folder_of_the_shops_own_is_made_and_never_copied_into_itself(hand: ShopInHand) -> None:
    shop = with_backup(hand, "folder = 'backups'")
    sizes = [shop.back_up().files for _ in range(3)]
    assert len(set(sizes)) == 1


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS])
def test_a_stick_that_fails_leaves_the_older_copy_as_it_was(
    hand: ShopInHand, stick: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    older = saved(hand, stick)
    before = older.read_bytes()
    hand.shop.move_cash("float", 15000)

    def fails(fd: int) -> None:
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr("counter.books.archive.os.fsync", fails)
        with pytest.raises(DiskRefused):
            saved(hand, stick)
    assert [p.name for p in stick.iterdir()] == [older.name]
    assert older.read_bytes() == before
    saved(hand, stick)
    assert older.read_bytes() != before


def test_a_copy_that_cannot_be_read_back_is_not_called_one(
    hand: ShopInHand, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def rotten(path: Path, progress: object = None) -> Manifest:
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 1
        path.write_bytes(data)
        return verify_archive(path)

    with monkeypatch.context() as patch:
        patch.setattr("counter.books.archive.verify_archive", rotten)
        with pytest.raises(BadArchive):
            saved(hand, stick)
    assert not list(stick.iterdir())


def test_an_older_shop_does_not_wipe_out_a_newer_copy(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    old = saved(hand, tmp_path)
    restore(old, tmp_path / "back")
    hand.shop.move_cash("float", 15000)
    newer = saved(hand, stick)
    before = newer.read_bytes()
    back = Shop.open(tmp_path / "back", hand.clock)
    second = Path(back.back_up(stick).path)
    assert second.name == newer.name.replace(".zip", "-2.zip")
    assert newer.read_bytes() == before


def test_progress_is_told_in_bytes_and_ends_at_the_end(hand: ShopInHand, stick: Path) -> None:
    told: list[tuple[int, int]] = []
    hand.shop.back_up(stick, progress=lambda done, whole: told.append((done, whole)))
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1] > 0


def test_a_name_no_other_system_can_write_stops_the_copy_with_a_sentence(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    (tmp_path / "shop" / "a:b.txt").write_text("x")
    with pytest.raises(BooksError, match="Rename the file, or move it out of the shop folder"):
        saved(hand, stick)


# -- the rule


def names_of(days: list[date]) -> list[str]:
    return [f"mill-ab12cd-{day}.zip" for day in days]


def test_the_rule_keeps_the_last_days_and_the_last_one_of_each_month() -> None:
    days = [date(2026, 1, 1) + timedelta(days=n) for n in range(120)]  # to 2026-04-30
    gone = let_go(names_of(days), "mill-ab12cd", 3, 3)
    stay = sorted(set(names_of(days)) - set(gone))
    assert stay == names_of([
        date(2026, 2, 28), date(2026, 3, 31), date(2026, 4, 28), date(2026, 4, 29),
        date(2026, 4, 30),
    ])  # fmt: skip


@pytest.mark.parametrize(
    "name", ["mill-ab12cd-2026-01-01.zip.part", "mill-2026-01-01.zip", "other-ab12cd-2026-01-01.zip",
             "holiday.jpg", "mill-ab12cd-2026-02-31.zip"],
)  # fmt: skip
def test_files_of_other_names_are_never_let_go(name: str) -> None:
    days = names_of([date(2026, 3, n) for n in range(1, 30)])
    assert name not in let_go([name, *days], "mill-ab12cd", 1, 0)


@given(
    st.sets(st.dates(date(2024, 1, 1), date(2027, 12, 31)), max_size=60),
    st.integers(1, 20), st.integers(0, 20),
)  # fmt: skip
def test_the_newest_copy_is_kept_and_thinning_twice_lets_nothing_more_go(
    days: set[date], keep_days: int, keep_months: int
) -> None:
    names = names_of(sorted(days))
    stay = sorted(set(names) - set(let_go(names, "mill-ab12cd", keep_days, keep_months)))
    assert stay[-keep_days:] == names[-keep_days:]
    assert len(stay) <= keep_days + keep_months
    assert not let_go(stay, "mill-ab12cd", keep_days, keep_months)
    months = sorted({(d.year, d.month) for d in days})[-keep_months:] if keep_months else []
    for year, month in months:
        assert any(f"-{year:04}-{month:02}-" in name for name in stay)


def test_a_closing_thins_out_by_the_rule(hand: ShopInHand, stick: Path) -> None:
    shop = with_backup(hand, f"folder = '{stick}'\nkeep_days = 2\nkeep_months = 0")
    for _ in range(4):
        shop.back_up_after_closing(shop.today())
        hand.clock.forward(days=1)
    assert [p.name[-14:-4] for p in sorted(stick.iterdir())] == ["2026-11-28", "2026-11-29"]


def test_a_rule_that_keeps_nothing_is_no_rule() -> None:
    with pytest.raises(BadInput, match=r"'backup.keep_days' \(line"):
        parse_settings(f"{SETTINGS}\n[backup]\nkeep_days = 0\n")
