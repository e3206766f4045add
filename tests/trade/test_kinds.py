"""What a string decides about money or safety is a ``match`` that knows every value of its type."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import get_args

import pytest

from counter import trade
from counter.trade.drawer import Drawer, DrawerMove
from counter.trade.drawer import Move as DrawerKind
from counter.trade.payments import KINDS, by_kind, in_coins
from counter.trade.temperatures import PlaceKind, held_as
from counter.trade.tubs import Mode, allowed, holds
from counter.trade.waste import REASONS, about

AT = datetime(2026, 11, 26, 9, tzinfo=UTC)
ASKED: list[tuple[tuple[str, ...], Callable[..., object]]] = [
    (KINDS, in_coins),
    (KINDS, by_kind),
    (REASONS, about),
    (get_args(PlaceKind), held_as),
    (get_args(Mode), allowed),
    (get_args(Mode), lambda mode: holds(mode, Decimal(20))),
    (get_args(DrawerKind), lambda kind: Drawer().move(DrawerMove(kind=kind, amount=100, at=AT))),
]


@pytest.mark.parametrize(("kinds", "decide"), ASKED)
def test_every_value_of_a_kind_is_decided_and_no_other(
    kinds: tuple[str, ...], decide: Callable[..., object]
) -> None:
    for kind in kinds:
        decide(kind)
    with pytest.raises(AssertionError, match="unreachable"):
        decide("voucher")


def test_every_match_over_a_kind_ends_where_type_checking_holds_it_complete() -> None:
    """A ``case _`` that does anything else would swallow a kind that is not finished."""
    for file in Path(trade.__file__).parent.glob("*.py"):
        for caught in re.findall(r"case _:\n\s+(\w+)", file.read_text("utf-8")):
            assert caught == "assert_never", file


@pytest.mark.parametrize(
    ("mode", "celsius", "safe"),
    [
        # FDA Food Code 3-501.16(A): 57 °C / 135 °F or above, 5 °C / 41 °F or below; by time alone
        # (3-501.19(B)) food starts as either.
        ("hot", "57", True), ("hot", "56.9", False), ("hot", "5", False),
        ("cold", "5", True), ("cold", "5.1", False), ("cold", "57", False),
        ("time", "57", True), ("time", "5", True), ("time", "20", False),
    ],
)  # fmt: skip
def test_a_temperature_holds_by_the_way_food_is_kept(mode: Mode, celsius: str, safe: bool) -> None:
    assert holds(mode, Decimal(celsius)) is safe
