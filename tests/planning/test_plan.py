"""The plan a maker reads in the evening."""

from __future__ import annotations

from datetime import date, time, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs

from counter.plan.demand import DaySales
from counter.plan.planning import Making, Soak, Terms, Yield, plan_product, soak_for, vessels_of
from tests.often import examples

FRIDAY = date(2026, 11, 20)
TERMS = Terms(Decimal(300), Decimal(90))
FIRM = Making("firm-block", TERMS, 60)
SOLD = [(84, 120, None), (97, 120, None), (108, 108, 11 / 15), (110, 120, None), (96, 96, 0.7),
        (92, 120, None), (101, 120, None)]  # fmt: skip
FRIDAYS = [DaySales(FRIDAY - timedelta(7 * (len(SOLD) - i)), *row) for i, row in enumerate(SOLD)]
YIELDS = [
    Yield(60, Decimal(2400), Decimal(20_000), Decimal(50)),
    Yield(120, Decimal(4900), Decimal(40_000), Decimal(98)),
    Yield(60, Decimal(2430), Decimal(20_000), Decimal(51)),
]


def test_the_plan_says_in_one_sentence_what_it_rests_on() -> None:
    plan = plan_product(FIRM, FRIDAYS, FRIDAY, yields=YIELDS)
    assert plan.words == "Fridays sold 84 to 110, sold out twice by 15:20; 120 is two moulds."
    assert (plan.product, plan.target, plan.make, plan.moulds) == ("firm-block", FRIDAY, 120, 2)


WORDS = [
    # sold, available, sold out at -> words
    ([(90, 120, None)] * 4, "Fridays sold 90; 120 is two moulds."),
    (
        [(90, 120, None)] * 4 + [(96, 96, 0.5)],
        "Fridays sold 90 to 96, sold out once at 13:00; 120 is two moulds.",
    ),
    # An hour that nobody noted cannot be told.
    (
        [(90, 120, None)] * 4 + [(96, 96, 0.5), (99, 99, None), (99, 99, 0.9)],
        "Fridays sold 90 to 99, sold out three times; 120 is two moulds.",
    ),
    # Only the last eight are told.
    ([(55, 120, None)] * 4 + [(50, 120, None)] * 8, "Fridays sold 50; 60 is one mould."),
    (
        [(50, 120, None)],
        "Fridays sold 50; 60 is one mould. Only 1 Friday of 1 day on record: the other days help, "
        "but less is sure.",
    ),
    ([(3, 120, None)] * 5, "Fridays sold 3; a whole mould would not pay, so nothing is made."),
    (
        [],
        "60 is one mould. No day is on record yet: this is a guess until the first days are sold.",
    ),
]


@pytest.mark.parametrize(("rows", "words"), WORDS)
def test_the_words_follow_the_days(rows: list[tuple[int, int, float | None]], words: str) -> None:
    days = [DaySales(FRIDAY - timedelta(7 * (len(rows) - i)), *r) for i, r in enumerate(rows)]
    assert plan_product(FIRM, days, FRIDAY, yields=YIELDS).words == words


SETTINGS_WORDS = [
    ({"on_hand": 30}, "120 is two moulds, on top of 30 on hand."),
    ({"on_hand": 200}, "200 on hand will do, so nothing is made."),
    ({"terms": Terms(Decimal(80), Decimal(90))},
     "one more would cost more than it brings, so nothing is made."),
    ({"yields": ()}, "120 is two moulds. No batch is on record: take the beans from the recipe."),
    ({"vessel": "tub"}, "120 is two tubs."),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "ending"), SETTINGS_WORDS)
def test_the_words_end_with_what_is_made_and_why(changes: dict[str, object], ending: str) -> None:
    how = {key: changes[key] for key in changes.keys() & {"terms", "vessel"}}
    evening = {"yields": YIELDS} | {key: changes[key] for key in changes.keys() - how.keys()}
    plan = plan_product(structs.replace(FIRM, **how), FRIDAYS, FRIDAY, **evening)
    assert plan.words == f"Fridays sold 84 to 110, sold out twice by 15:20; {ending}"


def test_a_product_made_piece_by_piece_has_no_moulds_in_its_words() -> None:
    plan = plan_product(Making("smoked", TERMS, 1), FRIDAYS, FRIDAY, yields=YIELDS)
    assert plan.words.endswith(f"; make {plan.make}.")


def test_a_shop_that_closes_after_midnight_tells_the_hour_right() -> None:
    days = [DaySales(d.day, 96, 96, 0.75) for d in FRIDAYS]
    plan = plan_product(structs.replace(FIRM, opens=time(18), closes=time(2)), days, FRIDAY)
    assert "sold out seven times by 00:00" in plan.words


def test_pudding_is_planned_in_tubs_and_told_in_litres() -> None:
    days = [DaySales(d.day, d.sold * 80, d.available * 80, d.sold_out_at) for d in FRIDAYS]
    terms = Terms(Decimal("1.2"), Decimal("0.3"))
    pudding = Making("soft-pudding", terms, 5000, unit="ml", vessel="tub", grain=250)
    plan = plan_product(pudding, days, FRIDAY, yields=[Yield(8000, Decimal(1000))])
    assert plan.words == (
        "Fridays sold 6.72 l to 8.8 l, sold out twice by 15:20; 10 l is two tubs."
    )
    assert plan.soak == Soak(1250, 0, Decimal("0.0"), 1)


def test_vessels_are_counted_in_words_up_to_twelve() -> None:
    words = "no, one, two, three, four, five, six, seven, eight, nine, ten, eleven, twelve, 13, 14"
    for count, word in enumerate(words.split(", ")):
        assert vessels_of("mould", count) == f"{word} mould{'' if count == 1 else 's'}"
        assert vessels_of("tub", count) == f"{word} tub{'' if count == 1 else 's'}"


def test_a_holiday_is_told_by_its_name() -> None:
    feast = DaySales(FRIDAY - timedelta(364), 150, 240, None, "Lunar New Year")
    plan = plan_product(FIRM, [*FRIDAYS, feast], FRIDAY, special="Lunar New Year", yields=YIELDS)
    assert plan.words == (
        "Lunar New Year sold 150; 180 is three moulds. "
        "Only 1 earlier Lunar New Year on record: less is sure."
    )


def test_the_plan_shows_one_mould_less_and_one_more() -> None:
    plan = plan_product(FIRM, FRIDAYS, FRIDAY)
    assert plan.fewer is not None
    assert (plan.fewer.make, plan.this.make, plan.more.make) == (60, 120, 180)
    assert plan.fewer.margin < plan.this.margin > plan.more.margin
    assert plan.fewer.sells_out > plan.this.sells_out > plan.more.sells_out
    assert plan.fewer.left < plan.this.left < plan.more.left


def test_a_shop_without_a_day_on_record_begins_with_one_mould() -> None:
    # At this cost a guess alone would not pay for a whole mould, and nothing would ever be learned.
    dear = Terms(Decimal(300), Decimal(260))
    below_cost = Terms(Decimal(80), Decimal(90))
    assert plan_product(Making("firm-block", dear, 60), [], FRIDAY).make == 60
    assert plan_product(Making("firm-block", below_cost, 60), [], FRIDAY).make == 0


def test_nothing_made_has_no_mould_less() -> None:
    plan = plan_product(FIRM, FRIDAYS, FRIDAY, on_hand=300, yields=YIELDS)
    assert (plan.fewer, plan.make, plan.more.make) == (None, 0, 60)
    assert plan.soak == Soak(0, 0, Decimal("0.0"), 3)


@st.composite
def short_histories(draw: st.DrawFn) -> list[DaySales]:
    """None to three days, the shop's first."""
    days = []
    for back in range(draw(st.integers(0, 3)), 0, -1):
        sold = draw(st.integers(0, 200))
        at = draw(st.none() | st.floats(0, 1))
        name = draw(st.sampled_from(("", "", "Lunar New Year")))
        available = sold + draw(st.integers(0, 60))
        days.append(DaySales(FRIDAY - timedelta(back * 7 - 3), sold, available, at, name))
    return days


@examples(50)
@given(
    short_histories(),
    st.integers(1, 90),
    st.integers(0, 100),
    st.sampled_from(("", "Lunar New Year")),
)
def test_a_shop_of_three_days_or_fewer_gets_a_plan_in_whole_moulds(
    days: list[DaySales], batch: int, on_hand: int, special: str
) -> None:
    making = structs.replace(FIRM, batch=batch)
    plan = plan_product(making, days, FRIDAY, on_hand=on_hand, special=special, yields=YIELDS)
    assert plan.make == plan.moulds * batch >= 0
    assert 0.0 <= plan.this.sells_out <= 1.0
    assert 0.0 <= plan.this.left <= plan.make + on_hand
    assert plan.words.endswith(".")
    assert plan.estimate.caution in plan.words


@examples(40)
@given(short_histories(), st.lists(st.integers(50, 3000), min_size=2, max_size=4))
def test_a_higher_price_never_plans_less(days: list[DaySales], prices: list[int]) -> None:
    made = [
        plan_product(
            Making("firm-block", Terms(Decimal(price), Decimal(90)), 12), days, FRIDAY
        ).make
        for price in sorted(prices)
    ]
    assert made == sorted(made)


# --- beans --------------------------------------------------------------------------------------


def test_the_beans_follow_the_median_batch() -> None:
    # Grams of beans a piece: 40, 40.83, 40.5; water 333.3 thrice; coagulant 0.833, 0.817, 0.85.
    assert soak_for(120, YIELDS) == Soak(4860, 40_000, Decimal("100.0"), 3)


def test_one_spoiled_batch_does_not_change_the_beans() -> None:
    spoiled = Yield(10, Decimal(2400), Decimal(20_000), Decimal(50))
    steady = [Yield(60, Decimal(2400), Decimal(20_000), Decimal(50))] * 4
    assert soak_for(60, [*steady, spoiled]) == Soak(2400, 20_000, Decimal("50.0"), 5)


def test_only_the_last_batches_count_and_empty_ones_do_not() -> None:
    old = [Yield(60, Decimal(6000))] * 8
    new = [Yield(60, Decimal(2400))] * 3
    assert soak_for(60, [*old, *new, Yield(0, Decimal(9000))], last=3) == Soak(
        2400, 0, Decimal("0.0"), 3
    )


def test_without_a_batch_the_beans_are_not_invented() -> None:
    assert soak_for(60, []) is None
    assert soak_for(60, [Yield(0, Decimal(2400))]) is None


@examples(60)
@given(st.integers(0, 2000), st.integers(0, 2000))
def test_more_to_make_never_needs_fewer_beans(one: int, other: int) -> None:
    less, more = sorted((one, other))
    few, many = soak_for(less, YIELDS), soak_for(more, YIELDS)
    assert few is not None
    assert many is not None
    assert few.beans_g <= many.beans_g
