"""Restricted circulation numbers: layouts as data, against published numbers and biip."""

from __future__ import annotations

from decimal import Decimal

import biip
import pytest
from biip import ParseConfig
from biip.rcn import Rcn, RcnRegion
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from labels.checks import with_check_digit
from labels.errors import BadSymbol
from labels.restricted import REGIONS, Layout, is_restricted, read_restricted
from labels.scan import parse_scan

US = Layout("2IIIIIVPPPPC", 2)


def test_the_us_layout_with_a_price_check_digit() -> None:
    # arithmetic: V = 5, C = 4; python-stdnum validates both forms
    number = US.build("12345", 4321)
    assert number == "212345543214"
    assert ean.validate(number) == number
    assert ean.validate("0" + number) == "0" + number


@pytest.mark.parametrize(
    "typed", ["212345543214", "0212345543214", "]E00212345543214", "00212345543214"]
)
def test_a_upc_number_is_the_same_with_and_without_the_zero_in_front(typed: str) -> None:
    scan = parse_scan(typed, [US], year=2026)
    assert (scan.kind, scan.item, scan.gtin) == ("restricted", "12345", "")
    assert scan.price is not None
    assert (scan.price.amount, scan.price.decimals, str(scan.price)) == (4321, 2, "43.21")
    assert scan.key == "0" + US.build("12345", 0)


@pytest.mark.parametrize(
    ("region", "number", "expected"),
    [
        # biip documentation, German numbers
        ("de", "2211114002394", {"price": "2.39", "item": "1111"}),
        ("de", "2811111068708", {"weight": 6870, "item": "1111"}),
        ("de", "2511119000129", {"count": 12, "item": "1111"}),
        # biip documentation, Swedish numbers
        ("se", "2388060112344", {"weight": 1234, "item": "880601"}),
        ("se", "2488060112341", {"weight": 12340, "item": "880601"}),
        ("se", "2588060112348", {"weight": 123400, "item": "880601"}),
        ("se", "2088060112343", {"price": "12.34", "item": "880601"}),
        ("se", "2288060112347", {"price": "1234", "item": "880601"}),
    ],
)
def test_a_regional_number_says_price_weight_or_count(
    region: str, number: str, expected: dict[str, object]
) -> None:
    scan = parse_scan(number, REGIONS[region], year=2026)
    assert scan.item == expected["item"]
    assert scan.weight_g == expected.get("weight")
    assert scan.count == expected.get("count")
    assert (None if scan.price is None else str(scan.price)) == expected.get("price")


@pytest.mark.parametrize(
    ("region", "number", "key"),
    [
        ("de", "2811111068708", "2811110000006"),  # biip documentation
        ("gb", "2011122912346", "2011122000005"),  # biip documentation
    ],
)
def test_the_key_is_the_number_with_its_measure_at_zero(region: str, number: str, key: str) -> None:
    found = read_restricted(number, REGIONS[region])
    assert found is not None
    assert found.key == key


NUMBERED = [(name, layout) for name, layouts in REGIONS.items() for layout in layouts]


@pytest.mark.parametrize(
    ("name", "layout"), NUMBERED, ids=[f"{name}-{layout.pattern}" for name, layout in NUMBERED]
)
@given(data=st.data())
def test_every_layout_reads_back_what_it_wrote(
    name: str, layout: Layout, data: st.DataObject
) -> None:
    places = sum(layout.pattern.count(letter) for letter in "PWN")
    item = str(data.draw(st.integers(0, 10 ** layout.pattern.count("I") - 1)))
    item = item.zfill(layout.pattern.count("I"))
    value = data.draw(st.integers(0, 10**places - 1))
    number = layout.build(item, value)
    assert ean.validate(number) == number
    found = read_restricted(number, REGIONS[name])
    assert found is not None
    assert (found.layout, found.item, found.value) == (layout, item, value)
    again = read_restricted(found.key, REGIONS[name])
    assert again is not None
    assert (again.item, again.value, again.key) == (item, 0, found.key)
    if name in {region.value for region in RcnRegion}:
        _agrees_with_biip(name, number, layout, value)


def _agrees_with_biip(name: str, number: str, layout: Layout, value: int) -> None:
    theirs = biip.parse(number, config=ParseConfig(rcn_region=name)).gtin
    assert isinstance(theirs, Rcn)
    amount = Decimal(value).scaleb(-layout.decimals)
    expected = {letter: amount if letter == layout.measure else None for letter in "PWN"}
    assert {"P": theirs.price, "W": theirs.weight, "N": theirs.count} == expected


@pytest.mark.parametrize(
    "pattern",
    ["2IIIIIVPPPPC", "2IIIIIIPPPPC", "23IIIIVPPPPPC", "29IIIIIPPPPPC", "04IIIIIVPPPPC",
     "4IIIIIIPPPPC", "2IIIIIIC", "0IIIIIIC", "02IIIIIIIIIIC"],
)  # fmt: skip
def test_a_shop_may_write_its_own_layout(pattern: str) -> None:
    # GS1 General Specifications 2.1.12 and 2.1.13, layouts shown there and free ones
    layout = Layout(pattern)
    item = "1" * pattern.count("I")
    value = 25 if "P" in pattern else 0
    found = read_restricted(layout.build(item, value), [layout])
    assert found is not None
    assert (found.item, found.value) == (item, value)


@pytest.mark.parametrize(
    ("pattern", "decimals", "why"),
    [
        ("2IIIIIVPPPP", 2, "it is not a prefix and I, V, P, W or N, C for 8, 12 or 13 digits"),
        ("2IIIIIPVPPPC", 2, "it is not a prefix and I, V, P, W or N"),
        ("2IIIIIVPPWWC", 2, "it is not a prefix and I, V, P, W or N"),
        ("2iiiiivppppc", 2, "it is not a prefix and I, V, P, W or N"),
        ("٢IIIIIVPPPPC", 2, "it is not a prefix and I, V, P, W or N"),
        ("IIIIIIVPPPPC", 2, "it is not a prefix and I, V, P, W or N"),
        ("3IIIIIVPPPPC", 2, "numbers that begin with 3 are not restricted ones"),
        ("95IIIIVPPPPPC", 2, "numbers that begin with 95 are not restricted ones"),
        ("05IIIIVPPPPPC", 2, "numbers that begin with 05 are not restricted ones"),
        ("2IIIIIIVPPPC", 2, "only four or five digits can have a check digit V"),
        ("2IIIIIIIIIVC", 0, "only four or five digits can have a check digit V"),
        ("2IIIIIVPPPPC", 5, "4 digits cannot have 5 decimals"),
        ("2IIIIIVPPPPC", -1, "4 digits cannot have -1 decimals"),
    ],
)
def test_a_layout_that_is_none_is_refused(pattern: str, decimals: int, why: str) -> None:
    with pytest.raises(BadSymbol) as refusal:
        Layout(pattern, decimals)
    assert why in str(refusal.value)


@pytest.mark.parametrize(
    ("item", "value"), [("1234", 1), ("123456", 1), ("1234x", 1), ("12345", -1), ("12345", 10_000)]
)
def test_what_does_not_fit_the_layout_is_refused(item: str, value: int) -> None:
    with pytest.raises(BadSymbol):
        US.build(item, value)


def test_a_price_too_high_for_the_layout_is_told_in_one_sentence() -> None:
    with pytest.raises(BadSymbol) as refusal:
        US.build("12345", 12_345)
    assert str(refusal.value) == (
        "Cannot write item '12345' as 2IIIIIVPPPPC: the value 12345 does not fit 4 digits. "
        "Sell it in smaller packs, or choose a layout with more room."
    )


def test_a_wrong_price_check_digit_is_refused() -> None:
    wrong = with_check_digit("21234564321")
    with pytest.raises(BadSymbol) as refusal:
        read_restricted(wrong, [US])
    assert str(refusal.value) == (
        f"Cannot read restricted number '{wrong}' as 2IIIIIVPPPPC: the check digit of its value is "
        "6, but 4321 asks for 5. Scan it again, or look at the layout in the shop's settings."
    )


def test_of_two_layouts_with_one_prefix_the_one_whose_check_digit_agrees_is_taken() -> None:
    plain = Layout("2IIIIIIPPPPC", 2)
    number = plain.build("123450", 4321)
    found = read_restricted(number, [US, plain])
    assert found is not None
    assert (found.layout, found.item) == (plain, "123450")


def test_a_number_that_no_layout_is_for_is_left_whole() -> None:
    number = with_check_digit("200123456789")
    assert read_restricted(number, [US]) is None
    scan = parse_scan(number, [US], year=2026)
    assert (scan.kind, scan.key, scan.price) == ("restricted", number, None)


def test_the_company_layout_carries_ten_free_digits() -> None:
    # GS1 General Specifications 2.1.13.2: UPC prefix 4, or 04 of an EAN-13, any company inside it
    company = Layout("4IIIIIIIIIIC", 0)
    number = company.build("0000000017")
    assert number.startswith("4")
    for typed in (number, "0" + number):
        scan = parse_scan(typed, [company], year=2026)
        assert (scan.kind, scan.item, scan.key) == ("restricted", "0000000017", "0" + number)


@pytest.mark.parametrize(
    ("number", "restricted"),
    [
        ("0212345543214", True), ("212345543214", True), ("412345543212", True),
        ("0412345543212", True), ("2011122912346", True), ("2999999999994", True),
        ("9521234000013", False), ("036000291452", False), ("0036000291452", False),
        ("4006381333931", False),  # 400 to 440 is Germany, no restricted number
        ("95012346", False), ("20123451", True), ("01234565", True),
    ],
)  # fmt: skip
def test_restricted_numbers_are_told_by_their_prefix(number: str, restricted: bool) -> None:
    assert is_restricted(number) is restricted


@pytest.mark.parametrize("number", ["", "123", "2123455432149", "x12345543214", "٢12345543214"])
def test_a_number_of_wrong_form_is_refused_before_it_is_read(number: str) -> None:
    with pytest.raises(BadSymbol):
        read_restricted(number, [US])


NORDIC = "23WWWW3 24WWWW2 25WWWW1"
PRICED = "20PPPP2 21PPPP1 22PPPP0 "


@pytest.mark.parametrize(
    ("region", "rows"),
    # the regional tables as the documentation of biip lists them: prefix, what, decimals
    [
        ("gb", "20PPPP2"), ("de", "22PPPPP2 23PPPPP2 25NNNNN0 26NNNNN0 28WWWWW3 29WWWWW3"),
        ("dk", "21PPPPPP2 22PPPPPP2 23PPPPPP2 24PPPPPP2 26WWWWWW3 27WWWWW3 28WWWWWW3"),
        ("se", PRICED + NORDIC), ("no", PRICED + NORDIC), ("fi", NORDIC), ("ee", NORDIC),
        ("lv", NORDIC), ("lt", NORDIC),
    ],
)  # fmt: skip
def test_a_region_has_each_row_of_its_table(region: str, rows: str) -> None:
    found = [
        one.pattern[:2] + one.measure * one.pattern.count(one.measure) + str(one.decimals)
        for one in REGIONS[region]
    ]
    assert found == rows.split()
