"""Bars lower than the standard asks: only where the shop says so, no lower than is needed, and
the label says what it gives up."""

from __future__ import annotations

from pathlib import Path

import pytest

from labels import Blank, Facts, explain, lay_out, write_pdf
from labels.errors import DoesNotFit
from labels.sizes import LOWEST_BARS_MM, bar_heights_mm
from labels.symbols import Symbol, code128, ean8, ean13, gs1_128, upca
from tests.labels.shop import firm_tofu, rectangle, texts_on

MM = 72 / 25.4
ITEM = ean13("9521234000013")


def food(symbol: Symbol, low: bool) -> Facts:
    return firm_tofu(
        symbols=(symbol,), low_bars=low, panel=rectangle(60, 40), second_name="",
        second_language="",
    )  # fmt: skip


def height(facts: Facts, blank: Blank) -> float:
    (placed,) = lay_out(facts, market="us", blank=blank).symbols
    return placed.height / MM


def of_height(width: float, height: float) -> Blank:
    return Blank(name=f"{width} x {height}", width=width, height=height, dpi=300)


def fits(facts: Facts, blank: Blank) -> bool:
    try:
        lay_out(facts, market="us", blank=blank)
    except DoesNotFit:
        return False
    return True


def least_height(facts: Facts, width: float) -> int:
    """The lowest blank of a width, in whole millimetres, that holds the label."""
    low, high = 10, 100
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(facts, of_height(width, middle)) else (middle, high)
    return high


CASES = [
    (ITEM, 45, "a fixed scanner no longer reads it from any direction, and turns it away"),
    (ean8("95012346"), 45, "a fixed scanner no longer reads it from any direction"),
    (upca("036000291452"), 45, "a fixed scanner no longer reads it from any direction"),
    (code128("MIXED-CRATE-2026-11-24-A"), 90, "a hand held scanner must be held straighter"),
    (gs1_128([("01", "09521234000013"), ("15", "261130")]), 125, "a scanner on a conveyor or at a"),
]


@pytest.mark.parametrize(("symbol", "width", "cost"), CASES, ids=lambda v: getattr(v, "kind", ""))
def test_bars_are_cut_only_on_demand_and_the_label_says_the_price(
    symbol: Symbol, width: float, cost: str, tmp_path: Path
) -> None:
    short = of_height(width, least_height(food(symbol, False), width) - 2)
    with pytest.raises(DoesNotFit):
        lay_out(food(symbol, False), market="us", blank=short)
    label = lay_out(food(symbol, True), market="us", blank=short)
    (placed,) = label.symbols
    module = placed.dots * 25.4 / 300
    least, _ = bar_heights_mm(symbol, module)
    assert LOWEST_BARS_MM - 0.01 <= placed.height / MM < least
    told = {row.key: row for row in explain(food(symbol, True), "us", short)}["full-bar-height"]
    assert told.why_absent.startswith(
        f"the bars of {symbol.kind} are {placed.height / MM:.1f} mm high and {least:g} mm are"
    )
    assert f"given up: {cost}" in told.why_absent
    path = tmp_path / "low.pdf"
    write_pdf(path, [(label, 1)])
    assert texts_on(path, 300) == [symbol.data]


@pytest.mark.parametrize("low", [False, True])
def test_bars_that_have_room_stay_as_high_as_they_should(low: bool) -> None:
    roomy = of_height(100, 80)
    label = lay_out(food(ITEM, low), market="us", blank=roomy)
    assert label.symbols[0].height / MM >= 18.28 - 0.01
    assert all(s.key != "full-bar-height" for s in label.statements)
    assert label == lay_out(food(ITEM, False), market="us", blank=roomy)


def test_no_more_is_cut_than_is_needed() -> None:
    full = least_height(food(ITEM, False), 45)
    heights = [height(food(ITEM, True), of_height(45, full - cut)) for cut in (0, 1, 4, 8, 12)]
    assert heights == sorted(heights, reverse=True)
    assert heights[0] >= 18.28 - 0.01
    assert 15 <= heights[1] < 18.28
    assert heights[-1] < 7.5


def test_below_five_millimetres_no_bar_is_drawn() -> None:
    least = least_height(food(ITEM, True), 45)
    assert 5 - 0.01 <= height(food(ITEM, True), of_height(45, least)) < 7.5
    with pytest.raises(DoesNotFit):
        lay_out(food(ITEM, True), market="us", blank=of_height(45, least - 1))
