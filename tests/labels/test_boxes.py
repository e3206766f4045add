"""Boxes of a label beside and below each other."""

from __future__ import annotations

import pytest

from labels.boxes import Box, Spot, beside, stack


def box(width: float, height: float, statement: str) -> Box:
    """An empty box, of whose place a symbol in its upper left corner tells."""
    return Box(width, height, (), (Spot(0, 0.0, 0.0, 1, 1.0),), widest=statement)


@pytest.mark.parametrize(
    ("width", "foot", "width_needed", "places"),
    [
        # the right one at the right edge, and their feet in line
        (100, True, 55, [(0, 20), (80, 0)]),
        (55, True, 55, [(0, 20), (35, 0)]),
        # or their heads
        (100, False, 55, [(0, 0), (80, 0)]),
        # too wide together: it says so, and nothing is pushed over anything
        (40, True, 55, [(0, 20), (35, 0)]),
    ],
)
def test_of_two_boxes_side_by_side_the_right_one_stands_at_the_right_edge(
    width: float, foot: bool, width_needed: float, places: list[tuple[float, float]]
) -> None:
    both = beside(box(30, 10, "date"), box(20, 30, "symbol"), width, 5, foot=foot)
    assert [(spot.x, spot.y) for spot in both.spots] == places
    assert (both.width, both.height, both.widest) == (width_needed, 30, "date")


def test_an_empty_box_takes_no_room_beside_another_or_below_it() -> None:
    one, empty = box(30, 10, "date"), Box(0, 0)
    assert beside(one, empty, 100, 5) == beside(empty, one, 100, 5) == one
    assert stack([empty, one, empty], 5).height == 10


def test_boxes_below_each_other_keep_their_distance() -> None:
    both = stack([box(30, 10, "date"), box(20, 30, "symbol")], 5)
    assert [(spot.x, spot.y) for spot in both.spots] == [(0, 0), (0, 15)]
    assert (both.width, both.height, both.widest) == (30, 45, "date")
