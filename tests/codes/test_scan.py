"""Whatever a scanner types is named for what it is, or refused in one sentence."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from labels.elements import build_elements
from labels.errors import BadSymbol
from labels.links import build_link
from labels.restricted import REGIONS, Layout
from labels.scan import Price, Scan, ScanKind, parse_scan

GS = "\x1d"
PRICED = f"0109520123456788310300019539220299{GS}17201225"
LABEL = "010952123400001315261129" + "1026328-01"


@pytest.mark.parametrize("prefix", ["]C1", "]d2", "]Q3", "]e0", "", f"]C1{GS}", GS])
def test_the_same_gs1_data_is_read_from_every_carrier(prefix: str) -> None:
    # GS1 syntax engine, scandata.c: identifiers of GS1-128, DataMatrix, QR, DataBar
    scan = parse_scan(prefix + PRICED, year=2026)
    assert scan.kind == "gs1"
    assert scan.gtin == scan.key == "09520123456788"
    assert scan.weight_g == 195
    assert scan.price == Price(299, 2)
    assert scan.use_by == dt.date(2020, 12, 25)
    assert scan.describe() == ("GS1 item 09520123456788, use by 2020-12-25, 195 g, price 2.99.")


@pytest.mark.parametrize(
    ("typed", "kind", "sentence"),
    [
        ("26328-01", "lot", "Own lot 26328-01, made 2026-11-24."),
        ("]C026328-01\r\n", "lot", "Own lot 26328-01, made 2026-11-24."),
        ("9521234000013", "item", "Item 09521234000013."),
        ("]E09521234000013\r", "item", "Item 09521234000013."),
        ("]E00036000291452", "item", "Item 00036000291452."),
        ("036000291452", "item", "Item 00036000291452."),
        ("]E495012346", "item", "Item 00000095012346."),
        ("19521234000010", "item", "Item 19521234000010."),
        ("2011122912346", "restricted", "Restricted number 2011122912346."),
        (LABEL, "gs1", "GS1 item 09521234000013, lot 26328-01, best before 2026-11-29."),
        ("(01) 09521234000013 (10) 26328-01", "gs1", "GS1 item 09521234000013, lot 26328-01."),
        (
            "]Q1https://id.gs1.org/01/09521234000013/10/26328-01?17=261129",
            "link",
            "Digital Link of item 09521234000013, lot 26328-01, use by 2026-11-29.",
        ),
        ("]C13012", "gs1", "GS1 data without item number, 12 pieces."),
        ("]C11026328-01", "gs1", "GS1 data without item number, lot 26328-01."),
        ("]C1301", "gs1", "GS1 data without item number, 1 piece."),
        ("]C1393297812", "gs1", "GS1 data without item number, price 0.12 in currency 978."),
        ("]C13201000010", "gs1", "GS1 data without item number, 453.59237 g."),
        ("]C170032611291830", "gs1", "GS1 data without item number, use by 2026-11-29."),
    ],
)
def test_a_scan_is_described_in_one_sentence(typed: str, kind: ScanKind, sentence: str) -> None:
    scan = parse_scan(typed, year=2026)
    assert scan.kind == kind
    assert scan.describe() == sentence


def test_a_restricted_number_is_described_by_the_shops_layout() -> None:
    scan = parse_scan("2811111068708", REGIONS["de"], year=2026)
    assert scan.describe() == "Restricted number 2811111068708, item 1111, 6870 g."


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "Cannot read a scan: nothing was typed. Scan again."),
        (" \r\n", "Cannot read a scan: nothing was typed. Scan again."),
        (
            "tofu",
            "Cannot read scan 'tofu': it is no lot code, no item number, no GS1 data and no "
            "Digital Link. Scan it again, or type the digits below the bars.",
        ),
        (
            "9521234000014",
            "Cannot use EAN-13 '9521234000014': its last digit is 4, but the digits before it ask "
            "for 3. Compare it with the original; it is never corrected here.",
        ),
        ("]E0952123400001", "Cannot use EAN-13 '952123400001': it has 12 digits instead of 13."),
        (
            "]X09521234000013",
            "Cannot read scan ']X09521234000013': symbology identifier ]X0 is not known here. "
            "Known are ]E0, ]E4, ]C1, ]e0, ]d2, ]Q3, ]C0, ]Q0, ]Q1, ]d0, ]d1, ]I0, ]I1.",
        ),
        (
            "26399-01",
            "Cannot read lot '26399-01': 2026 has no day 399. Write YYDDD-NN: year, day of the "
            "year, batch of that day, such as 26328-01.",
        ),
        ("1" * 1001, f"Cannot read scan '{'1' * 39}…': 1001 characters are no label of a pack."),
        ("]C1", "Cannot read GS1 data '': there is nothing in it."),
    ],
)
def test_what_says_nothing_is_refused_in_one_sentence(typed: str, sentence: str) -> None:
    with pytest.raises(BadSymbol) as refusal:
        parse_scan(typed, year=2026)
    assert str(refusal.value) == sentence


@pytest.mark.parametrize(
    "typed", ["٩521234000013", "９５２１２３４００００１３", "²6328-01", "26328-0١"]
)
def test_digits_of_another_script_are_refused(typed: str) -> None:
    with pytest.raises(BadSymbol):
        parse_scan(typed, year=2026)


def test_without_a_year_the_year_of_the_clock_counts() -> None:
    assert parse_scan("26328-01").made == dt.date(2026, 11, 24)


def test_the_first_weight_and_the_exact_grams_are_given() -> None:
    # biip documentation: 3105 123456 is 1.23456 kg
    scan = parse_scan("]C1" + "0109521234000013" + "3105123456", year=2026)
    assert scan.weight_g == Decimal("1234.56")


ALPHABET = st.sampled_from([*"0123456789-]()/:?=&%.CEdQ ", GS, "01", "10", "17", "3103", "https://",
                            "/01/", "09521234000013", "26328-01", "]C1", "]E0", "]Q1", "é", "٣"])  # fmt: skip
LAYOUTS = [*REGIONS["us"], *REGIONS["de"], Layout("2IIIIIIC")]


def check_scan(scan: Scan) -> None:
    """What holds of every scan that is not refused."""
    assert scan.describe().endswith(".")
    assert scan.describe().isprintable()
    assert scan.gtin == "" or (len(scan.gtin) == 14 and scan.gtin.isdigit())
    assert (scan.kind == "lot") == (scan.made is not None)
    assert scan.weight_g is None or scan.weight_g >= 0


@given(st.lists(ALPHABET, max_size=20).map("".join) | st.text(max_size=40))
@example("]")
@example("]C1\x1d\x1d")
@example("(")
@example("https://[")
@example("]Q1https://id.gs1.org/01/")
def test_any_text_is_a_scan_or_refused_and_nothing_else(text: str) -> None:
    refusal = ""
    try:
        check_scan(parse_scan(text, LAYOUTS, year=2026))
    except BadSymbol as refused:
        refusal = str(refused)
    assert refusal == "" or (refusal.startswith("Cannot ") and refusal.endswith((".", "?")))
    assert refusal.isprintable()


@given(
    st.from_regex(r"[0-9]{8}|[0-9]{12,14}", fullmatch=True).filter(str.isascii),
    st.sampled_from(["", "]E0", "]E4", "]C0", "]I1"]),
)
def test_a_number_is_taken_as_it_is_or_refused(number: str, prefix: str) -> None:
    try:
        scan = parse_scan(prefix + number, LAYOUTS, year=2026)
    except BadSymbol:
        return
    check_scan(scan)
    assert scan.text == number
    assert scan.kind in ("item", "restricted")


@given(st.dates(dt.date(1980, 1, 1), dt.date(2070, 1, 1)), st.integers(1, 99))
def test_what_the_label_says_is_what_the_scan_says(day: dt.date, batch: int) -> None:
    lot = f"{day:%y%j}-{batch:02}"
    elements = [("01", "09521234000013"), ("10", lot), ("15", f"{day:%y%m%d}")]
    for typed in (f"]C1{build_elements(elements)}", build_elements(elements), build_link(elements)):
        scan = parse_scan(typed, year=2026)
        assert (scan.gtin, scan.lot, scan.best_before) == ("09521234000013", lot, day)
    assert parse_scan(lot, year=2026).made == day
