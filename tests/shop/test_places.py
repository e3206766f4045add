"""A place measured out of its range puts a clock on what lies in it, and four hours stop it.

FDA Food Code 3-501.16(A) says what a place must keep; 3-501.19(B), 4 hours without it, is the
measure. That minutes add up, and count from the last good reading, is the shop's own rule.
"""

from __future__ import annotations

from datetime import time
from decimal import Decimal

import pytest

from counter.errors import BadInput, NotFound, NotSafe, Refused
from counter.shop import Shop
from counter.shop.desk import Desk
from tests.conftest import CATALOGUE, SETTINGS, Maker, ShopInHand

PLACES = '\n[holding]\nfridge = "cold"\ndisplay = "cold"\n"hot well" = "hot"\ntable = "room"\n'
WARM, COLD = Decimal(9), Decimal(4)


@pytest.fixture
def hand(make: Maker) -> ShopInHand:
    """A lot of firm that was cold at four; it is eight, and the fridge was just measured good."""
    hand = make(SETTINGS + PLACES)
    hand.batch("firm")
    hand.clock.set("2026-11-24 08:00")
    hand.shop.records.note_temperature("fridge", COLD)
    return hand


LOT = "26328-01"


def lot(hand: ShopInHand):  # type: ignore[no-untyped-def]
    return hand.shop.desk.ledger().rows[LOT].lot


def minutes(hand: ShopInHand) -> int:
    return int(lot(hand).out_by(hand.clock()))


def measure(hand: ShopInHand, clock: str, celsius: Decimal, place: str = "fridge") -> None:
    hand.clock.set(f"2026-11-24 {clock}")
    hand.shop.records.note_temperature(place, celsius)


def test_a_batch_lies_where_its_product_does_else_in_the_first_cold_place(make: Maker) -> None:
    named = CATALOGUE.replace("[products.soft]", '[products.soft]\nplace = "display"')
    named = named.replace("[products.milk]", '[products.milk]\nplace = "hot well"')
    hand = make(SETTINGS + PLACES, named)
    lots = {product: hand.batch(product).lot for product in ("firm", "soft", "milk")}
    rows = hand.shop.desk.ledger().rows
    assert {p: rows[code].lot.place for p, code in lots.items()} == {
        "firm": "fridge", "soft": "display", "milk": "fridge",
    }  # fmt: skip
    assert 'place = "display"' in hand.shop.products.catalogue_text()


def test_where_no_place_is_cold_a_batch_lies_in_none(make: Maker) -> None:
    hand = make(SETTINGS + '\n[holding]\n"hot well" = "hot"\n')
    hand.batch("firm")
    assert lot(hand).place == ""


def test_a_warm_place_puts_a_clock_on_its_lots_from_the_last_good_reading(hand: ShopInHand) -> None:
    measure(hand, "10:00", WARM)
    assert minutes(hand) == 120
    (band,) = hand.shop.counter.shelf().bands
    assert (band.place, band.lots) == ("fridge", {LOT: 120})
    assert band.reading is not None
    assert (band.reading.celsius, f"{band.good_at:%H:%M}") == (WARM, "08:00")
    assert hand.sell("firm-block").lines
    hand.clock.set("2026-11-24 11:59")
    assert hand.sell("firm-block").lines
    hand.clock.set("2026-11-24 12:00")
    with pytest.raises(NotSafe) as refused:
        hand.sell(f"firm-block@{LOT}")
    assert str(refused.value) == (
        f"Cannot sell lot {LOT}: it was out of its temperature for 240 minutes in all, allowed are "
        "240. Put it aside until it is released, or throw it away; the local food code decides."
    )
    with pytest.raises(NotSafe, match="240 minutes"):
        hand.shop.labels.label(LOT)
    assert [(g.lot, g.reason, g.surely) for g in hand.shop.waste.must_go()] == [
        (LOT, "temperature", False)
    ]


def test_a_good_reading_in_time_ends_the_clock_and_the_minutes_add_up(hand: ShopInHand) -> None:
    measure(hand, "09:00", WARM)
    measure(hand, "10:00", COLD)
    assert (minutes(hand), hand.shop.counter.shelf().bands) == (120, ())
    measure(hand, "13:00", COLD)
    assert minutes(hand) == 120  # between two good ones it was good
    measure(hand, "13:30", WARM)
    measure(hand, "15:00", COLD)
    assert minutes(hand) == 240
    with pytest.raises(NotSafe, match="240 minutes"):
        hand.sell("firm-block")


def test_a_minute_out_that_has_begun_counts_whole(hand: ShopInHand) -> None:
    measure(hand, "09:00", WARM)
    measure(hand, "10:00:01", COLD)
    assert minutes(hand) == 121


def test_a_reading_noted_late_is_judged_by_its_own_time(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-24 10:00")
    early = hand.clock()
    measure(hand, "12:00", COLD)
    assert hand.sell("firm-block").lines
    hand.shop.records.note_temperature("fridge", WARM, at=early)
    assert minutes(hand) == 240
    with pytest.raises(NotSafe, match="240 minutes"):
        hand.sell("firm-block")
    hand.clock.set("2026-11-24 13:00")
    fresh = Shop(Desk(hand.shop.desk.books, hand.shop.desk.settings, hand.clock)).desk.standing()
    assert fresh.rows[LOT].lot == lot(hand)


def test_once_a_person_acts_it_is_stopped_until_somebody_decides(hand: ShopInHand) -> None:
    measure(hand, "09:00", WARM)
    measure(hand, "12:30", WARM)
    assert lot(hand).stopped == "it was out of its temperature for 240 minutes and more"
    measure(hand, "12:35", WARM)  # says nothing new
    assert len(hand.shop.desk.ledger().holds) == 1
    measure(hand, "12:40", COLD)
    with pytest.raises(NotSafe, match="it is stopped: it was out of its temperature for 240"):
        hand.sell("firm-block")
    hand.shop.holds.hold(LOT, False, "measured in the middle: 4 °C all the time", by="Rosa")
    assert (minutes(hand), lot(hand).stopped) == (0, "")
    assert hand.sell("firm-block").lines
    measure(hand, "13:00", WARM)
    assert minutes(hand) == 20  # from the last good reading on, not from before it was decided


def test_what_the_program_refuses_without_a_record_can_be_released_too(hand: ShopInHand) -> None:
    measure(hand, "09:00", WARM)
    hand.clock.set("2026-11-24 13:00")
    assert lot(hand).stopped == ""
    hand.shop.holds.hold(LOT, False, "measured in the middle: 4 °C all the time", by="Rosa")
    assert hand.sell("firm-block").lines
    hand.clock.set("2026-11-24 17:00")  # the fridge was not measured good since
    with pytest.raises(NotSafe, match="240 minutes"):
        hand.sell("firm-block")


def test_a_release_for_another_reason_takes_no_minute_off(hand: ShopInHand) -> None:
    measure(hand, "09:00", WARM)
    measure(hand, "10:00", COLD)
    hand.shop.holds.hold(LOT, True, "looked odd", by="Rosa")
    hand.shop.holds.hold(LOT, False, "only dust", by="Rosa")
    assert minutes(hand) == 120


def test_what_cools_still_goes_by_the_clock_of_its_cooling(hand: ShopInHand) -> None:
    other = hand.hot("soft", 48).lot  # warm from the cook, and the fridge is warm
    measure(hand, "11:00", WARM)
    assert hand.shop.desk.ledger().rows[other].lot.out_by(hand.clock()) == 0


# -- moving


def test_a_lot_out_of_a_warm_place_stays_out_until_something_good_is_measured(
    hand: ShopInHand,
) -> None:
    measure(hand, "09:00", WARM)
    hand.clock.set("2026-11-24 10:00")
    hand.shop.records.move_lot(LOT, "Display")
    hand.clock.set("2026-11-24 11:00")
    assert minutes(hand) == 180
    (band,) = hand.shop.counter.shelf().bands
    assert (band.place, band.reading, band.lots) == ("display", None, {LOT: 60})
    measure(hand, "11:30", COLD, "display")
    assert minutes(hand) == 210
    measure(hand, "14:00", WARM, "fridge")  # nothing of it lies there any more
    assert minutes(hand) == 210


def test_the_food_itself_measured_cold_ends_its_clock(hand: ShopInHand) -> None:
    measure(hand, "09:00", WARM)
    hand.clock.set("2026-11-24 10:00")
    hand.shop.records.move_lot(LOT, "display", Decimal("4.5"))
    hand.clock.set("2026-11-24 13:00")
    assert minutes(hand) == 120
    with pytest.raises(Refused, match="it lies there already"):
        hand.shop.records.move_lot(LOT, "display")


# 3-501.19(B): it begins at 5 °C or below, or at 57 °C or above, as measured.
@pytest.mark.parametrize(
    ("celsius", "why"),
    [
        (None, "table does not keep it cold, and the food is not measured"),
        ("5.5", "it measures 5.5 °C, allowed is 5 °C / 41 °F or below, or 57"),
        ("5", ""),
    ],
)
def test_food_is_measured_before_it_goes_on_display_unchilled(
    hand: ShopInHand, celsius: str | None, why: str
) -> None:
    measured = Decimal(celsius) if celsius else None
    if not why:
        assert hand.shop.records.move_lot(LOT, "table", measured).kind == "room"
        return
    with pytest.raises(NotSafe if celsius else BadInput, match=why):
        hand.shop.records.move_lot(LOT, "table", measured)
    assert lot(hand).place == "fridge"


def test_blocks_on_an_unchilled_display_have_four_hours_from_the_move(hand: ShopInHand) -> None:
    hand.shop.records.move_lot(LOT, "table", COLD)
    hand.clock.set("2026-11-24 11:59")
    assert hand.sell("firm-block").lines
    assert [(b.place, b.kind, b.lots) for b in hand.shop.counter.shelf().bands] == [
        ("table", "room", {LOT: 1})
    ]
    hand.clock.set("2026-11-24 12:00")
    with pytest.raises(NotSafe, match="240 minutes"):
        hand.sell("firm-block")
    assert [g.reason for g in hand.shop.waste.must_go()] == ["time"]


def test_put_back_it_goes_on_with_its_minutes_and_stays_out_until_it_is_cold(
    hand: ShopInHand,
) -> None:
    hand.shop.records.move_lot(LOT, "table", COLD)
    hand.clock.set("2026-11-24 10:00")
    hand.shop.records.move_lot(LOT, "fridge")
    hand.clock.set("2026-11-24 10:30")
    assert minutes(hand) == 150
    hand.shop.records.move_lot(LOT, "fridge", COLD)
    hand.clock.set("2026-11-24 16:00")
    assert minutes(hand) == 150
    hand.shop.records.move_lot(LOT, "table", COLD)
    hand.clock.set("2026-11-24 17:30")
    with pytest.raises(NotSafe, match="240 minutes"):
        hand.sell("firm-block")


def test_cold_food_is_not_moved_into_a_hot_place(hand: ShopInHand) -> None:
    with pytest.raises(NotSafe, match="it was cooled, and is held hot only when reheated"):
        hand.shop.records.move_lot(LOT, "hot well", Decimal(60))


def test_a_place_nobody_set_up_is_refused(hand: ShopInHand) -> None:
    with pytest.raises(NotFound, match="Cannot move lot 26328-01: there is no place 'cellar'"):
        hand.shop.records.move_lot(LOT, "cellar")
    with pytest.raises(Refused, match="table: it is not chilled: what lies there has 4 hours"):
        hand.shop.records.note_temperature("table", COLD)


# -- over the closing


@pytest.mark.parametrize("closed", [True, False])
def test_minutes_and_clock_go_over_the_night(hand: ShopInHand, closed: bool) -> None:
    measure(hand, "09:00", WARM)
    measure(hand, "09:30", COLD)
    hand.clock.set("2026-11-25 01:00")
    hand.shop.records.note_temperature("fridge", WARM)
    if closed:
        closing = hand.shop.evening.close_day()
        assert [(p.place, p.bad is not None) for p in closing.places] == [("fridge", True)]
        assert closing.lots[0].out == 90 + 15 * 60 + 30
    hand.clock.set("2026-11-25 08:00")
    assert hand.shop.desk.standing().rows[LOT].lot.out_by(hand.clock()) == 90 + 22 * 60 + 30
    with pytest.raises(NotSafe, match="minutes"):
        hand.sell("firm-block")


def test_minutes_of_the_day_before_add_to_those_of_today(hand: ShopInHand) -> None:
    measure(hand, "09:00", WARM)
    measure(hand, "10:00", COLD)
    hand.clock.set("2026-11-24 18:00")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    hand.shop.records.note_temperature("fridge", COLD)
    hand.clock.set("2026-11-25 09:00")
    hand.shop.records.note_temperature("fridge", WARM)
    assert minutes(hand) == 120 + 60
    assert [b.lots for b in hand.shop.counter.shelf().bands] == [{LOT: 60}]


def test_a_reading_forgotten_on_a_closed_day_acts_too(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-24 18:00")
    hand.shop.records.note_temperature("fridge", COLD)
    day = hand.shop.evening.close_day().day
    hand.clock.set("2026-11-25 08:00")
    hand.shop.closed_days.forgotten_temperature(day, "fridge", WARM, "on paper", time(12, 0))
    assert minutes(hand) == 0  # it was measured good since
    hand.shop.closed_days.forgotten_temperature(day, "fridge", WARM, "on paper", time(23, 0))
    with pytest.raises(
        NotSafe, match="it is stopped: it was out of its temperature for 240 minutes and more"
    ):
        hand.sell("firm-block")


def test_a_tub_brings_the_minutes_of_its_lot_and_its_own_go_back(make: Maker) -> None:
    hand = make(SETTINGS + PLACES)
    batch = hand.batch("pudding", 16000).lot
    hand.clock.set("2026-11-24 08:00")
    measure(hand, "08:00", COLD)
    measure(hand, "09:00", WARM)
    measure(hand, "10:00", COLD)
    tub = hand.shop.tubs.open_tub(batch, "cold", 8000, COLD)
    assert tub.out == 120
    hand.clock.set("2026-11-24 11:00")
    hand.shop.tubs.check_tub(tub.tub, WARM)
    hand.clock.set("2026-11-24 11:30")
    hand.shop.tubs.check_tub(tub.tub, COLD)
    hand.shop.tubs.end_tub(tub.tub, 8000, True)
    assert minutes(hand) == 210


def test_food_that_measures_warm_itself_has_a_clock_however_cold_its_place_is(
    hand: ShopInHand,
) -> None:
    # Food Code 3-501.16(A), with 3-501.19(B) as the measure; a cold place proves nothing of it.
    hand.clock.set("2026-11-24 08:00")
    hand.shop.records.move_lot(LOT, "fridge", COLD)
    hand.clock.set("2026-11-24 09:00")
    hand.shop.records.move_lot(LOT, "fridge", Decimal(20))
    measure(hand, "09:30", COLD)  # the refrigerator, not the food
    assert minutes(hand) == 90
    hand.clock.set("2026-11-24 12:05")
    with pytest.raises(NotSafe, match="245 minutes"):
        hand.sell("firm-block")


def test_food_that_is_measured_good_in_time_again_keeps_its_minutes(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-24 08:00")
    hand.shop.records.move_lot(LOT, "fridge", COLD)
    hand.clock.set("2026-11-24 09:00")
    hand.shop.records.move_lot(LOT, "fridge", Decimal(20))
    hand.clock.set("2026-11-24 10:00")
    hand.shop.records.move_lot(LOT, "fridge", COLD)
    hand.clock.set("2026-11-24 18:00")
    assert minutes(hand) == 120
    assert hand.sell("firm-block").lines
