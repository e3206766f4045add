"""Code 128: the fewest symbol characters there can be, and bars that say what went in."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from barcode.charsets import code128 as tables
from barcode.codex import Code128
from hypothesis import given
from hypothesis import strategies as st

from labels.code128 import FNC1, bars_of, character_values, widths
from tests.often import examples

LATCH = {("A", 99): "C", ("A", 100): "B", ("B", 99): "C", ("B", 101): "A", ("C", 100): "B",
         ("C", 101): "A"}  # fmt: skip


def meaning(value: int, code_set: str, shifted: bool) -> tuple[str, str, bool] | None:
    """What one symbol character adds: text, code set after it, whether the next is shifted.

    Written from ISO/IEC 15417, table 1, without looking at the encoder.
    """
    if value == 102:
        return FNC1, code_set, False
    if code_set == "C" and value < 100:
        return f"{value:02}", "C", False
    if shifted and value >= 96:
        return None
    if (code_set, value) in LATCH:
        return "", LATCH[code_set, value], False
    if code_set == "C":
        return None
    if value == 98:
        return "", code_set, True
    if value >= 96:
        return None
    read_in = {"A": "B", "B": "A"}[code_set] if shifted else code_set
    if value < 64:
        return chr(value + 32), code_set, False
    return chr(value - 64 if read_in == "A" else value + 32), code_set, False


def decode(values: list[int]) -> str:
    text, code_set, shifted = "", {103: "A", 104: "B", 105: "C"}[values[0]], False
    for value in values[1:-1]:
        step = meaning(value, code_set, shifted)
        assert step is not None
        added, code_set, shifted = step
        text += added
    assert (values[0] + sum(i * v for i, v in enumerate(values[1:-1], 1))) % 103 == values[-1]
    return text


def spellings(text: str, code_set: str, shifted: bool, room: int) -> Iterator[int]:
    """Lengths of all symbol character sequences of at most ``room`` that say ``text``."""
    if not text and not shifted:
        yield 0
    for value in range(103) if room else ():
        step = meaning(value, code_set, shifted)
        if step is None or not text.startswith(step[0]):
            continue
        for rest in spellings(text[len(step[0]) :], step[1], step[2], room - 1):
            yield rest + 1


@examples(60)
@given(st.text("17Aa\x01" + FNC1, min_size=1, max_size=5))
def test_no_spelling_is_shorter_than_ours(text: str) -> None:
    ours = len(character_values(text)) - 2  # without start and check character
    assert decode(character_values(text)) == text
    for code_set in "ABC":
        assert not any(True for _ in spellings(text, code_set, False, ours - 1))


@given(st.text([chr(c) for c in range(128)] + [FNC1], min_size=1, max_size=60))
def test_the_symbol_characters_say_the_text(text: str) -> None:
    assert decode(character_values(text)) == text


@given(st.from_regex(r"[0-9]{2}(00[1-9]|[0-2][1-9][0-9])-[0-9]{2}", fullmatch=True))
def test_a_lot_code_takes_nine_symbol_characters(lot: str) -> None:
    lot = lot if lot.isascii() else "26328-01"
    # start, two pairs, change to B, three characters and a last pair or two, check
    assert len(character_values(lot)) == 9


@given(
    # the library loses a leading 99, and is shorter by what it lost
    st.text("0123456789ABCabc-/", min_size=1, max_size=20).filter(lambda t: t[:2] != "99")
)
def test_ours_is_never_longer_than_the_librarys(text: str) -> None:
    assert len(character_values(text)) <= len(Code128(text).encoded) + 1


@pytest.mark.parametrize("lot", ["L2632801", "TOFU26328", "26328-2632801", "A12345"])
def test_an_odd_run_of_digits_is_shorter_than_in_the_library(lot: str) -> None:
    assert len(character_values(lot)) == len(Code128(lot).encoded)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("9912345678", [105, 99, 12, 34, 56, 78]),  # five pairs
        ("12345", [104, 17, 99, 23, 45]),  # one digit, then pairs
        ("123A", [104, 17, 18, 19, 33]),  # a change of set would not pay
        ("a\x01b", [104, 65, 98, 65, 66]),  # one control character: shift
        ("a\x01\x02", [103, 98, 65, 65, 66]),  # or the one small letter among them
        ("ab\x01\x02", [104, 65, 66, 101, 65, 66]),  # two and two: change for good
        (FNC1 + "01", [105, 102, 1]),
        ("98", [105, 98]),  # the pair 98 is not the shift character
    ],
)
def test_the_code_sets_are_chosen_as_a_person_would(text: str, values: list[int]) -> None:
    assert character_values(text)[:-1] == values


def test_the_check_character_is_the_one_of_a_published_example() -> None:
    # the example most encyclopaedias give: "PJJ123C" in code set A has check character 54; in B
    # the values are the same and the start is 104, so 55
    assert character_values("PJJ123C") == [104, 48, 42, 42, 17, 18, 19, 35, 55]


def test_the_tables_are_code_128() -> None:
    # ISO/IEC 15417: 11 modules, three bars and three spaces, an even number of dark modules
    assert len(tables.CODES) == 106
    assert len(set(tables.CODES)) == 106
    for code in tables.CODES:
        assert len(code) == 11
        assert len(widths(code)) == 6
        assert code.count("1") % 2 == 0
    assert widths(tables.STOP + "11") == (2, 3, 3, 1, 1, 1, 2)
    assert bars_of([]) == (2, 3, 3, 1, 1, 1, 2)


@given(st.text("0123456789abc", min_size=1, max_size=12))
def test_the_width_is_eleven_modules_a_character_and_thirteen_for_the_stop(text: str) -> None:
    values = character_values(text)
    bars = bars_of(values)
    assert sum(bars) == 11 * len(values) + 13
    assert len(bars) % 2 == 1
    assert set(bars) <= {1, 2, 3, 4}
