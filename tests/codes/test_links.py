"""GS1 Digital Links: built, taken apart, refused; biip as a second reader."""

from __future__ import annotations

import pytest
from biip.gs1_digital_link_uris import GS1DigitalLinkURI
from hypothesis import given
from hypothesis import strategies as st

from labels.elements import Element
from labels.errors import BadSymbol
from labels.links import build_link, parse_link
from tests.codes.test_elements import DATES, ITEMS, LOTS

ITEM = ("01", "09521234000013")


@pytest.mark.parametrize(
    ("elements", "link"),
    [
        ([ITEM], "https://id.gs1.org/01/09521234000013"),
        (
            [("17", "261129"), ("10", "26328-01"), ITEM],
            "https://id.gs1.org/01/09521234000013/10/26328-01?17=261129",
        ),
        # the qualifiers always stand in the order 22, 10, 21 (URI Syntax)
        (
            [ITEM, ("21", "7"), ("10", "A"), ("22", "2")],
            "https://id.gs1.org/01/09521234000013/22/2/10/A/21/7",
        ),
        # GS1 syntax engine, dl.c: weight, price and date are in the query
        (
            [("01", "09520123456788"), ("3103", "000195"), ("3922", "0299"), ("17", "201225")],
            "https://id.gs1.org/01/09520123456788?3103=000195&3922=0299&17=201225",
        ),
        # GS1 syntax engine, dl.c: reserved characters as percent codes
        ([ITEM, ("10", "A+B/C")], "https://id.gs1.org/01/09521234000013/10/A%2BB%2FC"),
    ],
)
def test_a_link_is_written_as_the_standard_says(elements: list[Element], link: str) -> None:
    assert build_link(elements) == link
    assert sorted(parse_link(link)) == sorted(elements)


def test_the_shops_own_server_may_stand_in_front() -> None:
    link = build_link([ITEM], "https://example.com/tofu/")
    assert link == "https://example.com/tofu/01/09521234000013"
    assert parse_link(link) == (ITEM,)


@pytest.mark.parametrize(
    "domain",
    ["example.com", "ftp://example.com", "https://", "https://example.com?a=b", "https://a b",
     "https://example.com#x", "https://[x"],
)  # fmt: skip
def test_what_is_no_server_is_refused(domain: str) -> None:
    with pytest.raises(BadSymbol):
        build_link([ITEM], domain)


@pytest.mark.parametrize(
    ("link", "why"),
    [
        ("https://id.gs1.org/01/09521234000013?10=A", "(10) stands in its query"),
        ("https://id.gs1.org/01/09521234000013/21/7/10/A", "'10' does not belong into its path"),
        ("https://id.gs1.org/01/09521234000013/10/A/10/A", "'10' does not belong into its path"),
        ("https://id.gs1.org/01/09521234000013/17/261129", "'17' does not belong into its path"),
        ("https://id.gs1.org/01/09521234000013?17=261129&17=261129", "(17) stands in it twice"),
        ("https://id.gs1.org/01/09521234000013?01=09521234000013", "(01) stands in it twice"),
        ("https://id.gs1.org/01/9521234000013", "it has 13 characters instead of 14"),
        ("https://id.gs1.org/01/09521234000014", "its last digit is 4"),
        ("https://id.gs1.org/01/09521234000013/10", "an identifier in its path has no value"),
        ("https://id.gs1.org/01/09521234000013/", "an identifier in its path has no value"),
        ("https://id.gs1.org/01/09521234000013/10/", "it has 0 characters"),
        ("https://id.gs1.org/01/09521234000013/10/A%20B", "' ' is not in GS1's set"),
        ("https://id.gs1.org/01/09521234000013?17=261301", "there is no month 13"),
        ("https://id.gs1.org/01/09521234000013?175=1", "175 in its query is not an application"),
        ("https://example.com/tofu", "no item number /01/ stands in its path"),
        ("ftp://id.gs1.org/01/09521234000013", "it begins with neither https:// nor http://"),
        ("https://[id.gs1.org/01/09521234000013", "it is not a web address"),
        ("https://id.gs1.org/01/0952123\n4000013", "neither spaces nor letters outside ASCII"),
        ("https://id.gs1.org/01/09521234000013?3922=٣", "neither spaces nor letters outside"),
    ],
)
def test_a_wrong_link_is_refused(link: str, why: str) -> None:
    with pytest.raises(BadSymbol) as refusal:
        parse_link(link)
    assert why in str(refusal.value)


def test_words_in_the_query_that_are_no_identifiers_pass() -> None:
    link = "HTTPS://id.gs1.org/01/09521234000013?linkType=all&17=261129&&=#top"
    assert parse_link(link) == (ITEM, ("17", "261129"))


def test_a_link_without_an_item_is_not_written() -> None:
    with pytest.raises(BadSymbol) as refusal:
        build_link([])
    assert str(refusal.value) == "Cannot write a Digital Link: no item number (01) is given."


LABELS = st.fixed_dictionaries(
    {"01": ITEMS},
    optional={"10": LOTS, "21": LOTS, "22": LOTS, "15": DATES, "17": DATES,
              "3103": st.integers(0, 999_999).map("{:06}".format)},
).map(lambda values: list(values.items()))  # fmt: skip


@given(LABELS)
def test_what_is_linked_is_read_back_by_us_and_by_biip(elements: list[Element]) -> None:
    link = build_link(elements)
    assert set(parse_link(link)) == set(elements)
    other = GS1DigitalLinkURI.parse(link)
    assert {(e.ai.ai, e.value) for e in other.element_strings} == set(elements)


@given(st.text(max_size=80))
def test_any_text_behind_a_server_is_read_or_refused(text: str) -> None:
    for link in (text, "https://id.gs1.org/" + text, "https://id.gs1.org/01/09521234000013" + text):
        try:
            found = parse_link(link)
        except BadSymbol:
            continue
        assert found[0][0] == "01"
