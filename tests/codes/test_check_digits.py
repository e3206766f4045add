"""Check digits against published figures and two other implementations."""

from __future__ import annotations

import biip.checksums
import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean
from stdnum.exceptions import InvalidChecksum

from labels.checks import (
    check_digit,
    checked,
    price_check_digit_4,
    price_check_digit_5,
    with_check_digit,
)
from labels.errors import BadSymbol

DIGITS = "0123456789"


@pytest.mark.parametrize(
    ("digits", "expected"),
    [
        ("629104150021", 3),  # GS1's own calculation example, GTIN-13 6291041500213
        ("37610425002123456", 9),  # GS1's own calculation example, SSCC-18
        ("03600029145", 2),  # published UPC-A example: 14 x 3 + 16 = 58
        ("950110153100", 0),  # biip documentation
        ("9501234", 6),  # biip documentation, GTIN-8
        ("952123400001", 3),  # arithmetic: 952 is GS1's prefix for examples
        ("21234554321", 4),  # arithmetic, agrees with python-stdnum
    ],
)
def test_the_check_digit_is_the_published_one(digits: str, expected: int) -> None:
    assert check_digit(digits) == expected


@given(st.sampled_from([7, 11, 12, 13]).flatmap(lambda n: st.text(DIGITS, min_size=n, max_size=n)))
def test_a_number_with_our_check_digit_is_valid_to_others(digits: str) -> None:
    number = with_check_digit(digits)
    assert ean.validate(number) == number
    assert biip.checksums.gs1_standard_check_digit(digits) == int(number[-1])


@given(st.text(DIGITS, min_size=12, max_size=12), st.integers(0, 12), st.sampled_from(DIGITS))
def test_any_one_wrong_digit_is_found(digits: str, place: int, wrong: str) -> None:
    number = with_check_digit(digits)
    spoiled = number[:place] + wrong + number[place + 1 :]
    if spoiled == number:
        assert checked(spoiled, 13, "EAN-13") == number
        return
    with pytest.raises(BadSymbol):
        checked(spoiled, 13, "EAN-13")
    with pytest.raises(InvalidChecksum):
        ean.validate(spoiled)


@pytest.mark.parametrize(
    ("digits", "sentence"),
    [
        # python-stdnum doctest: valid number with its last digit changed
        (
            "7501031311308",
            "Cannot use EAN-13 '7501031311308': its last digit is 8, but the digits before it ask "
            "for 9. Compare it with the original; it is never corrected here.",
        ),
        # python-stdnum doctest: wrong length
        ("75010313113", "Cannot use EAN-13 '75010313113': it has 11 digits instead of 13."),
        # python-stdnum doctest: wrong format
        (
            "750103AAAA309",
            "Cannot use EAN-13 '750103AAAA309': it is not made of the digits 0 to 9 alone.",
        ),
        ("", "Cannot use EAN-13 '': it is not made of the digits 0 to 9 alone."),
        # Arabic-Indic digits pass str.isdigit() and int()
        (
            "٧501031311309",
            "Cannot use EAN-13 '٧501031311309': it is not made of the digits 0 to 9 alone.",
        ),
    ],
)
def test_a_wrong_number_is_refused_in_one_sentence(digits: str, sentence: str) -> None:
    with pytest.raises(BadSymbol) as refusal:
        checked(digits, 13, "EAN-13")
    assert str(refusal.value) == sentence


def test_the_valid_number_of_the_same_doctest_passes() -> None:
    assert checked("7501031311309", 13, "EAN-13") == "7501031311309"


@pytest.mark.parametrize("digits", ["123456", "12345678", "12345678901234", "²345678", "x", ""])
def test_a_check_digit_is_added_only_where_a_number_of_gs1_comes_out(digits: str) -> None:
    with pytest.raises(BadSymbol):
        with_check_digit(digits)


@pytest.mark.parametrize(
    ("digits", "expected"),
    [
        ("2875", 9),  # GS1 General Specifications 7.9.3 example: 4+5+1+3=13, 39
        ("4321", 5),  # arithmetic: 8+6+6+5=25, 75
    ],
)
def test_the_price_check_digit_of_four_digits(digits: str, expected: int) -> None:
    assert price_check_digit_4(digits) == expected


@pytest.mark.parametrize(
    ("digits", "expected"),
    [
        ("14685", 6),  # GS1 General Specifications 7.9.4 example: 5+8+7+4+9=33, 7
        ("00239", 4),  # biip documentation, in 2211114002394
        ("06870", 1),  # biip documentation, in 2811111068708
        ("00012", 9),  # biip documentation, in 2511119000129
    ],
)
def test_the_price_check_digit_of_five_digits(digits: str, expected: int) -> None:
    assert price_check_digit_5(digits) == expected


def test_all_prices_of_four_digits_agree_with_another_implementation() -> None:
    for price in range(10_000):
        digits = f"{price:04}"
        other = biip.checksums.gs1_price_weight_check_digit(digits)
        assert price_check_digit_4(digits) == other


def test_prices_of_five_digits_agree_with_another_implementation() -> None:
    for price in range(0, 100_000, 7):
        digits = f"{price:05}"
        other = biip.checksums.gs1_price_weight_check_digit(digits)
        assert price_check_digit_5(digits) == other


def test_the_wrong_version_passes_the_standards_example_and_is_not_ours() -> None:
    """It takes what is missing to ten and looks it up backwards, as with five digits."""
    five_minus = (0, 5, 9, 4, 8, 3, 7, 2, 6, 1)

    def wrong(digits: str) -> int:
        return five_minus.index(-price_check_digit_4(digits) % 10)

    assert wrong("2875") == price_check_digit_4("2875") == 9
    assert wrong("4321") != price_check_digit_4("4321")


@given(st.text(DIGITS, min_size=4, max_size=4), st.integers(0, 3), st.sampled_from(DIGITS))
def test_one_wrong_digit_of_a_price_is_found(digits: str, place: int, wrong: str) -> None:
    spoiled = digits[:place] + wrong + digits[place + 1 :]
    same = price_check_digit_4(spoiled) == price_check_digit_4(digits)
    assert same == (spoiled == digits)


@pytest.mark.parametrize("digits", ["", "123", "12345", "12 4", "١234"])
def test_a_price_of_another_length_or_script_is_refused(digits: str) -> None:
    with pytest.raises(BadSymbol):
        price_check_digit_4(digits)
    with pytest.raises(BadSymbol):
        price_check_digit_5(digits + "1" if len(digits) == 5 else digits)
