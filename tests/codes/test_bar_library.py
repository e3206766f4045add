"""Traps of the library whose bar tables we use. Each prints a wrong label without a word, so each
is shown here as it is, beside what ours does instead."""

from __future__ import annotations

import pytest
from barcode import EAN13, EAN14, UPCA
from barcode.charsets import code128 as tables
from barcode.codex import Code128, Gs1_128

from labels.errors import BadSymbol
from labels.symbols import code128, ean8, ean13, gs1_128, upca
from tests.codes.drawing import draw, read_zxing


def test_the_same_text_always_gives_the_same_bars() -> None:
    library = Code128("A\x01")
    assert library.build() != library.build()
    assert code128("A\x01").bars == code128("A\x01").bars


def test_a_leading_99_is_kept() -> None:
    assert Code128("9912345678").encoded == [105, 12, 34, 56, 78]
    for text in ("9912345678", "99", "9999", "99abc", "1199"):
        assert [read.text for read in read_zxing(draw(code128(text), 300), "code128")] == [text]


def test_a_wrong_check_digit_is_refused_and_not_replaced() -> None:
    assert str(EAN13("1234567891012")) == "1234567891019"
    assert str(UPCA("036000291453")) == "036000291452"
    for make, digits in ((ean13, "1234567891012"), (upca, "036000291453"), (ean8, "95012345")):
        with pytest.raises(BadSymbol, match="its last digit is"):
            make(digits)


def test_too_many_digits_are_refused_and_not_cut_off() -> None:
    assert str(EAN13("12345678910199999")) == "1234567891019"
    for make, digits in ((ean13, "95212340000131"), (upca, "0360002914521"), (ean8, "950123461")):
        with pytest.raises(BadSymbol, match="digits instead of"):
            make(digits)


def test_a_missing_check_digit_is_refused_and_not_added() -> None:
    assert str(EAN13("952123400001")) == "9521234000013"
    for make, digits in ((ean13, "952123400001"), (upca, "03600029145"), (ean8, "9501234")):
        with pytest.raises(BadSymbol, match="digits instead of"):
            make(digits)


def test_digits_of_other_scripts_are_refused() -> None:
    assert "٩521234000013".isdigit()
    assert EAN13("٩521234000013").build()
    for make, digits in ((ean13, "٩521234000013"), (upca, "٠36000291452"), (ean8, "٩5012346")):
        with pytest.raises(BadSymbol, match="not made of the digits 0 to 9 alone"):
            make(digits)


def test_brackets_of_the_human_readable_line_are_not_in_the_bars() -> None:
    assert tables.B["("] in Gs1_128("(01)09521234000013").encoded
    symbol = gs1_128([("01", "09521234000013")])
    assert symbol.text == "(01)09521234000013"
    assert [read.text for read in read_zxing(draw(symbol, 300), "gs1-128")] == ["0109521234000013"]


def test_a_letter_with_a_tilde_does_not_become_a_function_character() -> None:
    assert tables.B["ñ"] in Code128("España").encoded
    with pytest.raises(BadSymbol) as refusal:
        code128("España")
    assert str(refusal.value) == (
        "Cannot put 'España' into a Code 128 symbol: 'ñ' is no ASCII character. "
        "Use plain letters and digits."
    )


def test_separators_are_put_in_for_the_caller() -> None:
    symbol = gs1_128([("21", "A"), ("10", "B"), ("01", "09521234000013")])
    (read,) = read_zxing(draw(symbol, 300), "gs1-128")
    assert read.text == symbol.data == "010952123400001321A\x1d10B"
    assert read.symbology_identifier == "]C1"
    assert read.content_type.name == "GS1"


def test_fourteen_digits_in_ean_bars_are_not_offered() -> None:
    drawn = EAN14("19521234000010").build()[0]
    assert len(drawn) != 95  # no EAN symbol has another width
    with pytest.raises(BadSymbol):
        ean13("19521234000010")


def test_quiet_zones_are_counted_in_modules_beside_the_symbol() -> None:
    library = EAN13("9521234000013").build()[0]
    symbol = ean13("9521234000013")
    assert len(library) == symbol.modules == 95
    assert (symbol.quiet, symbol.total_modules) == ((11, 7), 113)
