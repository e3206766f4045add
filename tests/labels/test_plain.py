"""What nobody can see does not come into a text."""

from __future__ import annotations

import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.plain import plain_text


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("To\u200bfu", "Tofu"),  # zero width space
        ("To\u200dfu\ufeff", "Tofu"),  # zero width joiner, byte order mark
        ("\u202eufoT\u202c", "ufoT"),  # right-to-left override: it would read Tofu
        ("\u2066Tofu\u2069", "Tofu"),  # isolates
        ("To\u00adfu", "Tofu"),  # soft hyphen
        ("14\u00a0oz\u202f\u2007", "14 oz  "),  # spaces that do not break
        ("five\u2011spice", "five-spice"),
        ("a\x07b\x1b[0m", "ab[0m"),
        ("\u3164Tofu\u2800", "Tofu"),  # letters that are drawn as nothing
        ("Tofu\ufe0f\U000e0041", "Tofu"),  # variation selector, tag
        ("two\u2028lines", "two lines"),
        ("cafe\u0301", "café"),
        ("one\n\ttwo", "one\n\ttwo"),
        ("豆腐 đậu hũ ℮ −18 °C", "豆腐 đậu hũ ℮ −18 °C"),
    ],
)
def test_what_is_not_seen_is_taken_out(text: str, plain: str) -> None:
    assert plain_text(text) == plain


@given(st.text())
def test_a_plain_text_stays_as_it_is_and_holds_nothing_unseen(text: str) -> None:
    plain = plain_text(text)
    assert plain_text(plain) == plain
    unseen = {"Cc", "Cf", "Zl", "Zp"}
    assert not [c for c in plain if unicodedata.category(c) in unseen and c not in "\n\t\r"]


def test_no_character_of_unicode_that_is_a_space_stays_but_the_plain_one() -> None:
    every = map(chr, (n for n in range(sys.maxunicode) if not 0xD800 <= n < 0xE000))
    spaces = {c for c in every if c.isspace() or unicodedata.category(c) == "Zs"}
    assert {plain_text(c) for c in spaces} <= {" ", "", "\n", "\t", "\r"}
