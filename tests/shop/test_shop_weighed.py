"""Packs weighed one by one: what each costs, the page that comes out, how far the printing is."""

from __future__ import annotations

import io
from decimal import Decimal
from pathlib import Path

import pdfplumber
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import NotSafe, Refused
from counter.shop import Shop
from counter.trade.picking import weighed
from counter.trade.settings import parse_settings
from labels.picture import render
from labels.scan import parse_scan
from labels.units import Measure
from tests.conftest import CATALOGUE, SETTINGS, Clock, Maker, ShopInHand

LOT = "26328-01"
SHEET = "sheet-letter-2x4-101.6x63.5"  # too small for two languages and two symbols


def pounds(*texts: str) -> list[Measure]:
    return [Measure(Decimal(text), "lb") for text in texts]


@pytest.fixture
def pressed(make: Maker) -> Shop:
    hand = make(catalogue=CATALOGUE.replace('second_name = "Tofu prensado"\n', ""))
    hand.batch("pressed", 4000)
    return hand.shop


def numbers_in(data: bytes) -> list[str]:
    with pdfplumber.open(io.BytesIO(data)) as found:
        pages = len(found.pages)
    read = [zxingcpp.read_barcodes(render(data, 300, page=n).convert("L")) for n in range(pages)]
    codes = [code.text for page in read for code in page]
    return [text[-12:] for text in codes if text.isdigit()]


def test_each_pack_costs_what_its_label_says_and_its_number_carries(pressed: Shop) -> None:
    # 0.42 lb at 8.90 a pound are 3.738, half up 3.74
    found = pressed.labels.weigh_packs(LOT, pounds("0.42", "1"))
    assert [(str(p.weight), p.price, p.number[7:11]) for p in found] == [
        ("0.42 lb", 374, "0374"), ("1 lb", 890, "0890"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("ai", "amount", "places", "price"),
    [
        # GS1 General Specifications 3.6.6: the last digit of (392n) says its decimals
        ("3922", "374", 2, 374), ("3921", "37", 2, 370), ("3923", "3744", 2, 374),
        ("3923", "3745", 2, 375), ("3922", "350", 0, 4),
    ],
)  # fmt: skip
def test_a_price_in_a_number_is_half_up_in_the_money_of_the_shop(
    pressed: Shop, ai: str, amount: str, places: int, price: int
) -> None:
    scan = parse_scan(f"(01)09521234000013(3103)000191({ai}){amount}")
    portion = next(p for p in pressed.desk.catalogue.portions_of("pressed") if p.per)
    assert weighed(scan, portion, places) == (Measure(Decimal(191), "g"), price)


def test_what_may_not_be_sold_or_is_not_sold_by_weight_has_no_price(hand: ShopInHand) -> None:
    hand.batch("pressed", 4000, boiled_minutes=None)
    with pytest.raises(NotSafe, match="no cook is recorded"):
        hand.shop.labels.weigh_packs(LOT, pounds("0.4"))
    firm = hand.batch("firm")
    assert (
        hand.shop.labels.by_weight(hand.shop.desk.batch(LOT)),
        hand.shop.labels.by_weight(firm),
    ) == ("lb", "")
    with pytest.raises(Refused, match="it is not sold by weight"):
        hand.shop.labels.weigh_packs(firm.lot, pounds("0.4"))


@pytest.mark.parametrize(
    ("page", "first", "last"), [(1, 0, 4), (2, 4, 12), (3, 12, 14), (9, 12, 14)]
)
def test_a_page_of_the_preview_holds_the_packs_that_are_printed_on_it(
    pressed: Shop, tmp_path: Path, page: int, first: int, last: int
) -> None:
    weights = pounds(*(f"0.{40 + n}" for n in range(14)))
    built, pages = pressed.labels.preview_weighed(
        LOT, weights, SHEET, start=3, used=(4, 7), page=page
    )
    assert (pages, built.pages) == (3, 1)
    packs = pressed.labels.weigh_packs(LOT, weights)
    assert sorted(numbers_in(built.data)) == sorted(p.number for p in packs[first:last])


def test_the_pages_of_the_preview_together_are_the_file_that_is_printed(
    folder_shop: ShopInHand, tmp_path: Path
) -> None:
    folder_shop.batch("pressed", 4000)
    shop, weights = folder_shop.shop, pounds("0.40", "0.41", "0.42")
    run = shop.labels.print_labels([(LOT, None)], tmp_path / "all.pdf", weights=weights)
    printed = (tmp_path / "all.pdf").read_bytes()
    assert run.pages == 3
    for n in (1, 2, 3):
        built, pages = shop.labels.preview_weighed(LOT, weights, page=n)
        assert pages == 3
        assert render(built.data, 203).tobytes() == render(printed, 203, page=n - 1).tobytes()


def test_printing_tells_how_far_it_has_come(pressed: Shop, tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    weights = pounds("0.40", "0.41", "0.42", "0.40")
    pressed.labels.print_labels([(LOT, None)], tmp_path / "w.pdf", weights=weights,
                         progress=lambda done, whole: told.append((done, whole)))  # fmt: skip
    assert [done for done, _ in told] == [1, 2, 3]
    assert all(done < whole for done, whole in told)


SHOP = Shop.memory(parse_settings(SETTINGS), Clock())
SHOP.products.load_catalogue(CATALOGUE)
ShopInHand(SHOP, Clock()).batch("pressed", 4000)


@given(st.lists(st.integers(1, 999), min_size=1, max_size=30))
def test_the_sum_of_the_packs_is_what_the_counter_would_take_for_them(
    hundredths: list[int],
) -> None:
    weights = [Measure(Decimal(n) / 100, "lb") for n in hundredths]
    packs = SHOP.labels.weigh_packs(LOT, weights)
    assert [p.weight for p in packs] == weights
    assert [p.price for p in packs] == [(2 * n * 890 + 100) // 200 for n in hundredths]
