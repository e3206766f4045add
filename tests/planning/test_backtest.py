"""The plan against simple rules and against perfect knowledge, on shops whose demand is known.

Seeds are fixed. Costs are means over the law of each day, so what is compared is the rule and not
the luck of the draw; three months are lived through before counting starts.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.plan.backtest import (
    Rule,
    TrueDay,
    backtest,
    last_week_rule,
    mean_rule,
    plan_rule,
    seen_of,
    yesterday_rule,
)
from counter.plan.demand import DaySales, learn_curve
from counter.plan.planning import Terms
from tests.often import examples

from .shops import FIRST, TERMS, late_buyers, perfect_rule, shop_days

THREE_MONTHS = 78  # trading days


def against_perfect(shops: list[list[TrueDay]], batch: int, terms: Terms, rule: Rule) -> float:
    """Cost of a rule as a multiple of the cost of knowing the law of every day."""
    cost, least = 0.0, 0.0
    for days in shops:
        perfect = backtest(days, perfect_rule(terms, batch), terms, skip=THREE_MONTHS)
        other = backtest(days, rule, terms, skip=THREE_MONTHS)
        assert perfect.expected_cost is not None
        assert other.expected_cost is not None
        cost, least = cost + other.expected_cost, least + perfect.expected_cost
    return cost / least


# Seeds, shop, pieces a mould, cost as a share of the price.
SHOPS = [
    pytest.param((21,), {"count": 450}, 1, "0.3", id="steady, by the piece"),
    pytest.param((22,), {"count": 450}, 20, "0.3", id="steady, moulds of 20"),
    pytest.param((23,), {"count": 400, "level": 15.0}, 1, "0.3", id="small"),
    pytest.param((24,), {"count": 400, "spread": 0.1}, 1, "0.3", id="capricious"),
    pytest.param((29,), {"count": 450, "spread": 1e-4}, 1, "0.3", id="by chance alone"),
    pytest.param((25,), {"count": 450, "growth": 0.005}, 1, "0.3", id="growing 29 % a year"),
    # One year holds few turns of a season, so three shops are taken together.
    pytest.param((28, 38, 48), {"count": 365, "season": 0.1}, 1, "0.3", id="a tenth up in summer"),
    pytest.param((26,), {"count": 400}, 1, "0.7", id="dear to make, sells out most days"),
    pytest.param((27,), {"count": 170, "hours": False}, 12, "0.3", id="hours never noted"),
]


@pytest.mark.parametrize(("seeds", "shop", "batch", "cost"), SHOPS)
def test_the_plan_costs_at_most_a_twentieth_more_than_perfect_knowledge(
    seeds: tuple[int, ...], shop: dict[str, float], batch: int, cost: str
) -> None:
    terms = Terms(Decimal(300), 300 * Decimal(cost))
    shops = [shop_days(seed, **shop) for seed in seeds]
    assert 1.0 <= against_perfect(shops, batch, terms, plan_rule(terms, batch)) <= 1.05


SIMPLE = [
    pytest.param(yesterday_rule, id="yesterday"),
    pytest.param(last_week_rule, id="last week"),
    pytest.param(mean_rule, id="mean"),
]


@pytest.fixture(scope="module")
def quarter() -> tuple[list[TrueDay], list[DaySales]]:
    """A shop, and a first quarter in which nothing ever sold out, known to every rule."""
    days = shop_days(31, 500)
    known = [seen_of(day, 250) for day in days[:THREE_MONTHS]]
    assert not any(day.sold_out for day in known)
    return days[THREE_MONTHS:], known


@pytest.mark.parametrize("batch", [1, 12])
@pytest.mark.parametrize("simple", SIMPLE)
def test_the_plan_costs_less_than_every_simple_rule(simple, batch, quarter) -> None:
    days, known = quarter
    plan = backtest(days[:100], plan_rule(TERMS, batch), TERMS, before=known)
    other = backtest(days[:100], simple(batch), TERMS, before=known)
    assert plan.expected_cost < 0.8 * other.expected_cost
    assert plan.cost < other.cost


def test_taking_sales_for_demand_costs_more(quarter) -> None:
    days, known = quarter
    honest = plan_rule(TERMS, 1)

    def blind(history, day: TrueDay) -> int:
        taken = [DaySales(d.day, d.sold, d.sold + 1) for d in history]
        return honest(taken, day)

    plan = backtest(days[:120], honest, TERMS, before=known)
    naive = backtest(days[:120], blind, TERMS, before=known)
    assert naive.lost > 1.3 * plan.lost
    assert naive.expected_cost > 1.06 * plan.expected_cost


def test_knowing_how_buying_spreads_over_the_day_pays() -> None:
    terms = Terms(Decimal(300), Decimal(210))
    days = shop_days(33, 300, when=late_buyers)
    curve = learn_curve((at, 1) for day in days[:60] for at in day.bought_at)
    knowing = against_perfect([days], 1, terms, plan_rule(terms, 1, curve=curve))
    linear = against_perfect([days], 1, terms, plan_rule(terms, 1))
    assert knowing <= 1.05
    assert knowing < linear


def test_a_strong_season_is_followed_late_but_followed() -> None:
    # 30 % up and down in a year: levels lag, and the plan makes up for it with a wider spread.
    days = shop_days(34, 456, season=0.3)
    ratio = against_perfect([days], 1, TERMS, plan_rule(TERMS, 1))
    assert ratio < 1.1
    assert ratio < 0.5 * against_perfect([days], 1, TERMS, mean_rule(1))


# --- the replay itself --------------------------------------------------------------------------


def test_a_replay_adds_up_to_the_figures_worked_by_hand() -> None:
    # 10, 10 and 10 made for 8, 12 and 10: two thrown away at 0.90, two missed at 2.10.
    days = [TrueDay(FIRST, 8), TrueDay(FIRST, 12), TrueDay(FIRST, 10)]
    replay = backtest(days, lambda _history, _day: 10, TERMS)
    assert (replay.days, replay.made, replay.sold, replay.wasted, replay.lost) == (3, 30, 28, 2, 2)
    assert replay.cost == 2 * 90 + 2 * 210
    assert replay.expected_cost is None


@examples(40)
@given(st.lists(st.tuples(st.integers(0, 80), st.integers(0, 80)), max_size=30))
def test_what_was_made_was_sold_or_wasted_and_what_was_wanted_was_sold_or_lost(
    rows: list[tuple[int, int]],
) -> None:
    amounts = iter([made for made, _ in rows])
    days = [TrueDay(FIRST, wanted) for _, wanted in rows]
    replay = backtest(days, lambda _history, _day: next(amounts), TERMS)
    assert replay.made == replay.sold + replay.wasted
    assert sum(day.demand for day in days) == replay.sold + replay.lost


def test_a_rule_sees_only_what_the_shop_saw() -> None:
    days = [TrueDay(FIRST, 4, (0.1, 0.2, 0.6, 0.9)), TrueDay(FIRST, 4, (0.1, 0.2, 0.6, 0.9))]
    told: list[tuple[DaySales, ...]] = []

    def watching(history, day: TrueDay) -> int:
        told.append(tuple(history))
        return 3

    backtest(days, watching, TERMS)
    assert told == [(), (DaySales(FIRST, 3, 3, 0.6),)]


SEEN = [
    # made for a demand of three at these hours -> sold, sold out at
    (0, 0, None),
    (2, 2, 0.5),
    (3, 3, 0.9),
    (4, 3, None),
]


@pytest.mark.parametrize(("made", "sold", "at"), SEEN)
def test_the_hour_of_a_sell_out_is_when_the_last_piece_went(
    made: int, sold: int, at: float | None
) -> None:
    assert seen_of(TrueDay(FIRST, 3, (0.2, 0.5, 0.9)), made) == DaySales(FIRST, sold, made, at)


def test_days_lived_through_are_learned_from_but_not_counted() -> None:
    days = [TrueDay(FIRST, 8), TrueDay(FIRST, 30)]
    replay = backtest(days, yesterday_rule(1), TERMS, skip=1)
    # The first day made one mould of 1 and sold out, so 2 are made on the second.
    assert (replay.days, replay.made, replay.lost) == (1, 2, 28)
