"""Places that hold food: 5 °C / 41 °F or below, 57 °C / 135 °F or above (Food Code 3-501.16)."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from counter.errors import BadInput, NotFound
from counter.trade.settings import parse_settings
from counter.trade.temperatures import (
    Temperature,
    ThermometerCheck,
    Water,
    what_is_wrong,
    what_to_do,
)
from counter.trade.units import parse_temperature
from tests.conftest import SETTINGS, Maker, ShopInHand

DAY = date(2026, 11, 24)


@pytest.fixture
def hand(make: Maker) -> ShopInHand:
    """A shop in which nothing is written down yet."""
    return make()


@pytest.mark.parametrize(
    ("place", "written", "ok"),
    [
        ("fridge", "41F", True),  # 3-501.16(A)(2): 5 °C (41 °F) or less
        ("fridge", "5C", True),
        ("fridge", "5.1C", False),
        ("fridge", "42F", False),
        ("display", "-2C", True),
        ("hot well", "135F", True),  # 3-501.16(A)(1): 57 °C (135 °F) or above
        ("hot well", "57C", True),
        ("hot well", "56.9C", False),
        ("hot well", "134F", False),
        ("hot well", "4C", False),
        ("fridge", "60C", False),
    ],
)
def test_the_verdict_is_that_of_the_food_code(
    make: Maker, place: str, written: str, ok: bool
) -> None:
    reading = make().shop.records.note_temperature(place, parse_temperature(written))
    assert reading.ok is ok
    assert bool(what_to_do(reading)) is not ok


def test_readings_are_kept_with_their_day(hand: ShopInHand) -> None:
    shop = hand.shop
    first = shop.records.note_temperature("FRIDGE", Decimal("3.5"), by="Ida")
    hand.clock.forward(hours=24)
    shop.records.note_temperature("hot  well", Decimal(61))
    assert (first.place, first.hot, first.by) == ("fridge", False, "Ida")
    assert shop.desk.recorded(Temperature, DAY, DAY) == [first]
    assert [t.place for t in shop.desk.recorded(Temperature, DAY, shop.desk.today())] == [
        "fridge",
        "hot well",
    ]


@pytest.mark.parametrize("celsius", ["-41", "120.01", "300"])
def test_nonsense_is_refused_and_nothing_is_written(hand: ShopInHand, celsius: str) -> None:
    with pytest.raises(BadInput, match="a place that holds food shows -40 to 120 °C"):
        hand.shop.records.note_temperature("fridge", Decimal(celsius))
    assert hand.shop.desk.recorded(Temperature, DAY, DAY) == []


def test_a_place_nobody_set_up_is_refused_with_near_names(hand: ShopInHand) -> None:
    with pytest.raises(NotFound, match="there is no place 'fridg'. Did you mean fridge"):
        hand.shop.records.note_temperature("fridg", Decimal(4))


def test_the_shop_names_its_own_places(make: Maker) -> None:
    shop = make(f'{SETTINGS}\n[holding]\n"walk-in" = "cold"\n').shop
    assert shop.records.note_temperature("Walk-In", Decimal(2)).ok
    with pytest.raises(NotFound, match="no place 'fridge'"):
        shop.records.note_temperature("fridge", Decimal(2))


def test_a_place_is_cold_or_hot() -> None:
    with pytest.raises(BadInput, match="holding"):
        parse_settings(f'{SETTINGS}\n[holding]\nfridge = "lukewarm"\n')


def test_what_to_do_names_the_limit_and_leaves_the_decision_where_it_belongs(
    hand: ShopInHand,
) -> None:
    said = what_to_do(hand.shop.records.note_temperature("fridge", Decimal(9)))
    assert "fridge must keep 5 °C / 41 °F or below" in said
    assert said.endswith("The local food code and the inspector decide.")


@pytest.mark.parametrize(
    ("water", "written", "ok"),
    [
        ("ice", "0C", True),  # 4-203.11: right to 1 °C; 4-502.11(B): checked as often as it needs
        ("ice", "1C", True),
        ("ice", "-1.1C", False),
        ("ice", "1.1C", False),
        ("boiling", "99C", True),
        ("boiling", "210F", False),  # 98.9 °C
        ("boiling", "212F", True),
    ],
)
def test_a_thermometer_is_right_to_one_degree(
    hand: ShopInHand, water: Water, written: str, ok: bool
) -> None:
    made = hand.shop.records.check_thermometer(
        " probe  1 ", water, parse_temperature(written), by="Ida"
    )
    assert (made.thermometer, made.ok, made.by) == ("probe 1", ok, "Ida")
    assert hand.shop.desk.recorded(ThermometerCheck, DAY, DAY) == [made]
    assert bool(what_is_wrong(made)) is not ok
    assert hand.shop.desk.recorded(Temperature, DAY, DAY) == []  # no place was measured


def test_a_thermometer_has_a_name(hand: ShopInHand) -> None:
    with pytest.raises(BadInput, match="it has no name"):
        hand.shop.records.check_thermometer("  ", "ice", Decimal(0))
    assert hand.shop.desk.recorded(ThermometerCheck, DAY, DAY) == []
