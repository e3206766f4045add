"""Element strings: against published examples, biip and python-stdnum."""

from __future__ import annotations

import itertools

import biip
import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import numdb

from labels.checks import with_check_digit
from labels.elements import (
    CSET_82,
    Element,
    build_elements,
    check_together,
    check_value,
    human_readable,
    join_elements,
    order_elements,
    parse_brackets,
    parse_elements,
)
from labels.errors import BadSymbol
from labels.identifiers import IDENTIFIERS, PREDEFINED, ai_at, find_identifier
from labels.restricted import is_restricted

GS = "\x1d"


@pytest.mark.parametrize(
    ("line", "text"),
    [
        # GS1 syntax engine, ai.c: nothing behind (01)
        ("(01)12345678901231(10)12345", "01123456789012311012345"),
        # GS1 syntax engine, ai.c: separator behind (10)
        ("(10)12345(11)991225", f"1012345{GS}11991225"),
        # GS1 syntax engine, dl.c
        (
            "(01)09520123456788(3103)000195(3922)0299(17)201225",
            f"0109520123456788310300019539220299{GS}17201225",
        ),
        # (395n) is six digits long but not predefined, so it is closed (syntax dictionary)
        ("(3952)001299(30)5", f"3952001299{GS}305"),
        ("(21)A1(22)B2(10)C3", f"21A1{GS}22B2{GS}10C3"),
    ],
)
def test_a_separator_stands_only_behind_an_open_length_that_is_not_last(
    line: str, text: str
) -> None:
    elements = parse_brackets(line)
    assert join_elements(elements) == text
    assert parse_elements(text) == elements
    assert human_readable(elements) == line


def test_an_element_string_without_separators_is_taken_apart_by_its_lengths() -> None:
    # biip documentation
    assert parse_elements("010703206980498815210526100329") == (
        ("01", "07032069804988"),
        ("15", "210526"),
        ("10", "0329"),
    )


@pytest.mark.parametrize(
    "text",
    [
        f"0109521234000013{GS}1526112910" + "26328-01",  # separator behind a predefined length
        "0109521234000013152611291026328-01" + GS,  # and at the very end
        GS + "0109521234000013152611291026328-01",  # FNC1 passed on in front
    ],
)
def test_a_needless_separator_is_passed_over(text: str) -> None:
    # GS1 General Specifications 7.8.4; GS1 syntax engine, its test cases
    assert parse_elements(text) == (("01", "09521234000013"), ("15", "261129"), ("10", "26328-01"))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        # GS1 syntax engine, its test cases: (17) takes six digits
        (f"179{GS}90217", "it is not made of the digits 0 to 9 alone"),
        # GS1 syntax engine, its test cases: empty value
        ("10", "it has 0 characters instead of 1 to 20"),
        # GS1 syntax engine, its test cases: wrong check digit of the item
        ("0109521234000014", "its last digit is 4, but the digits before it ask for 3"),
        ("01952123400001", "it has 12 characters instead of 14"),
        ("17261301", "there is no month 13"),
        ("10" + "A" * 21, "it has 21 characters instead of 1 to 20"),
        ("10AB CD", "' ' is not in GS1's set of 82 characters"),
        ("10Käse", "'ä' is not in GS1's set of 82 characters"),
        ("30١٢", "it is not made of the digits 0 to 9 alone"),
        ("05123", "no application identifier begins with '0512'"),
        ("", "there is nothing in it"),
        (GS + GS, "no application identifier begins with '<GS>'"),
        (f"10A{GS}10B", "(10) stands in it twice, with different values"),
        ("310", "no application identifier begins with '310'"),
    ],
)
def test_a_wrong_element_string_is_refused(text: str, why: str) -> None:
    with pytest.raises(BadSymbol) as refusal:
        parse_elements(text)
    assert why in str(refusal.value)


def test_the_refusal_is_one_sentence_that_names_the_field() -> None:
    with pytest.raises(BadSymbol) as refusal:
        join_elements([("10", "AB CD")])
    assert str(refusal.value) == (
        "Cannot write (10) BATCH/LOT 'AB CD': ' ' is not in GS1's set of 82 characters. "
        "Use letters A to Z, digits and - . / _."
    )


def test_an_identifier_we_do_not_use_is_kept_and_stepped_over() -> None:
    text = f"0109521234000013400X-7{GS}4101234567890128{GS}10A"
    assert parse_elements(text) == (
        ("01", "09521234000013"),
        ("400", "X-7"),
        ("410", "1234567890128"),
        ("10", "A"),
    )
    with pytest.raises(BadSymbol, match=r"'400' is not in our table\. Use 00, 01"):
        join_elements([("400", "X-7")])


def test_all_identifiers_of_the_system_are_found_by_their_first_two_digits() -> None:
    """python-stdnum's table is made from GS1's own list."""
    checked = 0
    for low, high, props in _stdnum_rows():
        for number in range(int(low), int(high) + 1):
            ai = str(number).zfill(len(low))
            row = ai_at(ai + "0" * 90, "read it")
            assert row.ai == ai
            assert row.predefined == ("fnc1" not in props or ai[:2] in PREDEFINED)
            checked += 1
    assert checked > 400


def test_our_table_has_the_titles_and_lengths_of_gs1s_own_list() -> None:
    theirs = {}
    for low, high, props in _stdnum_rows():
        for number in range(int(low), int(high) + 1):
            theirs[str(number).zfill(len(low))] = props
    formats = {
        "N18": (18, 18), "N14": (14, 14), "X..20": (1, 20), "N6": (6, 6), "N2": (2, 2),
        "N..8": (1, 8), "N..15": (1, 15), "N3+N..15": (4, 18), "N10": (10, 10),
        "N8[+N..4]": (8, 12), "N6+N4": (10, 10), "N8+N..4": (8, 12),
    }  # fmt: skip
    for ai, row in IDENTIFIERS.items():
        assert theirs[ai]["name"] == row.title
        assert formats[theirs[ai]["format"]] == (row.least, row.most), ai
        assert ("fnc1" in theirs[ai]) == (not row.predefined), ai


def _stdnum_rows() -> list[tuple[str, str, dict[str, str]]]:
    database = numdb.get("gs1_ai")
    rows = []
    for _, low, high, props, children in database.prefixes:
        assert not children
        rows.append((low, high or low, props))
    return rows


def test_the_key_comes_first_and_the_open_lengths_last() -> None:
    given_order = [("10", "A"), ("21", "B"), ("3103", "000195"), ("15", "261129"),
                   ("01", "09521234000013")]  # fmt: skip
    assert [ai for ai, _ in order_elements(given_order)] == ["01", "3103", "15", "10", "21"]


@pytest.mark.parametrize("key", ["00", "01", "02"])
def test_a_key_stands_before_all_that_is_said_of_it(key: str) -> None:
    """GS1 General Specifications 7.8 (from memory): the key first, then what has a fixed length."""
    said = [("10", "26328-01"), ("15", "261129"), ("37", "12"), (key, "09521234000013")]
    assert [ai for ai, _ in order_elements(said)] == [key, "15", "10", "37"]


ELEMENTS = (("01", "09521234000013"), ("15", "261129"), ("10", "26328-01"), ("21", "7"),
            ("3103", "000195"), ("30", "12"))  # fmt: skip


@pytest.mark.parametrize("size", range(1, 5))
def test_no_order_needs_fewer_separators_than_ours(size: int) -> None:
    for some in itertools.combinations(ELEMENTS[1:], size):
        group = (ELEMENTS[0], *some)
        best = min(len(join_elements(order)) for order in itertools.permutations(group))
        for order in itertools.permutations(group):
            assert len(build_elements(order)) == best


OF_AN_ITEM = ("01", "02", "03", "8006", "8026")
MEASURED = ("30", "31", "32", "35", "36")  # a trade measure may be any of 31nn to 36nn
NEEDS = {
    "10": OF_AN_ITEM, "11": OF_AN_ITEM, "13": OF_AN_ITEM, "15": OF_AN_ITEM, "16": OF_AN_ITEM,
    "17": (*OF_AN_ITEM, "255"), "20": OF_AN_ITEM, "21": ("01", "03", "8006"), "22": ("01",),
    "30": ("01", "02"), "3103": ("01", "02"), "3203": ("01", "02"), "37": ("00+02", "00+8026"),
    "3922": tuple(f"01+{measure}" for measure in MEASURED), "3932": MEASURED, "3952": MEASURED,
    "7003": ("01", "02", "03"), "8005": ("01", "02"), "8008": ("01", "02", "03"),
}  # fmt: skip


@pytest.mark.parametrize("ai", NEEDS)
def test_each_identifier_says_of_all_its_companions(ai: str) -> None:
    # GS1 syntax dictionary, mandatory associations
    with pytest.raises(BadSymbol) as refusal:
        check_together([(ai, "1")])
    choice = ", or ".join(f"({need.replace('+', ') and (')})" for need in NEEDS[ai])
    assert str(refusal.value).endswith(f"Put one of these with it: {choice}.")


@pytest.mark.parametrize(
    ("elements", "why"),
    [
        ([("10", "A")], "it says nothing alone"),
        ([("15", "261129"), ("10", "A")], "it says nothing alone"),
        ([("01", "09521234000013"), ("37", "5")], "it may not stand with (37)"),
        ([("02", "09521234000013"), ("37", "5")], "it says nothing alone"),
        ([("01", "09521234000013"), ("3922", "299")], "it says nothing alone"),
        (
            [("01", "09521234000013"), ("30", "1"), ("3922", "299"), ("3932", "978299")],
            "it may not stand with (3932)",
        ),
        (
            [("01", "09521234000013"), ("30", "1"), ("3922", "299"), ("3921", "29")],
            "it may not stand with (3921)",
        ),
        ([("01", "09521234000013"), ("10", "A"), ("10", "A")], "it stands twice"),
    ],
)
def test_what_may_not_stand_together_or_alone_is_refused(elements: list[Element], why: str) -> None:
    # GS1 syntax dictionary, mandatory associations and exclusions
    with pytest.raises(BadSymbol) as refusal:
        check_together(elements)
    assert why in str(refusal.value)


@pytest.mark.parametrize(
    "elements",
    [
        [("01", "09521234000013"), ("3103", "000195"), ("3922", "0299"), ("17", "201225")],
        [("00", "376104250021234569"), ("02", "09521234000013"), ("37", "5"), ("10", "A")],
        [("01", "09521234000013"), ("30", "1"), ("3932", "978299")],
        [("01", "09521234000013"), ("3103", "000195"), ("3952", "001299")],
        [("01", "09521234000013"), ("7003", "2611291830"), ("8008", "26112902")],
        [("01", "09521234000013"), ("8005", "001299"), ("20", "01"), ("22", "A")],
    ],
)
def test_what_belongs_together_is_built_and_read_back(elements: list[Element]) -> None:
    assert sorted(parse_elements(build_elements(elements))) == sorted(elements)


def test_the_sentence_for_a_missing_companion_says_what_to_add() -> None:
    with pytest.raises(BadSymbol) as refusal:
        build_elements([("37", "5")])
    assert str(refusal.value) == (
        "Cannot write (37) COUNT: it says nothing alone. "
        "Put one of these with it: (00) and (02), or (00) and (8026)."
    )


def test_day_00_is_read_and_never_written() -> None:
    # GS1 General Specifications 3.4; not allowed on new labels for health care since 2025
    assert parse_elements("17261100") == (("17", "261100"),)
    with pytest.raises(BadSymbol) as refusal:
        build_elements([("01", "09521234000013"), ("17", "261100")])
    assert str(refusal.value) == (
        "Cannot read date '261100': its day is 00. Write the last day of the month, 30."
    )


@pytest.mark.parametrize(
    "number", ["00212345543214", "02011122912346", with_check_digit("0041234554321")]
)
def test_a_restricted_number_is_no_gtin_and_is_read_all_the_same(number: str) -> None:
    # GS1 General Specifications 2.1.12 and 2.1.13: carried by EAN and UPC symbols
    assert parse_elements(f"01{number}") == (("01", number),)
    with pytest.raises(BadSymbol) as refusal:
        build_elements([("01", number)])
    assert str(refusal.value) == (
        f"Cannot write (01) GTIN '{number}': it is a restricted number, which stands in EAN and "
        "UPC symbols alone. Use the GTIN of the item."
    )


LOTS = st.text(sorted(CSET_82), min_size=1, max_size=20)
ITEMS = (
    st.text("0123456789", min_size=13, max_size=13)
    .map(with_check_digit)
    .filter(lambda number: number[0] != "0" or not is_restricted(number[1:]))
)
DATES = st.dates().filter(lambda d: 1980 <= d.year <= 2070).map(lambda d: f"{d:%y%m%d}")
LABELS = st.fixed_dictionaries(
    {"01": ITEMS},
    optional={
        "10": LOTS, "21": LOTS, "11": DATES, "15": DATES, "17": DATES,
        "30": st.integers(0, 99_999_999).map(str),
        "3103": st.integers(0, 999_999).map("{:06}".format),
    },
).map(lambda values: list(values.items()))  # fmt: skip


@given(LABELS)
def test_what_is_built_is_parsed_back_by_us_and_by_biip(elements: list[Element]) -> None:
    text = build_elements(elements)
    assert dict(parse_elements(text)) == dict(elements)
    parsed = biip.parse(text).gs1_message
    assert parsed is not None
    assert {(e.ai.ai, e.value) for e in parsed.element_strings} == set(elements)
    assert parsed.as_hri() == human_readable(parse_elements(text))


@given(LABELS)
def test_the_line_under_the_bars_can_be_typed_in(elements: list[Element]) -> None:
    bare = [(ai, value.replace("(", "-")) for ai, value in elements]
    assert list(parse_brackets(human_readable(bare))) == bare


@given(st.text(max_size=60))
def test_a_text_is_parsed_or_refused_and_nothing_else(text: str) -> None:
    for read in (parse_elements, parse_brackets):
        try:
            found = read(text)
        except BadSymbol:
            continue
        for ai, value in found:
            if ai in IDENTIFIERS:
                check_value(find_identifier(ai, "read it"), value, reading=True)


def test_the_set_of_82_characters_has_82() -> None:
    assert len(CSET_82) == 82
    assert not CSET_82 & set(" #$@[\\]^`{|}~\x1d")
