"""How much a printer and a hand may spoil before a symbol is no longer read.

Each symbol is printed with bars half a dot too wide or too narrow, one dot in fifty black on white
or white on black, tilted by two degrees, and seen through the spot of a hand scanner (0.15 mm, for
GS1-128 0.25 mm) at 16 pixels a millimetre. Bars are 5 mm high for the own lot code, 14 mm for EAN
and UPC, 20 mm for GS1-128.

Measured at target and at least module width, first look: of 288 pictures at 300 dpi ZXing read 287,
ZBar 275, one of them 287; of 252 at 600 dpi 252, 243, 252; of 288 at 203 dpi 264, 232, 287 (a QR
symbol with too narrow modules is the one that fails). None was read as something else. Beyond that:

- Bars too wide by a third of a module (one dot at 203 dpi, two at 600): ZBar still read all of 330
  EAN and UPC; ZXing hardly any at 203 dpi, and at 600 dpi it saw a wrong number in 7 of 90. Digits
  1 and 7, and 2 and 8, differ by the widths of their bars alone, and the check digit does not catch
  every pair of such mistakes. With its search in a reduced picture, ZXing saw wrong ones with half
  a dot at 203 dpi already, about 1 in 300. A printer that prints so fat wants its heat turned down,
  and a scan that names no item of the shop wants a second scan, never a guess.
- Specks in one dot of twenty: half of the EAN-13 and UPC-A at 203 dpi are lost at the first look,
  GS1-128 to ZBar altogether. In one of ten: at 203 dpi everything.
- Without the spot of a scanner (0.02 mm) a speck cuts every scan line of a long symbol: no GS1-128
  is read at 203 and 300 dpi with specks in one dot of fifty.
"""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from labels.symbols import (
    Symbol,
    ean8,
    ean13,
    gs1_128,
    lot_symbol,
    module_dots,
    qr,
    upca,
    with_check_digit,
)
from tests.codes.drawing import draw, print_and_scan, read_zbar, read_zxing


def _digits(chance: random.Random, count: int, first: str = "") -> str:
    return with_check_digit(first + "".join(chance.choices("0123456789", k=count - len(first))))


def _lot(chance: random.Random) -> str:
    return f"26{chance.randint(1, 365):03}-{chance.randint(1, 99):02}"


MAKERS: dict[str, Callable[[random.Random], Symbol]] = {
    "code128": lambda chance: lot_symbol(_lot(chance)),
    "ean-13": lambda chance: ean13(_digits(chance, 12)),
    "ean-8": lambda chance: ean8(_digits(chance, 7)),
    "upc-a": lambda chance: upca(_digits(chance, 11)),
    "gs1-128": lambda chance: gs1_128(
        [("01", _digits(chance, 13, "0952")), ("15", "261129"), ("10", _lot(chance))]
    ),
    "qr": lambda chance: qr(
        f"https://id.gs1.org/01/{_digits(chance, 13, '0952')}/10/{_lot(chance)}"
    ),
}
HEIGHT_MM = {"code128": 5, "ean-13": 14, "ean-8": 14, "upc-a": 14, "gs1-128": 20, "qr": 0}


def looks(
    kind: str, dpi: int, gain: float, *, seed: int, smallest: bool = True
) -> tuple[str, list[str], list[str]]:
    """What went in, and what each reader sees of one spoiled print of it."""
    chance = random.Random(f"{kind} {dpi} {gain} {seed}")
    symbol = MAKERS[kind](chance)
    dots = module_dots(symbol, dpi, smallest=smallest)
    clean = draw(symbol, dpi, dots=dots, height=round(HEIGHT_MM[kind] * dpi / 25.4))
    picture = print_and_scan(
        clean,
        dpi,
        gain=gain,
        specks=0.02,
        tilt=chance.choice((-2, 2)),
        aperture_mm=0.25 if kind == "gs1-128" else 0.15,
        seed=seed,
    )
    says = "0" + symbol.data if kind == "upc-a" else symbol.data
    return says, [read.text for read in read_zxing(picture, kind)], read_zbar(picture, kind)


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize("dpi", [300, 600])
@pytest.mark.parametrize("gain", [-0.5, 0.5])
def test_a_tired_printer_is_read_within_three_looks_and_never_wrong(
    kind: str, dpi: int, gain: float
) -> None:
    prints = 1 if kind == "gs1-128" and dpi == 600 else 3
    for number in range(prints):
        for look in range(3):
            says, zxing, zbar = looks(kind, dpi, gain, seed=number * 3 + look)
            assert set(zxing) | set(zbar) <= {says}
            if zxing or zbar:
                break
        else:
            pytest.fail(f"no reader saw {says}")


@pytest.mark.parametrize("kind", MAKERS)
def test_at_203_dpi_a_speckled_and_tilted_print_with_true_bars_is_read(kind: str) -> None:
    for number in range(3):
        says, zxing, zbar = looks(kind, 203, 0, seed=number)
        assert set(zxing) | set(zbar) == {says}


@pytest.mark.parametrize("gain", [-0.5, 0.5])
def test_at_203_dpi_the_lot_symbol_bears_half_a_dot_even_at_its_least_width(gain: float) -> None:
    for number in range(4):
        says, zxing, zbar = looks("code128", 203, gain, seed=number)
        assert set(zxing) | set(zbar) == {says}


@pytest.mark.parametrize("kind", ["ean-13", "ean-8", "upc-a"])
@pytest.mark.parametrize("dpi", [203, 300])
def test_a_whole_dot_too_wide_is_still_read_by_one_reader(kind: str, dpi: int) -> None:
    for number in range(3):
        says, _, zbar = looks(kind, dpi, 1.0, seed=number)
        assert zbar == [says]


def test_a_print_spoiled_altogether_is_not_read_as_something_else() -> None:
    chance = random.Random(7)
    for kind, make in MAKERS.items():
        symbol = make(chance)
        clean = draw(symbol, 300, height=60)
        ruined = print_and_scan(clean, 300, gain=2.5, specks=0.2, seed=1)
        assert read_zxing(ruined, kind) == []
        assert read_zbar(ruined, kind) == []
