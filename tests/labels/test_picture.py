"""Dots: a bar is exactly as wide as its modules, on a page of any size."""

from __future__ import annotations

import io
from itertools import groupby
from pathlib import Path

import pytest
from PIL import Image

from labels import Blank, blank_named, lay_out, write_pdf
from labels.picture import png, render
from labels.sizes import dots_per_mm
from labels.symbols import Symbol, gs1_128
from tests.labels.shop import SYMBOLS, firm_tofu, texts_on

GS1_BLANK = Blank(name="wide", width=150.3, height=100.7, dpi=203)


@pytest.mark.parametrize("dpi", [203, 300, 600])
@pytest.mark.parametrize("symbol", SYMBOLS, ids=lambda symbol: symbol.kind)
def test_every_bar_is_a_whole_number_of_dots(symbol: Symbol, dpi: int, tmp_path: Path) -> None:
    # a page that is no whole number of dots, where stretching would show
    blank = Blank(name="odd", width=80.3, height=100.7, dpi=dpi)
    label = lay_out(firm_tofu(symbols=(symbol,)), market="us", blank=blank)
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    dots = render(tmp_path / "label.pdf", dpi)
    assert dots.mode == "1"
    [placed] = label.symbols
    per_point = dots_per_mm(dpi) * 25.4 / 72
    top = blank.height * dots_per_mm(dpi) - (placed.y + placed.height) * per_point
    left, middle = round(placed.x * per_point), round(top + placed.height * per_point / 2)
    if symbol.kind == "qr":
        middle = round(top) + (symbol.quiet[0] * placed.dots) + placed.dots // 2
    row = [dots.getpixel((left + x, middle)) for x in range(symbol.total_modules * placed.dots)]
    runs = [(dark, len(list(run))) for dark, run in groupby(pixel == 0 for pixel in row)]
    assert all(length % placed.dots == 0 for _, length in runs)
    modules = [length // placed.dots for _, length in runs]
    if symbol.kind == "qr":
        expected = [len(list(run)) for _, run in groupby(symbol.matrix[0])]
        assert modules[1:-1] == expected
    else:
        assert modules == [symbol.quiet[0], *symbol.bars, symbol.quiet[1]]


@pytest.mark.parametrize("symbol", SYMBOLS, ids=lambda symbol: symbol.kind)
def test_every_kind_of_symbol_is_read_back_from_the_page(symbol: Symbol, tmp_path: Path) -> None:
    label = lay_out(firm_tofu(symbols=(symbol,)), market="us", blank=blank_named("roll-100x100"))
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    assert texts_on(tmp_path / "label.pdf", 203) == [symbol.data]


def test_a_gs1_128_symbol_is_printed_where_there_is_room_for_it(tmp_path: Path) -> None:
    symbol = gs1_128([("01", "09521234000013"), ("15", "261130"), ("10", "26328-01")])
    label = lay_out(firm_tofu(symbols=(symbol,)), market="us", blank=GS1_BLANK)
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    assert texts_on(tmp_path / "label.pdf", 203) == [symbol.data]


def test_a_picture_for_a_printer_has_one_bit_a_dot_and_its_resolution(tmp_path: Path) -> None:
    label = lay_out(firm_tofu(), market="us", blank=blank_named("roll-60x80"))
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    picture = Image.open(io.BytesIO(png(tmp_path / "label.pdf", 203)))
    assert (picture.mode, picture.size) == ("1", (480, 640))  # 8 dots a millimetre
    assert picture.info["dpi"] == pytest.approx((203, 203), abs=0.1)
