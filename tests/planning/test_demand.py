"""What people wanted, from what was sold."""

from __future__ import annotations

import math
import random
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from counter.errors import BadInput
from counter.plan.backtest import seen_of
from counter.plan.demand import EVEN, Curve, DaySales, Memory, estimate_demand, learn_curve
from counter.plan.levels import SPREADS, Habits
from tests.often import examples

from .shops import late_buyers, quantile, shop_days

FRIDAY = date(2026, 11, 20)


def weeks_before(count: int, back: int = 0) -> list[date]:
    """The last ``count`` days of Friday's weekday less ``back``, oldest first."""
    return [FRIDAY - timedelta(7 * i + back) for i in range(count, 0, -1)]


def fridays(*rows: tuple[int, int, float | None]) -> list[DaySales]:
    days = weeks_before(len(rows))
    return [DaySales(day, *row) for day, row in zip(days, rows, strict=True)]


# How a day counts: sold, available, sold out at, whether it sold out.
DAYS = [
    (84, 120, None, False),
    (120, 120, 0.7, True),
    (120, 120, None, True),  # sold all, nobody noted when
    (118, 120, 0.7, True),  # two were tasted
    (123, 120, None, True),  # more sold than the books knew of
    (0, 0, None, True),
]


@pytest.mark.parametrize(("sold", "available", "at", "out"), DAYS)
def test_a_day_that_sold_all_it_had_is_sold_out(
    sold: int, available: int, at: float | None, out: bool
) -> None:
    assert DaySales(FRIDAY, sold, available, at).sold_out is out


@pytest.mark.parametrize(("sold", "available"), [(-1, 5), (5, -1)])
def test_a_day_with_less_than_nothing_is_refused(sold: int, available: int) -> None:
    with pytest.raises(BadInput) as refusal:
        DaySales(FRIDAY, sold, available)
    assert str(refusal.value) == (
        f"Cannot count 2026-11-20 for the plan: {sold} sold of {available} is below zero. "
        "Correct the day's sales."
    )


@pytest.mark.parametrize("at", [-0.1, 1.2, math.nan])
def test_a_sold_out_hour_outside_the_opening_hours_is_refused(at: float) -> None:
    with pytest.raises(BadInput) as refusal:
        DaySales(FRIDAY, 5, 5, at)
    assert str(refusal.value) == (
        f"Cannot count 2026-11-20 for the plan: it sold out at {at} of the opening hours. "
        "Give a share between 0 and 1."
    )


def test_later_weeks_weigh_more() -> None:
    rising = fridays(*[(60, 200, None)] * 6, *[(120, 200, None)] * 6)
    falling = fridays(*[(120, 200, None)] * 6, *[(60, 200, None)] * 6)
    assert estimate_demand(rising, FRIDAY).mean > 100
    assert estimate_demand(falling, FRIDAY).mean < 80


def test_a_shop_that_does_not_wander_weighs_all_weeks_nearly_alike() -> None:
    days = fridays(*[(60, 200, None)] * 6, *[(120, 200, None)] * 6)
    still = Habits(wander=(1e-6,))
    assert estimate_demand(days, FRIDAY, habits=still).mean == pytest.approx(90, rel=0.1)


def test_how_fast_the_level_wanders_is_told_by_the_days_themselves() -> None:
    rng = random.Random(8)
    steady = [round(rng.gauss(100, 8)) for _ in range(60)]
    # The same days, half as much again in the last three weeks.
    risen = steady[:42] + [round(1.5 * sold) for sold in steady[42:]]
    beliefs = []
    for sold in (steady, risen):
        memory = Memory()
        days = [DaySales(FRIDAY - timedelta(60 - i), x, 300) for i, x in enumerate(sold)]
        estimate_demand(days, FRIDAY, memory=memory)
        beliefs.append(memory.belief)
    assert beliefs[0].rates[0] > 0.5
    assert beliefs[1].rates[0] < 0.01
    levels = [belief.levels(FRIDAY.toordinal()) for belief in beliefs]
    assert levels[0].means[4] == pytest.approx(100, rel=0.04)
    assert levels[1].means[4] == pytest.approx(150, rel=0.06)
    assert levels[1].doubt[4] > levels[0].doubt[4]


def test_learning_one_day_more_is_learning_all_days_anew() -> None:
    days = [seen_of(day, 110) for day in shop_days(14, 500)]
    memory = Memory()
    for i in range(0, len(days), 9):
        target = days[i].day
        anew = estimate_demand(days[:i], target)
        assert estimate_demand(days[:i], target, memory=memory) == anew
    # A memory of other days, or under other habits, is not believed.
    other = [seen_of(day, 110) for day in shop_days(15, 60)]
    assert estimate_demand(other, target, memory=memory) == estimate_demand(other, target)
    still = Habits(wander=(0.01,))
    again = estimate_demand(other, target, memory=memory, habits=still)
    assert again == estimate_demand(other, target, habits=still)


def test_a_weekday_without_history_takes_the_level_of_the_other_days() -> None:
    mondays = [DaySales(day, 80, 120) for day in weeks_before(10, back=4)]
    estimate = estimate_demand(mondays, FRIDAY)
    assert estimate.mean == pytest.approx(80, rel=1e-6)
    assert estimate.caution == (
        "No Friday of 10 days on record: the other days help, but less is sure."
    )


def test_a_weekday_with_history_keeps_its_own_level() -> None:
    days = [DaySales(day, 80, 200) for day in weeks_before(20, back=4)]
    days += [DaySales(day, 160, 200) for day in weeks_before(20)]
    assert estimate_demand(days, FRIDAY).mean == pytest.approx(160, rel=0.03)
    assert estimate_demand(days, FRIDAY + timedelta(3)).mean == pytest.approx(80, rel=0.03)


def test_one_wild_friday_is_drawn_towards_the_other_days() -> None:
    days = [DaySales(day, 80, 400) for day in weeks_before(10, back=4)]
    days += fridays((300, 400, None))
    assert 100 < estimate_demand(days, FRIDAY).mean < 280


def test_the_spread_narrows_as_days_come_in() -> None:
    rng = random.Random(4)
    days = [DaySales(day, rng.randint(85, 115), 200) for day in weeks_before(40)]
    widths = []
    for count in (1, 3, 10, 40):
        demand = estimate_demand(days[-count:], FRIDAY).demand
        widths.append((quantile(demand, 0.9) - quantile(demand, 0.1)) / demand.mean)
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > 1.5 * widths[-1]


CAUTIONS = [
    (0, "No day is on record yet: this is a guess until the first days are sold."),
    (1, "Only 1 Friday of 1 day on record: the other days help, but less is sure."),
    (3, "Only 3 Fridays of 3 days on record: the other days help, but less is sure."),
    (4, ""),
]


@pytest.mark.parametrize(("count", "caution"), CAUTIONS)
def test_little_history_is_said_in_words(count: int, caution: str) -> None:
    assert estimate_demand(fridays(*[(90, 120, None)] * count), FRIDAY).caution == caution


def test_days_that_are_not_before_the_target_are_left_out() -> None:
    days = fridays(*[(90, 120, None)] * 5)
    later = [DaySales(FRIDAY, 500, 600), DaySales(FRIDAY + timedelta(7), 500, 600)]
    assert estimate_demand(days + later, FRIDAY) == estimate_demand(days, FRIDAY)


def test_days_with_nothing_to_sell_are_left_out() -> None:
    days = fridays(*[(90, 120, None)] * 5)
    closed = [DaySales(day, 0, 0) for day in weeks_before(5, back=1)]
    assert estimate_demand(days + closed, FRIDAY) == estimate_demand(days, FRIDAY)


def test_the_order_in_which_days_are_given_does_not_matter() -> None:
    days = fridays((84, 120, None), (120, 120, 0.6), (101, 120, None), (120, 120, None))
    assert estimate_demand(days[::-1], FRIDAY) == estimate_demand(days, FRIDAY)


# --- sold-out days ------------------------------------------------------------------------------


def alone(**changes: float) -> Habits:
    """Habits under which every day weighs alike and no other weekday is asked."""
    never = {"wander": (1e-6,), "share_alike": 0.0, "share_spread": 3.0, "fade": 1e9}
    return Habits(**never | changes)


CENSORED = fridays(
    (84, 120, None), (97, 120, None), (108, 108, 0.7), (110, 120, None), (96, 96, None),
    (96, 96, 0.55), (92, 120, None), (101, 120, None), (108, 108, None), (131, 140, None),
)  # fmt: skip


def chance_of(day: DaySales, mean: np.ndarray, spread: float) -> np.ndarray:
    size = 1.0 / spread
    if day.sold_out and day.sold_out_at is None:
        return stats.nbinom.sf(day.sold - 1, size, size / (size + mean))
    seen = mean * (day.sold_out_at or 1.0)
    return stats.nbinom.pmf(day.sold, size, size / (size + seen))


def test_the_level_and_the_spread_are_those_that_integration_with_scipy_finds() -> None:
    # Level and spread together, over a grid of both, with the same beliefs beforehand.
    habits = alone()
    logs = np.linspace(math.log(60), math.log(170), 800)
    begin = 618 / 6.25  # the first six days seen whole or in part: 618 in 6.25 days
    wide = math.hypot(habits.level_spread, habits.share_spread)
    prior = stats.norm.pdf(logs, math.log(begin), wide)
    weights, means = [], []
    for spread in SPREADS:
        usual = stats.norm.pdf(2 * math.log(spread / 0.17) / habits.spread_doubt)
        usual = habits.poisson * stats.norm.pdf(0) if spread == 0.01 else usual
        likely = prior * usual
        for day in CENSORED:
            likely = likely * chance_of(day, np.exp(logs), spread**2)
        weights.append(likely.sum())
        means.append(float((likely * np.exp(logs)).sum() / likely.sum()))
    mean = np.average(means, weights=weights)
    overdispersion = np.average(np.array(SPREADS) ** 2, weights=weights)
    estimate = estimate_demand(CENSORED, FRIDAY, habits=habits)
    assert estimate.mean == pytest.approx(mean, rel=0.01)
    assert estimate.overdispersion == pytest.approx(overdispersion, rel=0.15)


@pytest.mark.parametrize("hours", [True, False], ids=["hour noted", "hour not noted"])
def test_the_true_level_is_found_although_half_of_the_days_sold_out(hours: bool) -> None:
    days = [seen_of(day, 100) for day in shop_days(11, 900, hours=hours)]
    fridays = [d for d in days if d.day.weekday() == 4]  # mean 125, 100 made
    target = days[-1].day + timedelta(7)
    while target.weekday() != 4:
        target += timedelta(1)
    estimate = estimate_demand(fridays, target, habits=alone(memory=200))
    naive = sum(d.sold for d in fridays) / len(fridays)
    assert naive < 100
    assert estimate.mean == pytest.approx(125, rel=0.05)


def test_an_early_sell_out_means_more_than_a_late_one() -> None:
    usual = [(95, 120, None)] * 6
    means = [
        estimate_demand(fridays(*usual, (100, 100, at)), FRIDAY).mean for at in (0.3, 0.6, 0.9, 1.0)
    ]
    assert means == sorted(means, reverse=True)


def test_noting_the_hour_of_a_sell_out_makes_the_estimate_better() -> None:
    squares = {True: 0.0, False: 0.0}
    for seed in range(40):
        for hours in squares:
            days = [seen_of(d, 120) for d in shop_days(100 + seed, 70, hours=hours)]
            saturdays = [d for d in days if d.day.weekday() == 5]  # mean 140, 120 made
            target = saturdays[-1].day + timedelta(7)
            squares[hours] += (estimate_demand(saturdays, target).mean - 140) ** 2
    assert squares[True] < 0.8 * squares[False]


def test_an_evening_crowd_makes_a_sell_out_at_noon_mean_more() -> None:
    days = fridays(*[(95, 120, None)] * 6, (100, 100, 0.5))
    evening = Curve((0.0, 0.2, 1.0))
    assert (
        estimate_demand(days, FRIDAY, curve=evening).mean > estimate_demand(days, FRIDAY).mean + 3
    )


def test_a_sell_out_at_the_stroke_of_opening_is_not_taken_for_a_thousand_customers() -> None:
    days = fridays(*[(95, 120, None)] * 6, (2, 2, 0.0))
    assert estimate_demand(days, FRIDAY).mean < 130


@st.composite
def histories(draw: st.DrawFn) -> list[DaySales]:
    """Up to four weeks of days around a level, the Fridays of which may have sold out."""
    days = []
    level = draw(st.integers(3, 200))
    for back in range(28, 0, -1):
        if draw(st.booleans()):
            sold = draw(st.integers(round(0.6 * level), round(1.4 * level)))
            day = FRIDAY - timedelta(back)
            days.append(DaySales(day, sold, sold + draw(st.integers(1, 30))))
    return days


@examples(50)
@given(histories(), st.data())
def test_a_sold_out_friday_does_not_lower_what_fridays_want(
    days: list[DaySales], data: st.DataObject
) -> None:
    told = []
    for day in days:
        if day.day.weekday() == 4 and data.draw(st.booleans()):
            at = data.draw(st.none() | st.floats(0.0, 1.0))
            told.append(DaySales(day.day, day.sold, day.sold if at is None else day.available, at))
        else:
            told.append(day)
    naive = estimate_demand(days, FRIDAY).mean
    # A day that sold out says less, so that a low one after it may count for a little more.
    assert estimate_demand(told, FRIDAY).mean >= 0.94 * naive


@examples(30)
@given(
    st.lists(st.tuples(st.integers(0, 200), st.integers(0, 90), st.none() | st.floats(0, 1))),
    st.integers(1, 90),
)
def test_any_history_gives_a_distribution_around_the_estimate(
    rows: list[tuple[int, int, float | None]], grain: int
) -> None:
    days = fridays(*[(sold, sold + more, at) for sold, more, at in rows])
    estimate = estimate_demand(days, FRIDAY, grain=grain)
    assert math.isfinite(estimate.mean)
    assert estimate.mean > 0.0
    assert estimate.demand.cdf(estimate.demand.most) == 1.0
    assert estimate.demand.mean == pytest.approx(estimate.mean, rel=1e-6)


# --- holidays -----------------------------------------------------------------------------------


def test_a_holiday_does_not_raise_an_ordinary_friday() -> None:
    days = fridays(*[(90, 120, None)] * 8)
    feast = [DaySales(FRIDAY - timedelta(7), 300, 400, None, "Lunar New Year")]
    plain = estimate_demand(days[:-1], FRIDAY)
    assert estimate_demand(days[:-1] + feast, FRIDAY).mean == plain.mean


def test_an_earlier_holiday_is_set_against_the_ordinary_days_around_it() -> None:
    # Last year 50 on an ordinary Friday and 150 on the feast; this year 90 on an ordinary one.
    year = timedelta(364)
    days = [DaySales(day - year, 50, 200) for day in weeks_before(8)]
    days += [DaySales(FRIDAY - year, 150, 200, None, "Lunar New Year")]
    days += fridays(*[(90, 200, None)] * 8)
    estimate = estimate_demand(days, FRIDAY, special="Lunar New Year")
    assert 200 < estimate.mean < 3 * 90
    assert [d.sold for d in estimate.alike] == [150]
    assert estimate.caution == "Only 1 earlier Lunar New Year on record: less is sure."


def test_a_holiday_that_sold_out_counts_for_more_than_it_sold() -> None:
    days = fridays(*[(90, 200, None)] * 8)
    feast = FRIDAY - timedelta(35)

    def with_feast(at: float | None, available: int) -> float:
        held = [d for d in days if d.day != feast]
        held.append(DaySales(feast, 150, available, at, "Lunar New Year"))
        return estimate_demand(held, FRIDAY, special="Lunar New Year").mean

    assert with_feast(0.5, 150) > with_feast(None, 150) > with_feast(None, 200)


def test_a_holiday_never_seen_is_an_ordinary_day_of_which_less_is_sure() -> None:
    days = fridays(*[(90, 200, None)] * 12)
    plain = estimate_demand(days, FRIDAY)
    feast = estimate_demand(days, FRIDAY, special="Lunar New Year")
    assert feast.mean == plain.mean
    assert quantile(feast.demand, 0.9) > quantile(plain.demand, 0.9)
    assert feast.caution == (
        "No earlier Lunar New Year is on record: taken as a Friday, and less sure."
    )


# --- the curve of the day -----------------------------------------------------------------------


def test_few_sales_hardly_bend_the_curve_and_many_do() -> None:
    assert learn_curve([]).at(0.37) == pytest.approx(EVEN.at(0.37))
    assert learn_curve([(0.9, 2)] * 3).at(0.5) == pytest.approx(0.5, abs=0.04)
    assert learn_curve([(0.9, 2)] * 3000).at(0.5) < 0.02


@examples(60)
@given(st.lists(st.tuples(st.floats(-1, 2), st.integers(1, 50)), max_size=40), st.integers(1, 48))
def test_a_curve_rises_from_nothing_to_everything(
    sales: list[tuple[float, int]], steps: int
) -> None:
    curve = learn_curve(sales, steps=steps)
    shares = [curve.at(i / 50) for i in range(51)]
    assert shares[0] == 0.0
    assert shares[-1] == 1.0
    assert all(a <= b + 1e-12 for a, b in pairwise(shares))


def test_a_learned_curve_finds_the_evening_crowd_and_the_true_level() -> None:
    days = shop_days(12, 400, when=late_buyers)
    mornings = shop_days(12, 400)
    assert days[0].bought_at != mornings[0].bought_at
    curve = learn_curve((at, 1) for day in days[:150] for at in day.bought_at)
    for moment in (0.25, 0.5, 0.75):
        held = sum(1 for d in days for at in d.bought_at if at <= moment)
        assert curve.at(moment) == pytest.approx(held / sum(d.demand for d in days), abs=0.01)
    seen = [seen_of(day, 90) for day in days[150:] if day.day.weekday() == 5]  # mean 140
    target = seen[-1].day + timedelta(7)
    knowing = estimate_demand(seen, target, curve=curve, habits=alone()).mean
    linear = estimate_demand(seen, target, habits=alone()).mean
    assert knowing == pytest.approx(140, rel=0.08)
    assert abs(linear - 140) > 2 * abs(knowing - 140)


@pytest.mark.parametrize("later", [0, 1, 50, 135, 136, 200])
def test_days_are_looked_at_for_the_memory_and_at_most_half_as_long_again(later: int) -> None:
    target = date(2026, 11, 24) + timedelta(days=later)
    days = [DaySales(target - timedelta(days=n), 10, 20) for n in range(1, 800)]
    memory = 7 * Habits().memory
    assert memory <= estimate_demand(days, target).days <= memory + memory // 2


@pytest.mark.parametrize(("guess", "grain", "mean"), [(60, 1, 60), (5000, 250, 5000), (0, 1, 0.05)])
def test_without_a_day_on_record_the_guess_is_the_demand(
    guess: int, grain: int, mean: float
) -> None:
    assert estimate_demand([], FRIDAY, guess=guess, grain=grain).mean == pytest.approx(mean)
