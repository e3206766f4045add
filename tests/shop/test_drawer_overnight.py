"""What is missing between a closing and the next start is told, and no float hides it."""

from __future__ import annotations

import pytest

from counter.errors import BadInput
from tests.conftest import ShopInHand


def closed_with(hand: ShopInHand, cash: int) -> None:
    """A first day that leaves so much in the drawer."""
    hand.batch("firm", 48)
    hand.sell("firm-block", cash=325)
    hand.shop.evening.close_day(cash=cash, leave=cash)
    hand.clock.set("2026-11-25 09:00")
    hand.batch("firm", 12)


@pytest.mark.parametrize(
    ("counted", "missing"),
    [
        (None, 0),  # nobody noted a start: what was left is taken
        (10000, 0),
        (9000, 1000),
        (10500, -500),  # more than was left
    ],
)
def test_a_start_below_what_was_left_is_missing(
    hand: ShopInHand, counted: int | None, missing: int
) -> None:
    closed_with(hand, 10000)
    if counted is not None:
        hand.shop.evening.move_cash("float", counted)
    cash = hand.shop.evening.close_day(cash=10000 - missing).cash
    assert (cash.opening, cash.start, cash.start_missing) == (10000, 10000 - missing, missing)
    assert cash.variance == 0
    assert hand.shop.reports.span_summary("week").start_missing == missing


def test_another_start_after_cash_has_moved_needs_a_reason(hand: ShopInHand) -> None:
    closed_with(hand, 10000)
    hand.shop.evening.move_cash("float", 10000)
    hand.sell("firm-block", cash=325)
    with pytest.raises(BadInput) as refusal:
        hand.shop.evening.move_cash("float", 9000)
    assert str(refusal.value) == (
        "Cannot book 90.00 float of the drawer: cash has gone in or out today already. "
        "Say why it starts with another amount, with --because."
    )
    hand.shop.evening.move_cash("float", 9000, "counted wrong this morning")
    cash = hand.shop.evening.close_day(cash=9325).cash
    assert (cash.start_missing, cash.variance) == (1000, 0)


@pytest.mark.parametrize("kind", ["float", "in", "out"])
def test_no_amount_below_zero_moves(hand: ShopInHand, kind: str) -> None:
    with pytest.raises(BadInput, match="it is below zero"):
        hand.shop.evening.move_cash(kind, -500, "slip of the key")  # type: ignore[arg-type]
    assert hand.shop.desk.ledger().drawer.expected == 15000


def test_no_closing_counts_or_leaves_less_than_nothing(hand: ShopInHand) -> None:
    hand.batch("firm", 4)
    with pytest.raises(BadInput, match="the cash counted is below zero"):
        hand.shop.evening.close_day(cash=-1)
    with pytest.raises(BadInput, match="less than nothing cannot stay"):
        hand.shop.evening.close_day(cash=100, leave=-5)
