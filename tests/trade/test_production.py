"""The production log: lots, the cook gate, the cooling gate."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import BadInput, Refused
from counter.trade.catalogue import Catalogue, Cooking, Ingredient, Part, Product, Range
from counter.trade.contents import left_out
from counter.trade.cooling import Cooling, check_cooling, too_slow
from counter.trade.production import (
    Cook,
    Hold,
    check_figures,
    check_left_out,
    fill_recipe,
    lot_code,
    lot_day,
    stops_added,
    unusual,
    why_not_cooked,
)
from labels.say import NOTHING, Said

ZONE = ZoneInfo("America/Los_Angeles")


def at(clock: str, day: str = "2026-11-24") -> datetime:
    return datetime.fromisoformat(f"{day} {clock}").replace(tzinfo=ZONE)


@pytest.mark.parametrize(
    ("day", "number", "lot"),
    [
        ("2026-11-24", 1, "26328-01"),
        ("2026-01-01", 12, "26001-12"),
        ("2028-12-31", 99, "28366-99"),  # a leap year has day 366
    ],
)
def test_a_lot_names_its_year_day_and_number(day: str, number: int, lot: str) -> None:
    assert lot_code(date.fromisoformat(day), number) == lot
    assert lot_day(lot) == date.fromisoformat(day)


@pytest.mark.parametrize(
    "text", ["26366-01", "26000-01", "26328-1", "26328", "2632801", "٢٦328-01", "", "26328-01 "]
)
def test_what_is_no_lot_code_has_no_day(text: str) -> None:
    assert lot_day(text) is None


def test_a_hundredth_batch_of_a_day_is_refused() -> None:
    with pytest.raises(Refused, match="a day's lot codes end at 99"):
        lot_code(date(2026, 11, 24), 100)


def test_a_lot_is_stopped_once_more_only_for_a_reason_that_is_new() -> None:
    def stop(why: str) -> Hold:
        return Hold(lot="26328-01", stopped=True, why=Said(why), at=at("12:00"))

    assert stops_added(Said("warm"), None, [stop("warm")]) is None
    first = stops_added(NOTHING, None, [stop("warm")])
    assert first is not None
    assert stops_added(NOTHING, first, [stop("warm")]) is None
    assert stops_added(NOTHING, first, []) is None
    more = stops_added(NOTHING, first, [stop("warm"), stop("a screw in it"), stop("a screw in it")])
    assert more is not None
    assert more.why == "warm; a screw in it"


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)), st.integers(1, 99))
def test_every_lot_code_reads_back(day: date, number: int) -> None:
    assert lot_day(lot_code(day, number)) == day


# FDA Food Code 3-501.14(A): 135 °F to 70 °F within 2 hours, to 41 °F within 6 hours in all, so
# from 10:00 to 70 °F by 12:00 and to 41 °F by 16:00, not 4 hours after 70 °F was reached.
@pytest.mark.parametrize(
    ("first", "second", "why"),
    [
        ("12:00", "16:00", ""),
        ("11:00", "16:00", ""),
        ("12:01", "13:00", "it took 2 h 01 min to reach 21 °C / 70 °F, allowed are 2 h"),
        ("11:00", "16:01", "it took 6 h 01 min to reach 5 °C / 41 °F, allowed are 6 h in all"),
    ],
)
def test_cooling_has_two_limits_from_one_start(first: str, second: str, why: str) -> None:
    assert too_slow(Cooling(at(first), at(second)), at("10:00")) == why


def test_cooling_in_real_time_when_the_clocks_go_back() -> None:
    # Between 01:00 and 07:30 on the wall, seven and a half hours go by on 2026-11-01.
    night = Cooling(at("01:30", "2026-11-01"), at("07:30", "2026-11-01"))
    assert too_slow(night, at("00:30", "2026-11-01")).startswith("it took 8 h 00 min")


def test_without_a_start_only_the_whole_span_is_seen() -> None:
    assert too_slow(Cooling(at("08:10"), at("11:30")), None) == ""
    assert "6 h 20 min from 21 °C to 5 °C" in too_slow(Cooling(at("08:10"), at("14:30")), None)


@pytest.mark.parametrize(
    ("first", "second", "why"),
    [
        ("06:00", "09:00", "the cooling time 06:00 is before the end of the cook, 07:00"),
        ("08:00", "07:30", "5 °C was reached at 07:30, before 21 °C at 08:00"),
    ],
)
def test_cooling_times_that_run_backwards_are_refused(first: str, second: str, why: str) -> None:
    with pytest.raises(BadInput) as refusal:
        check_cooling("log it", Cooling(at(first), at(second)), at("07:00"), None)
    assert why in str(refusal.value)


@pytest.mark.parametrize(
    ("cook", "why"),
    [
        (None, "no cook is recorded"),
        (Cook(minutes=10), ""),
        (Cook(minutes=4), "its cook of 4 min is shorter than 95 °C for 5 min"),
        (Cook(minutes=5, celsius=Decimal(95)), ""),
        (Cook(minutes=30, celsius=Decimal(90)), "its cook at 90 °C is cooler than 95 °C for 5 min"),
    ],
)
def test_only_what_was_cooked_counts_as_cooked(cook: Cook | None, why: str) -> None:
    # Common practice, no source: raw soy milk is not for eating; it is boiled for some minutes,
    # and comes to the boil in about a quarter of an hour.
    assert why_not_cooked(cook, Cooking()) == why


def test_what_is_made_from_cooked_food_needs_no_cook_of_its_own() -> None:
    assert why_not_cooked(None, None) == ""


@pytest.mark.parametrize(
    ("made", "brix", "cook", "why"),
    [
        (96, "-0.1", None, "-0.1 °Brix is not possible for soy milk"),
        (96, "40.1", None, "40.1 °Brix is not possible for soy milk"),
        (0, "11", None, "0 made is no amount"),
        (-4, None, None, "-4 made is no amount"),
        (96, None, Cook(minutes=10, celsius=Decimal(40)), "a cook at 40 °C is none"),
        (96, None, Cook(minutes=0), "a cook of 0 minutes is none"),
    ],
)
def test_what_cannot_be_is_refused(
    made: int, brix: str | None, cook: Cook | None, why: str
) -> None:
    with pytest.raises(BadInput) as refusal:
        check_figures("log a batch", made, Decimal(brix) if brix else None, cook)
    assert why in str(refusal.value)


FIRM = Product(
    "firm", "Firm Tofu", "piece", 5,
    recipe=(Part("soybeans", Decimal(1000)), Part("water", Decimal(7000)), Part("gypsum", Decimal(30))),
    recipe_makes=8, usual={"brix": Range(Decimal(10), Decimal(13)), "yield": Range(Decimal(7), Decimal(9))},
)  # fmt: skip


def test_the_recipe_fills_in_what_was_not_noted_in_proportion_to_the_beans() -> None:
    parts = fill_recipe(FIRM, 96, {"soybeans": Part("soybeans", Decimal(12000), "12 kg")})
    assert {p.ingredient: p.grams for p in parts} == {
        "soybeans": 12000, "water": 84000, "gypsum": 360,
    }  # fmt: skip
    assert [p.ingredient for p in parts if not p.written] == ["water", "gypsum"]


def test_without_beans_the_recipe_follows_the_amount_made() -> None:
    parts = fill_recipe(FIRM, 16, {})
    assert {p.ingredient: p.grams for p in parts}["soybeans"] == 2000


def test_what_was_noted_holds_against_the_recipe() -> None:
    noted = {
        "soybeans": Part("soybeans", Decimal(1000), "1 kg"),
        "gypsum": Part("gypsum", Decimal(45), "45 g"),
        "salt": Part("salt", Decimal(5), "5 g"),
    }
    parts = {p.ingredient: p.grams for p in fill_recipe(FIRM, 8, noted)}
    assert (parts["gypsum"], parts["salt"], parts["water"]) == (45, 5, 7000)


def test_unusual_figures_warn_in_a_sentence_and_stop_nothing() -> None:
    parts = (Part("soybeans", Decimal(12000)),)
    words = unusual(FIRM, 60, parts, Decimal("9.2"), None, None)
    assert words == [
        "9.2 °Brix is unusual for Firm Tofu: mostly 10 to 13",
        "5.0 piece a kg of beans is unusual for Firm Tofu: mostly 7 to 9",
    ]
    assert unusual(FIRM, 96, parts, Decimal(11), None, None) == []


@given(st.integers(0, 720), st.integers(0, 720))
def test_a_batch_passes_only_when_both_limits_hold(first: int, more: int) -> None:
    start = at("05:00")
    one = start + timedelta(minutes=first)
    both = Cooling(one, one + timedelta(minutes=more))
    assert (too_slow(both, start) == "") == (first <= 120 and first + more <= 360)


PANTRY = Catalogue(ingredients={
    i.key: i for i in (
        Ingredient("soybeans", "Soybeans", allergens=("soy",)),
        Ingredient("gypsum", "Calcium Sulfate"),
        Ingredient("flour", "Wheat Flour", allergens=("wheat",)),
        Ingredient("paste", "Nut Paste", allergens=("tree-nut:almond", "sesame")),
        Ingredient("sauce", "Soy Sauce", parts=(Part("flour", Decimal(1)), Part("soybeans", Decimal(1)))),
    )
})  # fmt: skip


@pytest.mark.parametrize(
    ("zero", "there", "sentences"),
    [
        ("gypsum", ("soybeans",), ["Calcium Sulfate was left out: the label does not name it"]),
        ("flour", ("soybeans",), ["Wheat Flour was left out: the label does not name it, nor wheat as "
                                  "an allergen. Make sure that none went in"]),
        ("flour", ("soybeans", "sauce"), ["Wheat Flour was left out: the label does not name it"]),
        ("sauce", ("soybeans",), ["Soy Sauce was left out: the label does not name it, nor wheat as "
                                  "an allergen. Make sure that none went in"]),
        ("paste", ("soybeans",), ["Nut Paste was left out: the label does not name it, nor sesame and "
                                  "almond as an allergen. Make sure that none went in"]),
        ("gone", ("soybeans",), ["gone was left out: the label does not name it"]),
    ],
)  # fmt: skip
def test_what_was_left_out_is_said_with_the_allergens_that_only_it_held(
    zero: str, there: tuple[str, ...], sentences: list[str]
) -> None:
    parts = (Part(zero, Decimal(0), "0 g"), *(Part(key, Decimal(100)) for key in there))
    assert left_out(parts, PANTRY) == sentences


def test_a_part_left_out_stays_in_the_record_as_nothing() -> None:
    parts = fill_recipe(FIRM, 8, {"gypsum": Part("gypsum", Decimal(0), "0 g")})
    assert {p.ingredient: p.grams for p in parts} == {"soybeans": 1000, "water": 7000, "gypsum": 0}


@pytest.mark.parametrize(
    ("key", "why"),
    [
        ("soybeans", "0 g of soybeans is nothing, and Firm Tofu is made of it"),
        ("salt", "0 g of salt is nothing, and the recipe has none to leave out"),
    ],
)
def test_what_the_product_is_made_of_or_never_had_is_not_left_out(key: str, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        check_left_out("log it", key, FIRM)
