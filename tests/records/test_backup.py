"""A copy of the shop is proved before it is called one, and comes back byte for byte or not."""

from __future__ import annotations

import errno
import hashlib
import io
import json
import os
import shutil
import sqlite3
import struct
import zipfile
from collections.abc import Callable
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.books.copies import (
    INSIDE,
    MANIFEST,
    MARK,
    PAGE,
    TEXTS,
    Manifest,
    safe_name,
    verify_copy,
)
from counter.books.engine import FILE, RESTORED
from counter.books.lines import from_text
from counter.books.mend import build
from counter.errors import (
    BadArchive,
    BadInput,
    BooksError,
    CounterError,
    DiskRefused,
    Refused,
    SealedCopy,
)
from counter.shop import Shop, make_shop
from counter.shop.restoring import restore, restore_shop
from counter.shop.sealing import Seal, kept_seal
from counter.shop.staffing import open_secret, set_pin
from counter.shop.sticks import let_go
from counter.shop.tables import found_by
from counter.trade.settings import parse_settings
from counter.trade.tables import TABLES
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand
from tests.lines import spoil
from tests.often import examples
from tests.records.conftest import content

WORDS = "correct horse battery staple"


def saved(hand: ShopInHand, stick: Path) -> Path:
    return Path(hand.shop.copies.back_up(stick).path)


def with_settings(hand: ShopInHand, text: str) -> Shop:
    folder = hand.shop.desk.folder
    assert folder is not None
    (folder / "shop.toml").write_text(text, "utf-8")
    return Shop.open(folder, hand.clock)


def with_backup(hand: ShopInHand, lines: str) -> Shop:
    """The shop opened anew with a ``[backup]`` in its shop.toml."""
    return with_settings(hand, f"{SETTINGS}\n[backup]\n{lines}\n")


def test_a_restored_shop_is_the_same_byte_for_byte(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "shop"
    (folder / "logo.png").write_bytes(bytes(range(256)) * 5000)
    (folder / "labels").mkdir()
    (folder / "labels" / "26328-01.pdf").write_bytes(b"%PDF")
    (folder / "notes ümlaut.txt").write_text("", "utf-8")
    made = restore(saved(hand, stick), tmp_path / "back", clock=hand.clock)
    assert content(tmp_path / "back") == content(folder)
    assert made.checked.sound
    assert made.said == "It is of 2026-11-26, today; what was sold since is not in it."
    again = Shop.open(tmp_path / "back", hand.clock)
    assert again.closings.trace("26328-01") == hand.shop.closings.trace("26328-01")


def test_the_same_folder_gives_the_same_bytes(hand: ShopInHand, stick: Path) -> None:
    first = saved(hand, stick).read_bytes()
    hand.clock.forward(minutes=5)
    assert saved(hand, stick).read_bytes() == first
    assert [p.suffix for p in stick.iterdir()] == [".zip"]


def test_the_manifest_names_every_member_and_the_seal_of_the_books(
    hand: ShopInHand, stick: Path
) -> None:
    path = saved(hand, stick)
    manifest = verify_copy(path)
    with zipfile.ZipFile(path) as archive:
        members = {info.filename: archive.read(info) for info in archive.infolist()}
    members.pop(MANIFEST)
    assert list(manifest.files) == list(members)
    assert manifest.size == sum(map(len, members.values()))
    assert (manifest.n, manifest.link) == hand.shop.desk.books.end()
    assert manifest.damaged == ()
    page = members[PAGE].decode()
    assert f"Last line: {manifest.n}\n{manifest.link}\n" in page
    sealed = hand.shop.desk.books.head("closings")[1]  # as on the paper of that closing
    told = " ".join(sealed[i : i + 4] for i in range(0, 64, 4))
    assert f"Seal of the last closing: 2026-11-25\n{told}\n" in page
    assert "Millrace Tofu Works: a copy of the shop as it was on 2026-11-26" in page


def test_the_page_in_a_copy_speaks_the_shops_language_too(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    shop = with_settings(hand, SETTINGS.replace('language = "en_US"', 'language = "es_US"'))
    with zipfile.ZipFile(shop.copies.back_up(stick).path) as archive:
        page = archive.read(PAGE).decode()
    assert "a copy of the shop as it was on 2026-11-26" in page
    assert "una copia de la tienda tal como estaba el 2026-11-26" in page


# -- the lines as text


def texts_of(path: Path) -> dict[str, list[bytes]]:
    with zipfile.ZipFile(path) as archive:
        names = [name for name in archive.namelist() if name.startswith(TEXTS)]
        return {name: archive.read(name).splitlines(keepends=True) for name in names}


def test_every_line_stands_in_a_copy_as_text_and_proves_itself_without_this_program(
    hand: ShopInHand, stick: Path
) -> None:
    """As READ ME.txt tells it, with nothing but JSON and SHA-256."""
    texts = texts_of(saved(hand, stick))
    assert sorted(texts) == [
        "books/2026/2026-11-24.txt", "books/2026/2026-11-25.txt", "books/catalogue.txt",
        "books/closings.txt",
    ]  # fmt: skip
    lines = sorted((json.loads(line)["n"], line) for each in texts.values() for line in each)
    link = "0" * 64
    for _, text in lines:
        bare = text.rstrip(b"\n")
        body = bare[: bare.rindex(b',"link":"')] + b"}"
        link = hashlib.sha256(link.encode() + body).hexdigest()
        assert json.loads(bare)["link"] == link
    assert (lines[-1][0], link) == hand.shop.desk.books.end()


def test_a_shop_is_rebuilt_from_its_lines_alone(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    texts = [line for each in texts_of(saved(hand, stick)).values() for line in each]
    place = tmp_path / "alone"
    place.mkdir()
    lines = sorted(map(from_text, texts), key=lambda line: -len(line.book))
    end = build(place, lines, TABLES, found_by)
    assert end == hand.shop.desk.books.end()
    (place / "shop.toml").write_text(SETTINGS, "utf-8")
    again = Shop.open(place, hand.clock)
    assert again.audit.check().findings == ()
    assert again.closings.trace("26328-01") == hand.shop.closings.trace("26328-01")
    asked = "SELECT name, n FROM names ORDER BY name, n"
    assert again.desk.books.engine.rows(asked) == hand.shop.desk.books.engine.rows(asked)


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda lines: lines[:5] + lines[6:],  # one is missing
        lambda lines: [*lines, lines[3]],  # one stands twice
        lambda lines: [lines[0].replace(b"2026", b"2025"), *lines[1:]],  # one was changed
        lambda lines: [*lines, b"what is this?\n"],
        lambda lines: lines[1:],
    ],
)
def test_lines_that_are_not_all_whole_make_no_database(
    hand: ShopInHand, stick: Path, tmp_path: Path, spoilt: Callable[[list[bytes]], list[bytes]]
) -> None:
    texts = [line for each in texts_of(saved(hand, stick)).values() for line in each]
    with pytest.raises(
        BooksError, match=r"Cannot build up the books in .*: not all of their lines"
    ):
        build(tmp_path, map(from_text, spoilt(texts)), TABLES, found_by)
    assert not list(tmp_path.glob("books.*"))


def test_a_copy_whose_database_is_unusable_comes_back_by_its_lines(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    hand.shop.desk.books.close()
    with closing(sqlite3.connect(tmp_path / "shop" / FILE)) as con:
        con.execute("DELETE FROM names WHERE n < 9")
        [(page,)] = con.execute("SELECT rootpage FROM sqlite_master WHERE name = 'begun'")
        size = con.execute("PRAGMA page_size").fetchone()[0]
        con.commit()
        con.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with (tmp_path / "shop" / FILE).open("r+b") as file:  # an index that is noise
        file.seek((page - 1) * size)
        file.write(b"\x17" * size)
    made = Shop.open(tmp_path / "shop", hand.clock).copies.back_up(stick)
    assert made.damaged == (FILE,)
    back = restore(Path(made.path), tmp_path / "back", clock=hand.clock)
    assert back.checked.findings == ()
    assert Shop.open(tmp_path / "back", hand.clock).closings.trace("26328-01").sales


def only_texts(archive: Path, to: Path) -> Path:
    """What is left of a copy where nothing but its lines and its settings can be read."""
    with zipfile.ZipFile(archive) as opened:
        for name in opened.namelist():
            if name.startswith(TEXTS) or name.endswith("/shop.toml"):
                opened.extract(name, to)
    return to


def test_a_shop_is_put_back_from_the_lines_of_text_alone_and_sells_on(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    archive = saved(hand, stick)
    broken = tmp_path / "broken.zip"
    broken.write_bytes(archive.read_bytes()[:-3] + b"000")  # cut, rotten: its digest fits no more
    with pytest.raises(BadArchive):
        restore(broken, tmp_path / "back")
    texts = only_texts(archive, tmp_path / "texts")
    hand.shop.copies.seal_copies(WORDS)
    sealed = saved(hand, stick)
    with pytest.raises(SealedCopy):
        restore(sealed, tmp_path / "back", lines=True)
    for number, source in enumerate((broken, texts, sealed)):
        made = restore(
            source, tmp_path / f"{number}", None, WORDS, clock=hand.clock, lines=source != texts
        )
        n, _ = hand.shop.desk.books.end()
        assert made.checked.findings == ()
        assert made.built == n
        assert f"built up from {n} lines of text: compare the seal of the last closing" in made.said
        again = Shop.open(tmp_path / f"{number}", hand.clock)
        assert again.desk.books.end() == hand.shop.desk.books.end()
        assert again.closings.trace("26328-01") == hand.shop.closings.trace("26328-01")
        assert again.desk.books.engine.file is not None
        assert again.desk.books.engine.file.stat().st_mode & 0o777 == 0o600
        assert (tmp_path / f"{number}" / RESTORED).read_text("utf-8")[:10] == "2026-11-25"
        again.desk.questions.given = {"restored": "none"}
        again.evening.move_cash("float", 15000)
        assert again.audit.check().findings == ()


@pytest.mark.parametrize(
    ("spoil_it", "why"),
    [
        (lambda texts: (texts / "books" / "catalogue.txt").unlink(), "not all of their lines are"),
        (lambda texts: shutil.rmtree(texts / "books"), "there are no lines of a shop's books in"),
        (lambda texts: (texts / "shop" / "shop.toml").unlink(), "shop.toml is missing in it"),
    ],
)
def test_lines_of_text_that_are_not_all_there_make_no_shop(
    hand: ShopInHand, stick: Path, tmp_path: Path, spoil_it: Callable[[Path], None], why: str
) -> None:
    texts = only_texts(saved(hand, stick), tmp_path / "texts")
    spoil_it(texts)
    before = sorted(tmp_path.iterdir())
    with pytest.raises(CounterError, match=why):
        restore(texts, tmp_path / "back", lines=True)
    assert sorted(tmp_path.iterdir()) == before


def test_lines_that_end_before_the_last_one_of_their_list_make_no_shop(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    """The end of a chain is missed by no link: what names it is the list of the copy."""
    archive = saved(hand, stick)
    texts = only_texts(archive, tmp_path / "texts")
    with zipfile.ZipFile(archive) as opened:
        opened.extract("manifest.json", texts)
    n, _ = hand.shop.desk.books.end()
    last = max(texts_of(archive).items(), key=lambda one: json.loads(one[1][-1])["n"])[0]
    kept_lines = (texts / last).read_bytes().splitlines(keepends=True)
    (texts / last).write_bytes(b"".join(kept_lines[:-1]))
    why = f"its list names line {n} as the last, and its lines end with line {n - 1}"
    with pytest.raises(BooksError, match=why):
        restore(texts, tmp_path / "back")


def test_a_mark_of_a_restore_goes_along_only_until_somebody_has_answered(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    restore(saved(hand, stick), tmp_path / "back")
    shop = Shop.open(tmp_path / "back", hand.clock)

    def marked() -> bool:
        (tmp_path / "second").mkdir(exist_ok=True)
        files = verify_copy(Path(shop.copies.back_up(tmp_path / "second").path)).files
        return f"shop/{RESTORED}" in files

    assert marked()
    mark = (tmp_path / "back" / RESTORED).read_bytes()
    shop.desk.questions.given = {"restored": "none"}
    shop.evening.move_cash("float", 15000)
    (tmp_path / "back" / RESTORED).write_bytes(mark)  # which the next writing takes away
    assert not marked()


# -- cut and flipped


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, bytes, Seal]:
    """The copy of a shop just begun, open and sealed."""
    folder, out = tmp_path_factory.mktemp("small") / "shop", tmp_path_factory.mktemp("out")
    shop = make_shop(folder, SETTINGS, Clock())
    shop.desk.questions.given = {"day": "it is"}
    shop.products.load_catalogue(CATALOGUE)
    bare = Path(shop.copies.back_up(out).path).read_bytes()
    shop.copies.seal_copies(WORDS)
    sealed = Path(shop.copies.back_up(out).path).read_bytes()
    seal = kept_seal(folder)
    assert seal
    return bare, sealed, seal


STEP = 997  # bytes between two places that are spoilt


@pytest.mark.parametrize("sealed", [False, True])
def test_a_copy_cut_anywhere_is_never_restored_and_one_sentence_says_so(
    small: tuple[bytes, bytes, Seal], tmp_path: Path, sealed: bool
) -> None:
    whole, path = small[sealed], tmp_path / "a.zip"
    for size in [*range(0, len(whole), STEP), *range(len(whole) - 70, len(whole))]:
        path.write_bytes(whole[:size])
        with pytest.raises(BadArchive, match=r"^Cannot read backup .*cut off\. [A-Z].*\.$"):
            restore_shop(path, tmp_path / "back", small[2])
        assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("sealed", [False, True])
def test_a_copy_with_a_flipped_bit_is_never_restored_and_one_sentence_says_so(
    small: tuple[bytes, bytes, Seal], tmp_path: Path, sealed: bool
) -> None:
    whole, path = small[sealed], tmp_path / "a.zip"
    ends = [*range(200), *range(len(whole) - 100, len(whole))]
    for at in [*range(200, len(whole) - 100, STEP), *ends]:
        flipped = bytearray(whole)
        flipped[at] ^= 1 << at % 8
        path.write_bytes(flipped)
        with pytest.raises(
            BadArchive, match=r"^Cannot read backup [^.]*/a\.zip: [^.]+\. [A-Z].*\.$"
        ):
            restore_shop(path, tmp_path / "back", small[2])
        assert list(tmp_path.iterdir()) == [path]


@examples(40, shared=True)
@given(st.binary(max_size=300), st.data())
def test_noise_is_no_archive(
    tmp_path: Path, small: tuple[bytes, bytes, Seal], noise: bytes, data: st.DataObject
) -> None:
    small_bytes = small[0]
    at = data.draw(st.integers(0, len(small_bytes)))
    path = tmp_path / "noise.zip"
    path.write_bytes(noise)
    with pytest.raises(BadArchive):
        verify_copy(path)
    if noise:
        path.write_bytes(small_bytes[:at] + noise + small_bytes[at:])
        with pytest.raises(BadArchive):
            verify_copy(path)


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


BOOKS = INSIDE + FILE


def listed(*files: str, **other: Any) -> Manifest:
    known = {"shop": "s", "day": "2026-11-24", "n": 0, "link": "", "size": 0}
    return Manifest(**{**known, **other}, files=files)


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
    members = {BOOKS: b"", INSIDE + name: b"x"}
    path.write_bytes(forged(members, listed(BOOKS, INSIDE + name, size=1)))
    with pytest.raises(BadArchive):
        restore(path, target)
    assert {p.name for p in tmp_path.rglob("*")} <= {"a.zip", "deep"}


def test_a_zip_bomb_is_refused_before_a_byte_is_written(tmp_path: Path) -> None:
    path, name = tmp_path / "a.zip", INSIDE + "z"
    zeros = bytes(30_000_000)
    members = {BOOKS: b"", name: zeros}
    path.write_bytes(forged(members, listed(BOOKS, name, size=1000)))
    with pytest.raises(BadArchive, match="what is in it is not what its list names"):
        restore(path, tmp_path / "back")
    # One whose directory lies, too, gives no more than it says.
    lying = forged(members, listed(BOOKS, name, size=1000))[:-64]
    at = lying.rindex(b"PK\x01\x02", 0, lying.rindex(name.encode()))
    lying = lying[: at + 24] + struct.pack("<I", 1000) + lying[at + 28 :]
    path.write_bytes(lying + hashlib.sha256(lying).hexdigest().encode())
    with pytest.raises(BadArchive):
        restore(path, tmp_path / "back")
    assert list(tmp_path.iterdir()) == [path]


def test_a_copy_larger_than_the_disk_is_refused_before_a_byte_is_written(
    hand: ShopInHand, stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = saved(hand, stick)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=1000))
    with pytest.raises(DiskRefused, match=r"it needs \d+ bytes and the disk has 1000. Make room"):
        restore(path, tmp_path / "back")
    assert not (tmp_path / "back").exists()


def test_a_list_that_does_not_fit_what_is_there_is_refused(tmp_path: Path) -> None:
    path, one = tmp_path / "a.zip", {BOOKS: b"", "a": b"x"}
    cases: list[tuple[dict[str, bytes], Manifest | bytes]] = [
        (one, listed(BOOKS, size=1)),  # a file the list does not name
        ({BOOKS: b"x"}, listed(BOOKS, "a", size=1)),  # a file that is not there
        (one, listed(BOOKS, "a", size=2)),  # another size
        ({BOOKS: b""}, listed(BOOKS, format=3)),  # another format
        ({BOOKS: b""}, listed(BOOKS, BOOKS)),  # named twice
        ({"a": b"x"}, listed("a", size=1)),  # no books
        ({BOOKS: b""}, listed(BOOKS, n=7, link="7" * 64)),  # books that end elsewhere
        ({BOOKS: b"noise"}, listed(BOOKS, size=5, n=7, link="7" * 64)),
        ({BOOKS: b""}, b"{}"),
        ({BOOKS: b""}, b"\xff"),
    ]
    for members, manifest in cases:
        path.write_bytes(forged(members, manifest))
        with pytest.raises(BadArchive):
            verify_copy(path)


def test_restore_touches_no_folder_that_holds_something(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    path = saved(hand, stick)
    target = tmp_path / "back"
    target.mkdir()
    (target / "mine.txt").write_text("mine")
    with pytest.raises(BooksError, match="it is not an empty folder"):
        restore(path, target)
    assert [p.name for p in target.iterdir()] == ["mine.txt"]
    (target / "mine.txt").unlink()
    restore(path, target)
    assert content(target) == content(tmp_path / "shop")


def test_a_shop_is_not_put_back_within_the_folder_of_another(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    path, inside = saved(hand, stick), tmp_path / "shop" / "back" / "again"
    with pytest.raises(BooksError) as caught:
        restore(path, inside)
    assert str(caught.value) == (
        f"Cannot restore {path.name} into '{inside}': it lies in '{tmp_path / 'shop'}', the folder"
        " of another shop, whose copies would carry it. Name a folder beside that one."
    )
    assert not (tmp_path / "shop" / "back").exists()


def test_a_restore_says_how_old_the_copy_is_and_nobody_else_may_read_what_it_made(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    path = saved(hand, stick)
    hand.clock.forward(days=1)
    made = restore(path, tmp_path / "one", clock=hand.clock)
    assert made.said == "It is of 2026-11-26, yesterday; what was sold since is not in it."
    hand.clock.forward(days=5)
    made = restore(path, tmp_path / "six", clock=hand.clock)
    assert made.said == "It is of 2026-11-26, 6 days ago; what was sold since is not in it."
    modes = {p.name: p.stat().st_mode & 0o777 for p in (tmp_path / "six").iterdir()}
    assert (tmp_path / "six").stat().st_mode & 0o777 == 0o700
    assert {modes[FILE], modes["shop.toml"], modes[RESTORED]} == {0o600}


def test_a_damaged_shop_is_copied_and_said_to_be_damaged(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    spoil(tmp_path / "shop", "2026-11-25", "AF-47", "AF-48")
    shop = Shop.open(tmp_path / "shop", hand.clock)
    made = shop.copies.back_up(stick)
    assert made.damaged == ("2026-11-25",)
    assert not made.good
    told = "It holds what is damaged in the shop: 2026-11-25. Run `counter check`."
    assert told in made.said
    back = restore(Path(made.path), tmp_path / "back")
    assert content(tmp_path / "back") == content(tmp_path / "shop")
    assert [(f.book, f.line) for f in back.checked.findings][:1] == [("2026-11-25", 1)]


def test_labels_and_reports_stay_out_where_the_owner_says_so(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    (tmp_path / "shop" / "labels").mkdir()
    (tmp_path / "shop" / "labels" / "a.pdf").write_bytes(b"x")
    shop = with_backup(hand, "papers = false")
    names = set(verify_copy(Path(shop.copies.back_up(stick).path)).files)
    assert not [name for name in names if name.startswith(("shop/labels", "shop/reports"))]
    assert "shop/shop.toml" in names


def test_a_copy_carries_no_key_of_this_computer_and_nothing_of_the_open_database(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "shop"
    open_secret(folder)
    set_pin(hand.shop.desk, "rosa", "2580")
    hand.shop.copies.seal_copies(WORDS)
    hand.shop.evening.move_cash("float", 15000)  # a log, and the witness of it
    there = {p.name for p in folder.iterdir()}
    assert {".secret", ".pin-key", ".copy-key", "books.last"} <= there
    assert all((folder / n).stat().st_mode & 0o777 == 0o600 for n in there if n.startswith("."))
    hand.shop.copies.leave_copies_open()
    names = set(verify_copy(saved(hand, stick)).files)
    top = {name for name in names if name.startswith("shop/") and name.count("/") == 1}
    assert top == {"shop/books.sqlite", "shop/shop.toml"}
    whole = b"".join(zipfile.ZipFile(saved(hand, stick)).read(name) for name in names)
    for key in (".secret", ".pin-key"):
        secret = (folder / key).read_bytes()
        assert secret not in whole
        assert secret.hex().encode() not in whole


# -- the stick


def test_the_closing_makes_a_copy_where_shop_toml_names_a_folder(
    hand: ShopInHand, stick: Path
) -> None:
    shop = with_backup(hand, f"folder = '{stick}'")
    shop.evening.move_cash("float", 15000)
    closing = shop.evening.close_day()
    copy = shop.copies.back_up_after_closing(closing.day)
    assert copy is not None
    (archive,) = stick.glob("*.zip")
    assert archive.name.endswith("-2026-11-26.zip")
    assert copy.said.startswith(f"Backup written and read back: {archive}, ")
    assert copy.good
    assert verify_copy(archive).link == shop.desk.books.end()[1]
    assert shop.desk.books.link_at("2026-11-26", closing.book_lines) == closing.book_link


def test_without_a_folder_in_shop_toml_a_closing_makes_no_copy(hand: ShopInHand) -> None:
    assert hand.shop.copies.back_up_after_closing(date(2026, 11, 25)) is None
    with pytest.raises(Refused, match="Name one with --to DIR"):
        hand.shop.copies.back_up()


def test_a_missing_stick_does_not_undo_the_closing(hand: ShopInHand, tmp_path: Path) -> None:
    shop = with_backup(hand, f"folder = '{tmp_path / 'gone'}'")
    shop.evening.move_cash("float", 15000)
    closing = shop.evening.close_day()
    copy = shop.copies.back_up_after_closing(closing.day)
    assert copy is not None
    assert not copy.good
    assert copy.said == (
        f"The day is closed, but no backup was made. Cannot back up into '{tmp_path / 'gone'}':"
        " there is no such folder. Put the stick in, or name another folder; then run"
        " `counter backup`."
    )
    assert shop.desk.sealed_until() == closing.day
    assert not (tmp_path / "gone").exists()


def test_a_folder_of_the_shops_own_is_made_and_never_copied_into_itself(hand: ShopInHand) -> None:
    shop = with_backup(hand, "folder = 'backups'")
    sizes = [shop.copies.back_up().files for _ in range(3)]
    assert len(set(sizes)) == 1


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS])
def test_a_stick_that_fails_leaves_the_older_copy_as_it_was(
    hand: ShopInHand, stick: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    older = saved(hand, stick)
    before = older.read_bytes()
    hand.shop.evening.move_cash("float", 15000)

    def fails(fd: int) -> None:
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr("counter.books.copies.os.fsync", fails)
        with pytest.raises(DiskRefused):
            saved(hand, stick)
    assert [p.name for p in stick.iterdir()] == [older.name]
    assert older.read_bytes() == before
    saved(hand, stick)
    assert older.read_bytes() != before


def test_a_copy_that_cannot_be_read_back_is_not_called_one(
    hand: ShopInHand, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def rotten(path: Path, *given: object) -> Manifest:
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 1
        path.write_bytes(data)
        return verify_copy(path)

    with monkeypatch.context() as patch:
        patch.setattr("counter.books.copies.verify_copy", rotten)
        with pytest.raises(BadArchive):
            saved(hand, stick)
    assert not list(stick.iterdir())


def test_an_older_shop_does_not_wipe_out_a_newer_copy(
    hand: ShopInHand, stick: Path, tmp_path: Path
) -> None:
    old = saved(hand, tmp_path)
    restore(old, tmp_path / "back")
    hand.shop.evening.move_cash("float", 15000)
    newer = saved(hand, stick)
    before = newer.read_bytes()
    back = Shop.open(tmp_path / "back", hand.clock)
    second = Path(back.copies.back_up(stick).path)
    assert second.name == newer.name.replace(".zip", "-2.zip")
    assert newer.read_bytes() == before


def test_progress_is_told_in_bytes_and_ends_at_the_end(hand: ShopInHand, stick: Path) -> None:
    told: list[tuple[int, int]] = []
    hand.shop.copies.back_up(stick, progress=lambda done, whole: told.append((done, whole)))
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
        shop.copies.back_up_after_closing(shop.desk.today())
        hand.clock.forward(days=1)
    assert [p.name[-14:-4] for p in sorted(stick.glob("*.zip"))] == ["2026-11-28", "2026-11-29"]


def test_a_rule_that_keeps_nothing_is_no_rule() -> None:
    with pytest.raises(BadInput, match=r"'backup.keep_days' \(line"):
        parse_settings(f"{SETTINGS}\n[backup]\nkeep_days = 0\n")
