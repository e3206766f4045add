"""What is said when it is too late, or of food that is elsewhere, lets nothing go unasked.

FDA Food Code 3-501.14, .16, .17, .19; that a late word is asked for is the shop's own rule.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from decimal import Decimal

import pytest

from counter.errors import Asked, NotSafe, Refused
from counter.shop.production import BatchNote
from tests.conftest import CATALOGUE, SETTINGS, Clock, Maker, ShopInHand

PLACES = '\n[holding]\nfridge = "cold"\ntable = "room"\nfreezer = "freezer"\n'
CAKE = """
[products.cake]
name = "Tofu Cake"
keeps = 3
cook = false
mould = "10"
recipe = { tofu = "100 g" }
recipe_makes = "1"
label = { net = "4 oz" }
"""
COLD = Decimal(4)


def at(text: str) -> datetime:
    return Clock(f"2026-11-{text}").moment


@pytest.fixture
def hand(make: Maker) -> ShopInHand:
    return make(SETTINGS + PLACES, CATALOGUE + CAKE)


@pytest.mark.parametrize(
    "note",
    [BatchNote(cook_ended=time(10, 0)), BatchNote(passed_57=time(10, 0)),
     BatchNote(cook_ended=time(9, 30), cooled=(time(10, 0), time(10, 11)))],
)  # fmt: skip
def test_a_later_start_of_the_cooling_is_asked_where_it_was_overdue(
    hand: ShopInHand, note: BatchNote
) -> None:
    lot = hand.hot("firm", 48).lot
    hand.clock.set("2026-11-24 10:12")
    with pytest.raises(NotSafe):
        hand.sell("firm-block")
    with pytest.raises(Asked, match="it cooled from 03:50 by what was noted, and is overdue"):
        hand.shop.amendments.amend_batch(lot, note, "misread")
    with pytest.raises(NotSafe):
        hand.sell("firm-block")
    hand.shop.desk.questions.given = {"late": "boiled a second time, and cold at ten"}
    hand.shop.amendments.amend_batch(lot, note, "misread")
    assert hand.sell("firm-block").lines
    assert "late" in {answer.about for answer in hand.shop.desk.ledger().answers}


def test_a_later_start_in_time_is_asked_of_nobody(hand: ShopInHand) -> None:
    lot = hand.hot("firm", 48).lot
    hand.clock.set("2026-11-24 05:00")
    assert hand.shop.amendments.amend_batch(lot, BatchNote(cook_ended=time(4, 0)), "misread")


def test_a_check_that_lets_a_tub_go_on_is_asked_where_it_is_noted_late(hand: ShopInHand) -> None:
    _, tub = hand.pudding()
    hand.clock.set("2026-11-24 13:00")
    with pytest.raises(Asked, match=f"what is noted of {tub} is of 10:00, 3 h 00 min ago"):
        hand.shop.tubs.check_tub(tub, COLD, at("24 10:00"))
    hand.shop.tubs.check_tub(tub, COLD)  # as measured now it is nothing to ask about


def test_a_reading_that_ends_a_warm_time_is_asked_where_it_is_noted_late(hand: ShopInHand) -> None:
    hand.shop.records.note_temperature("fridge", COLD)
    hand.clock.set("2026-11-24 05:00")
    hand.shop.records.note_temperature("fridge", Decimal(9))
    hand.clock.set("2026-11-24 07:00")
    with pytest.raises(Asked, match="what is noted of fridge is of 05:10, 1 h 50 min ago"):
        hand.shop.records.note_temperature("fridge", COLD, at=at("24 05:10"))
    hand.shop.records.note_temperature("fridge", COLD)


def test_a_move_that_is_noted_late_is_asked_where_it_freezes_or_cools(hand: ShopInHand) -> None:
    lot = hand.batch("firm").lot
    hand.shop.records.move_lot(lot, "table", COLD)
    hand.clock.set("2026-11-24 07:30")
    for place in ("fridge", "freezer"):
        with pytest.raises(Asked, match=f"what is noted of {lot} is of 04:30, 3 h 00 min ago"):
            hand.shop.records.move_lot(lot, place, COLD, at=at("24 04:30"))
    hand.shop.records.move_lot(lot, "fridge", COLD)


def test_nothing_is_frozen_while_a_tub_of_it_stands_open(hand: ShopInHand) -> None:
    batch, tub = hand.pudding()
    with pytest.raises(Refused, match=f"tub {tub} of it stands open, and its date would stand"):
        hand.shop.records.move_lot(batch.lot, "freezer")
    hand.shop.tubs.end_tub(tub, 8000, kept=True)
    assert hand.shop.records.move_lot(batch.lot, "freezer").kind == "freezer"


def test_nothing_is_made_of_what_stands_in_a_tub_past_its_time(hand: ShopInHand) -> None:
    lot = hand.batch("pudding", 9000).lot
    hand.shop.tubs.open_tub(lot, "time", 8000, COLD)
    hand.clock.set("2026-11-24 09:00")
    with pytest.raises(NotSafe, match="so much is left only with what is in a tub"):
        hand.batch("cake", 10, mixed=((lot, 2000),), boiled_minutes=None)
    assert hand.batch("cake", 10, mixed=((lot, 1000),), boiled_minutes=None)


def test_minutes_out_of_its_temperature_go_along_into_what_is_not_cooked_again(
    hand: ShopInHand,
) -> None:
    lot = hand.batch("firm").lot
    hand.shop.records.move_lot(lot, "table", COLD)
    hand.clock.set("2026-11-24 08:05")
    smoked = hand.batch("smoked", 10, mixed=((lot, 10),), boiled_minutes=None).lot
    assert hand.shop.desk.ledger().rows[smoked].lot.out == 235
    hand.shop.records.move_lot(smoked, "table", COLD)
    hand.clock.set("2026-11-24 08:10")
    with pytest.raises(NotSafe, match="out of its temperature for 240 minutes in all"):
        hand.sell("smoked-block")


def test_a_tub_keeps_its_clock_when_its_product_is_no_longer_scooped(hand: ShopInHand) -> None:
    lot = hand.batch("pudding", 8000).lot
    hand.shop.tubs.open_tub(lot, "time", 8000, COLD)
    hand.clock.set("2026-11-24 09:00")
    hand.shop.products.load_catalogue(CATALOGUE.replace("tub = true\n", ""))
    with pytest.raises(NotSafe, match="has been out for 4 hours"):
        hand.sell("cup-small")


def test_a_tub_says_at_once_what_its_lot_has_left(hand: ShopInHand) -> None:
    lot = hand.batch("pudding", 16000).lot
    hand.shop.records.move_lot(lot, "table", COLD)
    hand.clock.forward(minutes=200)
    tub = hand.shop.tubs.open_tub(lot, "cold", 8000, COLD)
    assert (tub.out, tub) == (200, hand.shop.desk.ledger().tubs[tub.tub])


def test_a_hot_tub_noted_late_is_asked_about_where_it_is_overdue_by_now(hand: ShopInHand) -> None:
    lot = hand.hot().lot
    hand.clock.set("2026-11-24 12:00")
    with pytest.raises(Asked, match="nobody noted that it stayed hot"):
        hand.shop.tubs.open_tub(lot, "hot", None, Decimal(60), at("24 09:00"))


def test_what_is_made_of_food_not_cold_yet_has_no_longer_than_that(hand: ShopInHand) -> None:
    lot = hand.hot("firm", 48).lot
    hand.clock.set("2026-11-24 09:45")
    smoked = hand.shop.production.log_batch("smoked", BatchNote(made=10, mixed=((lot, 10),))).lot
    hand.clock.set("2026-11-24 09:51")
    with pytest.raises(NotSafe, match="5 °C / 41 °F is not noted, and was due by 09:50"):
        hand.sell("smoked-block")
    hand.shop.desk.questions.given = {
        "cooled-5": "in ice",
        "cooled-21": "in ice",
        "late": "read then",
        "cooked": "smoked",
    }
    hand.shop.amendments.amend_batch(smoked, BatchNote(cooled=(time(9, 46), time(9, 50))), "read")


def test_a_forgotten_warm_reading_stops_what_was_made_of_it_too(hand: ShopInHand) -> None:
    lot = hand.batch("firm").lot
    hand.shop.records.note_temperature("fridge", COLD)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    hand.shop.records.note_temperature("fridge", COLD)
    hand.batch("smoked", 10, mixed=((lot, 10),), boiled_minutes=None)
    day = hand.shop.desk.today() - timedelta(days=1)
    hand.shop.closed_days.forgotten_temperature(day, "fridge", Decimal(12), "left out", time(19, 0))
    with pytest.raises(NotSafe, match=f"lot {lot} went into it: it was out of its temperature"):
        hand.sell("smoked-block")


def test_what_keeps_for_days_without_cooling_is_asked_when_it_is_loaded(hand: ShopInHand) -> None:
    lot = hand.hot("firm", 48).lot
    text = CATALOGUE.replace("[products.firm]\n", "[products.firm]\ncooled = false\n")
    with pytest.raises(Asked, match="Firm Tofu keeps for 5 days, and its cooling is not noted"):
        hand.shop.products.load_catalogue(text)
    hand.shop.desk.questions.given = {
        "cooled.firm": "sold hot out of the kettle, the rest is thrown away"
    }
    hand.shop.products.load_catalogue(text)
    hand.shop.desk.questions.given = {}
    hand.shop.products.load_catalogue(text + "\n")  # asked once
    hand.clock.set("2026-11-24 10:10")
    with pytest.raises(NotSafe, match="5 °C / 41 °F is not noted"):
        hand.sell(f"firm-block@{lot}")  # made before, it goes by what held then
