"""Every kind of symbol, drawn in whole dots at three resolutions, read by two readers that know
nothing of each other (ZXing and ZBar), says what went in."""

from __future__ import annotations

import biip
import pytest
from biip.gs1_digital_link_uris import GS1DigitalLinkURI
from hypothesis import given
from hypothesis import strategies as st

from labels.checks import with_check_digit
from labels.elements import Element
from labels.errors import BadSymbol
from labels.links import build_link
from labels.scan import parse_scan
from labels.sizes import module_dots
from labels.symbols import Symbol, code128, ean8, ean13, gs1_128, lot_symbol, qr, upca
from tests.codes.drawing import draw, read_zbar, read_zxing
from tests.codes.test_elements import DATES, ITEMS, LOTS
from tests.often import examples

DPIS = (203, 300, 600)
EACH_DPI = pytest.mark.parametrize("dpi", DPIS)
MANY = examples(150)
SOME = examples(40)
CARRIER = {"code128": "]C0", "gs1-128": "]C1", "ean-13": "]E0", "upc-a": "]E0", "ean-8": "]E4",
           "qr": "]Q1"}  # fmt: skip


def digits(count: int) -> st.SearchStrategy[str]:
    return st.text("0123456789", min_size=count, max_size=count).map(with_check_digit)


def says(symbol: Symbol) -> str:
    """Readers give the 12 digits of a UPC-A as 13, with a zero in front."""
    return "0" + symbol.data if symbol.kind == "upc-a" else symbol.data


def check_both_readers(symbol: Symbol, dpi: float) -> None:
    for dots in {module_dots(symbol, dpi), module_dots(symbol, dpi, smallest=True)}:
        picture = draw(symbol, dpi, dots=dots)
        (read,) = read_zxing(picture, symbol.kind)
        assert read.text == says(symbol)
        assert read.symbology_identifier == CARRIER[symbol.kind]
        assert (read.content_type.name == "GS1") == (symbol.kind == "gs1-128")
        assert read_zbar(picture, symbol.kind) == [says(symbol)]


@EACH_DPI
@MANY
@given(digits=digits(12))
def test_ean_13(dpi: int, digits: str) -> None:
    check_both_readers(ean13(digits), dpi)


@EACH_DPI
@MANY
@given(digits=digits(11))
def test_upc_a(dpi: int, digits: str) -> None:
    check_both_readers(upca(digits), dpi)


@EACH_DPI
@MANY
@given(digits=digits(7))
def test_ean_8(dpi: int, digits: str) -> None:
    check_both_readers(ean8(digits), dpi)


@EACH_DPI
@MANY
@given(text=st.text([chr(c) for c in range(32, 127)], min_size=1, max_size=24))
def test_code_128_of_letters(dpi: int, text: str) -> None:
    check_both_readers(code128(text), dpi)


@EACH_DPI
@SOME
@given(text=st.text([chr(c) for c in range(1, 128)], min_size=1, max_size=24))
def test_code_128_of_control_characters(dpi: int, text: str) -> None:
    check_both_readers(code128(text), dpi)


@EACH_DPI
@MANY
@given(text=st.from_regex(r"[0-9]{1,6}[A-Z-]{0,3}[0-9]{0,9}", fullmatch=True).filter(str.isascii))
def test_code_128_of_digits_and_a_few_letters(dpi: int, text: str) -> None:
    check_both_readers(code128(text), dpi)


@EACH_DPI
@MANY
@given(day=st.dates(), batch=st.integers(1, 99))
def test_the_lot_symbol_scans_as_the_lot(dpi: int, day: object, batch: int) -> None:
    symbol = lot_symbol(f"{day:%y%j}-{batch:02}")
    check_both_readers(symbol, dpi)
    scan = parse_scan(symbol.data)
    assert (scan.kind, scan.lot) == ("lot", symbol.data)


LABELS = st.fixed_dictionaries(
    {"01": ITEMS},
    optional={"15": DATES, "17": DATES, "30": st.integers(1, 9999).map(str),
              "10": LOTS.map(lambda lot: lot[:8]), "3103": st.just("000195")},
).map(lambda values: list(values.items()))  # fmt: skip


@EACH_DPI
@MANY
@given(elements=LABELS)
def test_gs1_128_and_what_another_program_makes_of_it(dpi: int, elements: list[Element]) -> None:
    try:
        symbol = gs1_128(elements)
        module_dots(symbol, dpi)
    except BadSymbol as refusal:
        told = str(refusal)
        assert "more than 48" in told or "165.10 mm is allowed" in told or "finer dots" in told
        return
    check_both_readers(symbol, dpi)
    (read,) = read_zxing(draw(symbol, dpi), "gs1-128")
    parsed = biip.parse(read.symbology_identifier + read.text).gs1_message
    assert parsed is not None
    assert parsed.as_hri() == symbol.text
    assert {(e.ai.ai, e.value) for e in parsed.element_strings} == set(elements)
    assert set(parse_scan(read.symbology_identifier + read.text).elements) == set(elements)


@EACH_DPI
@SOME
@given(elements=LABELS)
def test_qr_of_a_digital_link_and_what_another_program_makes_of_it(
    dpi: int, elements: list[Element]
) -> None:
    symbol = qr(build_link(elements))
    check_both_readers(symbol, dpi)
    other = GS1DigitalLinkURI.parse(symbol.data)
    assert {(e.ai.ai, e.value) for e in other.element_strings} == set(elements)
    assert set(parse_scan("]Q1" + symbol.data).elements) == set(elements)
