"""The copies of a shop: listed, read back, and made while the counter goes on selling."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from counter.books.archived import verify_archive
from counter.errors import BadArchive, DiskRefused, NotFound, Refused
from counter.shop import Shop, make_shop, restore
from tests.conftest import CATALOGUE, SETTINGS, ShopInHand


def with_copies_in(hand: ShopInHand, folder: str) -> Shop:
    place = hand.shop.folder
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
    assert kept.copies() == []
    first = Path(kept.back_up().path)
    folder_shop.clock.forward(days=1)
    second = Path(kept.back_up().path)
    os.utime(first, (1_700_000_000, 1_700_000_000))
    neighbour = make_shop(tmp_path / "other", SETTINGS, folder_shop.clock)
    neighbour.load_catalogue(CATALOGUE.replace("8.90", "9.10"))
    other = Path(neighbour.back_up(tmp_path / "stick").path)
    (tmp_path / "stick" / "holiday.zip").write_bytes(b"x")
    assert other.parent == first.parent
    assert [(c.name, c.size) for c in kept.copies()] == [
        (second.name, second.stat().st_size), (first.name, first.stat().st_size),
    ]  # fmt: skip
    assert [c.name for c in neighbour.copies(tmp_path / "stick")] == [other.name]


def test_a_stick_that_is_not_in_is_said_and_no_folder_is_too(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    (tmp_path / "stick").rmdir()
    with pytest.raises(DiskRefused) as refusal:
        kept.copies()
    assert str(refusal.value) == (
        f"Cannot look at the copies: {tmp_path / 'stick'} cannot be read (no such file or "
        "directory). Put the stick in, or name another folder."
    )
    with pytest.raises(Refused, match="no folder is named for them"):
        folder_shop.shop.copies()


def test_a_folder_of_the_shops_own_that_is_not_made_yet_holds_none(
    folder_shop: ShopInHand,
) -> None:
    assert with_copies_in(folder_shop, "backups").copies() == []


def test_a_copy_is_read_back_and_one_with_a_changed_byte_is_found(kept: Shop) -> None:
    path = Path(kept.back_up().path)
    told: list[tuple[int, int]] = []
    found = kept.prove_copy(path.name, lambda done, whole: told.append((done, whole)))
    assert told[-1][0] == told[-1][1] == found.size
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)
    with pytest.raises(BadArchive):
        kept.prove_copy(path.name)


@pytest.mark.parametrize("name", ["", "../shop.toml", "holiday.zip", "/etc/passwd", "shop.toml"])
def test_only_a_copy_of_the_list_is_read_back(kept: Shop, name: str) -> None:
    kept.back_up()
    with pytest.raises(NotFound, match=r"Cannot read a copy back: there is no copy"):
        kept.prove_copy(name)


def test_the_counter_sells_while_a_copy_is_made_and_the_copy_is_whole(
    kept: Shop, folder_shop: ShopInHand, tmp_path: Path
) -> None:
    folder = kept.folder
    assert folder is not None
    (folder / "reports").mkdir()
    (folder / "reports" / "old.pdf").write_bytes(b"thrown away meanwhile")
    sold: list[str] = []

    def meanwhile(_done: int, _whole: int) -> None:
        if not sold:  # another opened shop, as the server beside the command line
            sold.append(folder_shop.sell("firm-block").number)
            (folder / "reports" / "old.pdf").unlink()
            (folder / "shop.toml").write_text(SETTINGS + "\n# longer than it was\n", "utf-8")

    saved = kept.back_up(progress=meanwhile)
    assert sold == ["2026-11-24/0001"]
    books = {b.book: b.n for b in verify_archive(Path(saved.path)).books}
    assert kept.books.day(kept.today()).last_n == books["2026-11-24"] + 1
    made = restore(Path(saved.path), tmp_path / "back")
    assert made.checked.findings == ()
    back = Shop.open(tmp_path / "back", folder_shop.clock)
    assert back.ledger().rows["26328-01"].on_hand == 48
    assert (tmp_path / "back" / "shop.toml").read_text("utf-8").endswith("# longer than it was\n")
