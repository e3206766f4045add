"""A day closed by a clock that ran ahead is opened again, and no figure of it counts meanwhile."""

from __future__ import annotations

from datetime import date

import pytest

from counter.errors import DaySealed, NotFound, Refused
from tests.conftest import ShopInHand


def test_a_shop_closed_ahead_of_its_day_can_be_opened_again(hand: ShopInHand) -> None:
    batch = hand.batch("firm", 48)
    hand.sell("firm-block", cash=325)
    hand.shop.evening.close_day(cash=15325)
    hand.clock.set("2026-11-27 10:00")  # the computer's date is wrong
    hand.sell("firm-block", cash=325)
    hand.shop.evening.close_day(cash=15325)
    hand.clock.set("2026-11-25 10:00")
    with pytest.raises(DaySealed) as refusal:
        hand.sell("firm-block", cash=325)
    assert str(refusal.value) == (
        "Cannot write into day 2026-11-25: days up to 2026-11-27 are closed, and "
        "this computer believes it is Wednesday 2026-11-25. Check the date of this computer, then reopen day 2026-11-27 with a reason."
    )
    made = hand.shop.evening.reopen_day("the clock was wrong", by="Rosa")
    assert (made.day, made.sealed) == (date(2026, 11, 27), date(2026, 11, 24))
    assert hand.shop.desk.sealed_until() == date(2026, 11, 24)
    hand.sell("firm-block", cash=325)
    assert hand.on_hand(batch.lot) == 46
    assert hand.shop.evening.close_day(cash=15325).day == date(2026, 11, 25)
    assert [
        c.day.day for c in hand.shop.closings.between(date(2026, 11, 1), date(2026, 11, 30))
    ] == [24, 25]
    hand.clock.set("2026-11-27 19:00")
    hand.sell("firm-block", cash=325)
    last = hand.shop.evening.close_day(cash=15650)
    assert (last.day, last.sales, last.cash.variance) == (date(2026, 11, 27), 2, 0)
    assert all(lot.balances for lot in last.lots)
    days = hand.shop.closings.between(date(2026, 11, 25), date(2026, 11, 27))
    assert [c.day.day for c in days] == [25, 27]
    assert hand.shop.closings.between(date(2026, 11, 25), date(2026, 11, 25)) == [days[0]]
    assert hand.shop.audit.check().sound


def test_several_days_closed_ahead_are_opened_one_after_another(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.shop.evening.close_day()
    for day in (27, 28):
        hand.clock.set(f"2026-11-{day} 10:00")
        hand.sell("firm-block")
        hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 10:00")
    assert hand.shop.evening.reopen_day("the clock was wrong").day == date(2026, 11, 28)
    assert hand.shop.evening.reopen_day("the clock was wrong").day == date(2026, 11, 27)
    assert hand.shop.desk.sealed_until() == date(2026, 11, 24)
    hand.sell("firm-block")
    with pytest.raises(Refused) as refusal:
        hand.shop.evening.reopen_day("once more")
    sentence = "Cannot reopen day 2026-11-25: it is not closed. Only today can be reopened."
    assert str(refusal.value) == sentence


def test_the_very_first_day_closed_ahead_is_opened_again(hand: ShopInHand) -> None:
    hand.clock.set("2027-11-24 10:00")
    hand.batch("firm", 48)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-24 10:00")
    hand.shop.evening.reopen_day("the year was wrong")
    hand.batch("firm", 24)
    hand.sell("firm-block")
    assert hand.shop.evening.close_day().day == date(2026, 11, 24)
    assert hand.shop.audit.check().sound


def test_a_day_opened_again_counts_in_no_sum_until_it_is_closed(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.sell("firm-block")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 10:00")
    hand.sell("firm-block*2")
    hand.shop.evening.close_day()
    hand.shop.evening.reopen_day("one more came in")
    assert [d.day.day for d in hand.shop.reports.span_summary("week").days] == [24]
    hand.sell("firm-block")
    hand.shop.evening.close_day()
    found = hand.shop.reports.span_summary("week")
    assert ([d.day.day for d in found.days], found.sales) == ([24, 25], 3)


def test_a_week_of_nothing_but_a_day_opened_again_is_not_found(hand: ShopInHand) -> None:
    hand.batch("firm", 48)
    hand.shop.evening.close_day()
    hand.shop.evening.reopen_day("one more came in")
    with pytest.raises(NotFound, match="there is no closed day"):
        hand.shop.reports.span_summary("week")
