"""The coins of the drawer, as far as they are known: what is put in and taken out is among them."""

from __future__ import annotations

from datetime import datetime

import pytest

from counter.trade.drawer import Drawer, DrawerMove, Move
from tests.conftest import ZONE

NOON = datetime(2026, 11, 24, 12, tzinfo=ZONE)
VALUES = (2000, 1000, 500, 100, 25, 10, 5, 1)


@pytest.mark.parametrize(
    ("kind", "amount", "counted", "coins", "expected"),
    [
        # as they were counted
        ("in", 300, {"100": 2, "25": 4}, {1000: 1, 500: 1, 100: 4, 25: 4}, 2000),
        ("out", 200, {"100": 2}, {1000: 1, 500: 1, 100: 0}, 1500),
        # not counted: the fewest, of large ones in and of those that are there out
        ("in", 2600, {}, {2000: 1, 1000: 1, 500: 2, 100: 3}, 4300),
        ("out", 1600, {}, {1000: 0, 500: 0, 100: 1}, 100),
        # a new start: what was there before counts no more
        ("float", 600, {"500": 1, "100": 1}, {500: 1, 100: 1}, 600),
    ],
)
def test_money_put_into_the_drawer_and_taken_out_counts_as_coins(
    kind: Move, amount: int, counted: dict[str, int], coins: dict[int, int], expected: int
) -> None:
    drawer = Drawer(values=VALUES)
    start = {"1000": 1, "500": 1, "100": 2}
    drawer.move(DrawerMove(kind="float", amount=1700, at=NOON, coins=start))
    drawer.move(DrawerMove(kind=kind, amount=amount, at=NOON, coins=counted))
    assert drawer.coins == coins
    assert drawer.expected == expected
