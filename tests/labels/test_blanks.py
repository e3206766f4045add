"""Blanks: a geometry that cannot be is refused, and all in the table can."""

from __future__ import annotations

from typing import Any

import pytest

from labels import Blank, blank_named
from labels.blanks import BLANKS
from labels.errors import LabelError


@pytest.mark.parametrize("blank", BLANKS.values(), ids=lambda blank: blank.name)
def test_a_blank_is_named_by_its_measures(blank: Blank) -> None:
    assert blank.name.endswith(f"{blank.width:g}x{blank.height:g}")
    right, bottom = blank.corner_of(blank.per_page)
    assert right + blank.width <= blank.page_mm[0] + 0.01
    assert bottom + blank.height <= blank.page_mm[1] + 0.01


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ({"width": 0}, "0 x 30 mm is no size of a label"),
        ({"width": float("nan")}, "is no size of a label"),
        ({"width": 4.9}, "is no size of a label"),
        ({"height": 4.9}, "is no size of a label"),
        ({"width": 420.1}, "is no size of a label"),
        ({"height": 600.1}, "is no size of a label"),
        ({"dpi": 7}, "no label printer has 7 dots an inch"),
        ({"columns": 0}, "0 columns and 1 rows are not to be had"),
        ({"columns": 2}, "several labels a page need the size of the page"),
        ({"columns": 2, "page": (90.0, 30.0)}, "its 2 columns take 100.0 mm of the 90.0 mm"),
        ({"rows": 2, "page": (50.0, 60.0), "pitch_y": 20}, "its rows lie over one another"),
        ({"page": (50.0, 30.0), "left": -1}, "its columns lie over one another"),
        ({"keep_clear": 12}, "a rim of 12 mm leaves nothing to print on"),
    ],
)
def test_a_geometry_that_cannot_be_is_refused(told: dict[str, Any], why: str) -> None:
    with pytest.raises(LabelError, match=why):
        Blank(**{"name": "mine", "width": 50, "height": 30, **told})


def test_the_least_and_the_greatest_blank_are_blanks() -> None:
    assert Blank(name="least", width=5, height=5).per_page == 1
    assert Blank(name="greatest", width=420, height=600).per_page == 1


def test_positions_count_row_by_row_from_the_top_left() -> None:
    blank = Blank(
        name="mine", width=50, height=30, columns=2, rows=2, pitch_x=52, pitch_y=31,
        left=4, top=5, page=(120.0, 80.0),
    )  # fmt: skip
    assert [blank.corner_of(n) for n in (1, 2, 3, 4)] == [(4, 5), (56, 5), (4, 36), (56, 36)]


def test_an_unknown_blank_names_those_there_are() -> None:
    with pytest.raises(LabelError, match=r"^Cannot use blank 'roll': it is not known\. Use one of"):
        blank_named("roll")
