"""No temperature, no sale; cold food is reheated before it is held hot; minutes out add up.

FDA Food Code 3-501.16, 3-501.19(B), 3-403.11(A),(D). That minutes out of the range add up over
checks, tubs and days is the shop's own rule.
"""

from __future__ import annotations

from datetime import date, time
from decimal import Decimal

import pytest

from counter.errors import Asked, BadInput, NotSafe
from tests.conftest import ShopInHand


def cooled(hand: ShopInHand) -> str:
    """A lot of pudding of 04:10 that was cold before; it is eight o'clock."""
    lot = hand.batch("pudding", 16000).lot
    hand.clock.set("2026-11-24 08:00")
    return lot


@pytest.mark.parametrize("mode", ["hot", "cold", "time"])
def test_a_tub_that_nobody_measured_is_not_opened(hand: ShopInHand, mode: str) -> None:
    lot = hand.batch("pudding", 16000).lot
    with pytest.raises(BadInput, match="its temperature is not measured. Measure it: allowed is"):
        hand.shop.tubs.open_tub(lot, mode, 8000)  # type: ignore[arg-type]
    assert not hand.shop.desk.ledger().tubs


# 3-501.19(B): time as a control begins at 5 °C or below, or at 57 °C or above, as measured.
@pytest.mark.parametrize("celsius", ["5.1", "20", "56.9"])
def test_time_as_a_control_begins_cold_or_hot_as_measured(hand: ShopInHand, celsius: str) -> None:
    lot = hand.batch("pudding", 16000).lot
    with pytest.raises(NotSafe, match=f"it measures {celsius} °C, allowed is 5 °C / 41 °F or bel"):
        hand.shop.tubs.open_tub(lot, "time", 8000, Decimal(celsius))


# 3-403.11(A): 74 °C / 165 °F for 15 seconds; (D): within 2 hours. 165 °F is 73.89 °C.
@pytest.mark.parametrize(
    ("reheated", "minutes", "why"),
    [
        (None, None, "how hot it was reheated, and in how many minutes, is not noted"),
        ("75", None, "how hot it was reheated, and in how many minutes, is not noted"),
        (None, 40, "how hot it was reheated, and in how many minutes, is not noted"),
        ("73.8", 40, "it was reheated to 73.8 °C, needed is 74 °C / 165 °F in all parts"),
        ("75", 121, "reheating it took 121 minutes, allowed are 120"),
        ("73.89", 120, ""),
        ("74", 0, ""),
    ],
)
def test_cold_food_is_reheated_before_it_is_held_hot(
    hand: ShopInHand, reheated: str | None, minutes: int | None, why: str
) -> None:
    lot = cooled(hand)
    celsius = Decimal(reheated) if reheated else None

    def opened() -> str:
        return hand.shop.tubs.open_tub(
            lot, "hot", 8000, Decimal(60), reheated=celsius, reheat_minutes=minutes
        ).tub

    if not why:
        assert hand.shop.desk.records_of(date(2026, 11, 24))
        opened()
        (record,) = hand.shop.desk.records_of(date(2026, 11, 24))[-1]["tubs"]
        assert (record.reheated, record.reheat_minutes) == (celsius, minutes)  # type: ignore[attr-defined]
        return
    with pytest.raises(NotSafe, match=why):
        opened()
    assert not hand.shop.desk.ledger().tubs


def test_a_hot_tub_straight_from_the_cook_needs_no_reheating(hand: ShopInHand) -> None:
    lot = hand.hot().lot
    assert hand.shop.tubs.open_tub(lot, "hot", 8000, Decimal(80)).mode == "hot"


def test_what_began_to_cool_or_stood_cold_is_reheated_too(hand: ShopInHand) -> None:
    lot = hand.hot().lot
    hand.clock.set("2026-11-24 05:30")
    hand.shop.amendments.note_cooling(lot, "21", time(5, 20))
    with pytest.raises(NotSafe, match="it was cooled"):
        hand.shop.tubs.open_tub(lot, "hot", 8000, Decimal(60))
    other = hand.batch("pudding", 16000).lot
    hand.shop.tubs.end_tub(hand.shop.tubs.open_tub(other, "cold", 8000, Decimal(4)).tub, 8000, True)
    with pytest.raises(NotSafe, match="it was cooled"):
        hand.shop.tubs.open_tub(other, "hot", 8000, Decimal(60))


def test_only_a_hot_tub_is_reheated(hand: ShopInHand) -> None:
    lot = hand.batch("pudding", 16000).lot
    with pytest.raises(BadInput, match="only a hot tub is reheated"):
        hand.shop.tubs.open_tub(
            lot, "cold", 8000, Decimal(4), reheated=Decimal(75), reheat_minutes=9
        )


# -- minutes out of the range add up


def warm_for(hand: ShopInHand, tub: str, minutes: int) -> None:
    """Last measured good so many minutes before it is measured good again, too warm between."""
    hand.clock.forward(minutes=minutes - 1)
    hand.shop.tubs.check_tub(tub, Decimal(12))
    hand.clock.forward(minutes=1)
    hand.shop.tubs.check_tub(tub, Decimal(4))


def test_minutes_out_of_the_range_add_up_over_checks(hand: ShopInHand) -> None:
    _, tub = hand.pudding()
    warm_for(hand, tub, 100)
    warm_for(hand, tub, 139)
    assert hand.shop.desk.ledger().tubs[tub].out == 239
    assert hand.sell("cup-small").lines
    (shown,) = next(p for p in hand.shop.counter.shelf().products if p.product == "pudding").tubs
    assert shown.minutes == 1
    warm_for(hand, tub, 2)
    with pytest.raises(NotSafe) as refused:
        hand.sell("cup-small")
    assert str(refused.value) == (
        f"Cannot sell cup-small: tub {tub} was out of its temperature for 241 minutes in all. "
        "Allowed are 240: throw it away."
    )
    assert [(g.tub, g.reason, g.surely) for g in hand.shop.waste.must_go()] == [
        (tub, "temperature", True)
    ]
    (gone,) = hand.shop.tubs.end_tub(tub, hand.shop.desk.ledger().tubs[tub].level, False)
    assert gone.reason == "temperature"


def test_a_tub_put_back_and_opened_again_goes_on_with_its_minutes(hand: ShopInHand) -> None:
    batch, tub = hand.pudding()
    warm_for(hand, tub, 150)
    hand.shop.tubs.end_tub(tub, 8000, True)
    assert hand.shop.desk.ledger().rows[batch.lot].lot.out == 150
    again = hand.shop.tubs.open_tub(batch.lot, "cold", 8000, Decimal(4)).tub
    warm_for(hand, again, 90)
    with pytest.raises(NotSafe, match="240 minutes in all"):
        hand.sell("cup-small")
    with pytest.raises(NotSafe, match="240 minutes in all"):
        hand.shop.tubs.end_tub(again, 8000, True)


def test_by_time_it_has_what_its_lot_has_left(hand: ShopInHand) -> None:
    batch, tub = hand.pudding()
    warm_for(hand, tub, 150)
    hand.shop.tubs.end_tub(tub, 8000, True)
    out = hand.shop.tubs.open_tub(batch.lot, "time", 8000, Decimal(4))
    opened = hand.clock()
    assert (out.until - opened).total_seconds() == 90 * 60
    hand.clock.forward(minutes=90)
    with pytest.raises(NotSafe, match="out for 4 hours in all, 150 minutes of them before 06:40"):
        hand.sell("cup-small")


def test_minutes_go_over_the_closing_with_tub_and_lot(hand: ShopInHand) -> None:
    batch, tub = hand.pudding()
    warm_for(hand, tub, 100)
    hand.shop.tubs.end_tub(tub, 8000, True)
    standing = hand.shop.tubs.open_tub(batch.lot, "cold", 8000, Decimal(4)).tub
    warm_for(hand, standing, 20)
    closing = hand.shop.evening.close_day()
    assert [c.lot.out for c in closing.carried] == [100]
    assert [t.out for t in closing.tubs] == [120]
    hand.clock.set("2026-11-25 09:00")
    hand.shop.tubs.check_tub(standing, Decimal(4))  # nobody measured in the night: no minute more
    assert hand.shop.desk.ledger().tubs[standing].out == 120
    warm_for(hand, standing, 120)
    with pytest.raises(NotSafe, match="240 minutes in all"):
        hand.sell("cup-small")


# -- what is noted late


def test_a_check_noted_late_is_judged_by_its_own_time(hand: ShopInHand) -> None:
    _, tub = hand.pudding()
    at = {}
    for clock in ("06:10", "07:10", "08:10"):
        hand.clock.set(f"2026-11-24 {clock}")
        at[clock] = hand.clock()
    hand.shop.tubs.check_tub(tub, Decimal(4))
    late = hand.shop.tubs.check_tub(tub, Decimal(9), at["07:10"])
    assert (late.failed, late.out) == (None, 240)  # 04:10 to 08:10, no good one between
    with pytest.raises(NotSafe, match="240 minutes in all"):
        hand.sell("cup-small")
    with pytest.raises(Asked, match=f"what is noted of {tub} is of 06:10, 2 h 00 min ago"):
        hand.shop.tubs.check_tub(tub, Decimal(4), at["06:10"])
    hand.shop.desk.questions.given = {"late": "it stands on the paper at the counter"}
    assert hand.shop.tubs.check_tub(tub, Decimal(4), at["06:10"]).out == 120
    assert hand.sell("cup-small").lines
    assert hand.shop.desk.ledger().tubs[tub].good_at == at["08:10"]


def test_no_check_is_noted_for_a_time_before_the_tub_was_opened(hand: ShopInHand) -> None:
    early = hand.clock()
    hand.clock.forward(hours=1)
    _, tub = hand.pudding()
    with pytest.raises(BadInput, match="it was opened at 2026-11-24 05:10"):
        hand.shop.tubs.check_tub(tub, Decimal(4), early)


# -- the true reason


@pytest.mark.parametrize(
    ("mode", "measured", "reason"),
    [
        ("time", None, "time"),
        ("hot", Decimal(40), "temperature"),
        ("hot", None, "unmeasured"),
        ("hot", Decimal(60), "time"),
    ],
)
def test_what_is_thrown_away_at_closing_carries_its_true_reason(
    hand: ShopInHand, mode: str, measured: Decimal | None, reason: str
) -> None:
    batch, tub = hand.pudding(mode=mode)
    hand.clock.forward(hours=5)
    if measured is not None:
        hand.shop.tubs.check_tub(tub, measured)
    preview = hand.shop.evening.closing_preview().lots[0].wasted
    assert hand.shop.evening.close_day().lots[0].wasted == preview == {reason: 8000}
    assert batch.lot
