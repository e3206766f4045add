"""Modules as wide as the standard aims at where there is room, sturdy where there is less, and
never narrower without a word."""

from __future__ import annotations

import pytest
from hypothesis import assume, given

from labels import Blank, Facts, Label, explain, lay_out
from labels.blanks import BLANKS
from labels.errors import DoesNotFit
from labels.sizes import STURDY_DOTS, module_dots, narrowed
from labels.symbols import Symbol, gs1_128, lot_symbol, qr
from tests.labels.shop import BLANKS as RANDOM_BLANKS
from tests.labels.shop import FOODS, SYMBOLS, firm_tofu, rectangle
from tests.often import examples

LINK = qr("https://id.gs1.org/01/09521234000013/10/26328-01?15=261130")
LONG = gs1_128([("01", "09521234000013"), ("15", "261130"), ("10", "26328-01")])
LEFT_OUT = "full-module-width"


def food(symbol: Symbol, blank: Blank) -> Facts:
    return firm_tofu(symbols=(symbol,), panel=rectangle(blank.width, blank.height))


def dots_and_reason(label: Label) -> tuple[int, str]:
    (placed,) = label.symbols
    said = [s.why_absent for s in label.statements if s.key == LEFT_OUT]
    assert len(said) <= 1
    return placed.dots, "".join(said)


@pytest.mark.parametrize("symbol", [*SYMBOLS, LONG], ids=lambda symbol: symbol.kind)
@pytest.mark.parametrize("dpi", [203, 300, 600])
@pytest.mark.parametrize("market", ["us", "eu"])
def test_with_room_a_module_is_as_wide_as_the_standard_aims_at(
    symbol: Symbol, dpi: int, market: str
) -> None:
    blank = Blank(name="large", width=190, height=120, dpi=dpi)
    label = lay_out(food(symbol, blank), market=market, blank=blank)
    assert dots_and_reason(label) == (module_dots(symbol, dpi), "")


@pytest.mark.parametrize(
    ("symbol", "size", "dots", "cost"),
    [
        (
            LINK,
            (62, 84),
            4,
            "the modules of qr are 4 dots (0.500 mm) wide and 5 (0.625 mm) are aimed at; given up: "
            "a scanner must be held nearer",
        ),
        (
            lot_symbol("26328-01"),
            (48, 100),
            2,
            "the modules of code128 are 2 dots (0.250 mm) wide and 3 (0.375 mm) are aimed at; given "
            "up: a scanner must be held nearer, and a tired printer's may need a second try",
        ),
    ],
)
def test_where_room_lacks_it_is_narrower_and_the_label_says_what_that_costs(
    symbol: Symbol, size: tuple[float, float], dots: int, cost: str
) -> None:
    blank = Blank(name="small", width=size[0], height=size[1], dpi=203)
    label = lay_out(food(symbol, blank), market="us", blank=blank)
    assert dots_and_reason(label) == (dots, cost)
    assert [row.why_absent for row in explain(food(symbol, blank), "us", blank)][-1] == cost


@examples(25)
@given(facts=FOODS, blank=RANDOM_BLANKS)
def test_a_label_says_of_every_symbol_what_was_given_up(facts: Facts, blank: Blank) -> None:
    try:
        label = lay_out(facts, market="eu", blank=blank)
    except DoesNotFit:
        assume(False)
    told = [s.why_absent for s in label.statements if s.key == LEFT_OUT]
    assert told == [why for s in label.symbols if (why := narrowed(s.symbol, s.dots, blank.dpi))]
    for placed in label.symbols:
        least = module_dots(placed.symbol, blank.dpi, smallest=True)
        assert least <= placed.dots <= module_dots(placed.symbol, blank.dpi)


def test_larger_type_is_not_bought_with_dots_that_a_tired_printer_needs() -> None:
    for blank in BLANKS.values():
        try:
            label = lay_out(food(LINK, blank), market="eu", blank=blank)
        except DoesNotFit:
            continue
        (placed,) = label.symbols
        if blank.width >= 60 and blank.height >= 60:
            assert placed.dots >= STURDY_DOTS
