"""How much is best, against the textbook, SciPy and brute force."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import BadInput
from counter.plan.distributions import from_masses, negative_binomial
from counter.plan.planning import Terms, best_moulds, choice_of, expected_cost
from tests.often import examples

from .shops import chance_of, poisson, quantile


def test_the_best_amount_under_poisson_demand_is_the_textbook_one() -> None:
    # Snyder and Shen, Fundamentals of Supply Chain Theory, Example 4.7: mean 6, holding 1,
    # stockout 4.
    best = best_moulds(poisson(6), Terms(Decimal(5), Decimal(1)), 1)
    assert best == 8
    assert expected_cost(poisson(6), best, 4, 1) == pytest.approx(3.5701069457709416, rel=1e-9)
    assert expected_cost(poisson(6), 5, 4, 1) == pytest.approx(6.590296024616343, rel=1e-9)


@pytest.mark.parametrize("moulds", [1, 2, 12, 13, 14, 40])
def test_as_many_moulds_are_made_as_are_surely_sold(moulds: int) -> None:
    """Of a demand that is surely so many moulds, no mould fewer and none more."""
    sure = from_masses([0.0] * (moulds * 48) + [1.0])
    assert best_moulds(sure, Terms(Decimal(300), Decimal(90)), 48) == moulds
    assert best_moulds(sure, Terms(Decimal(300), Decimal(90)), 48, on_hand=48) == moulds - 1


chances = st.lists(st.floats(0.01, 1.0), min_size=2, max_size=60).map(from_masses)
amounts = st.integers(1, 2000).map(Decimal)


@examples(60)
@given(chances, amounts, amounts, st.integers(1, 25), st.integers(0, 70))
def test_no_other_number_of_moulds_has_a_better_margin(
    demand, price: Decimal, cost: Decimal, batch: int, on_hand: int
) -> None:
    terms = Terms(price, cost)
    moulds = best_moulds(demand, terms, batch, on_hand)

    def margin(number: int) -> float:
        stock = on_hand + number * batch
        sold = math.fsum(chance_of(demand, k) * min(k, stock) for k in range(demand.most + 1))
        return float(price) * sold - float(cost) * number * batch

    best = max(margin(number) for number in range(demand.most // batch + 2))
    assert margin(moulds) == pytest.approx(best, abs=1e-6)


@examples(60)
@given(chances, amounts, amounts)
def test_in_single_pieces_the_best_is_the_smallest_that_is_enough(
    demand, price: Decimal, cost: Decimal
) -> None:
    terms = Terms(price, cost)
    made = best_moulds(demand, terms, 1)
    # A chance that equals the ratio to the last digit may fall on either side of it.
    low, high = (quantile(demand, float(terms.ratio) + shift) for shift in (-1e-9, 1e-9))
    assert low <= made <= high


@examples(60)
@given(chances, st.lists(amounts, min_size=2, max_size=5), amounts, st.integers(1, 25))
def test_a_higher_price_never_makes_less(
    demand, prices: list[Decimal], cost: Decimal, batch: int
) -> None:
    made = [best_moulds(demand, Terms(price, cost), batch) for price in sorted(prices)]
    assert made == sorted(made)


@examples(60)
@given(chances, amounts, st.lists(amounts, min_size=2, max_size=5), st.integers(1, 25))
def test_a_higher_cost_never_makes_more(
    demand, price: Decimal, costs: list[Decimal], batch: int
) -> None:
    made = [best_moulds(demand, Terms(price, cost), batch) for cost in sorted(costs)]
    assert made == sorted(made, reverse=True)


@examples(60)
@given(chances, st.lists(st.integers(0, 100), min_size=2, max_size=5), st.integers(1, 25))
def test_what_is_on_hand_is_never_made_again(demand, on_hand: list[int], batch: int) -> None:
    terms = Terms(Decimal(300), Decimal(90))
    made = [best_moulds(demand, terms, batch, have) for have in sorted(on_hand)]
    assert made == sorted(made, reverse=True)


RATIOS = [
    # price, cost, last-day price, keeps -> missed, wasted
    (300, 90, 0, "0", "210", "90"),
    (300, 90, 60, "0.5", "210", "60"),
    # One kept saves making one, so it is never worth more than its cost.
    (300, 90, 150, "0.5", "210", "45"),
    # Certain to be sold tomorrow: a twentieth of the cost is still lost.
    (300, 90, 150, "1", "210", "4.5"),
    # Sold below cost: nothing is lost by having none.
    (80, 90, 0, "0", "0", "90"),
]


@pytest.mark.parametrize(("price", "cost", "last_day", "keeps", "missed", "wasted"), RATIOS)
def test_terms_say_what_one_too_few_and_one_too_many_lose(
    price: int, cost: int, last_day: int, keeps: str, missed: str, wasted: str
) -> None:
    terms = Terms(Decimal(price), Decimal(cost), Decimal(last_day), Decimal(keeps))
    assert terms.missed == Decimal(missed)
    assert terms.wasted == Decimal(wasted)
    assert terms.ratio == Decimal(missed) / (Decimal(missed) + Decimal(wasted))


@pytest.mark.parametrize(
    "wrong",
    [
        {"price": Decimal(-1)},
        {"cost": Decimal(0)},
        {"keeps": Decimal("1.5")},
        {"last_day_price": Decimal(-1)},
    ],
)
def test_terms_that_mean_nothing_are_refused(wrong: dict[str, Decimal]) -> None:
    values = {"price": Decimal(300), "cost": Decimal(90)} | wrong
    with pytest.raises(BadInput) as refusal:
        Terms(**values)
    assert str(refusal.value) == (
        f"Cannot plan at price {values['price']} and cost {values['cost']}: amounts are not below "
        "zero, a cost is above it and a chance is 0 to 1. Set the cost of a mould in the catalogue."
    )


@pytest.mark.parametrize(("batch", "on_hand"), [(0, 0), (-60, 0), (60, -1)])
def test_a_mould_of_nothing_or_less_than_nothing_on_hand_is_refused(
    batch: int, on_hand: int
) -> None:
    with pytest.raises(BadInput) as refusal:
        best_moulds(poisson(5), Terms(Decimal(300), Decimal(90)), batch, on_hand)
    assert str(refusal.value) == (
        f"Cannot plan moulds of {batch} with {on_hand} on hand: a mould makes at least one, and no "
        "less than nothing is on hand. Count what is on hand and set what a mould makes."
    )


def test_a_margin_counts_money_in_making_and_what_is_kept() -> None:
    # Demand 50 or 150, even chances. 100 made, price 3.00, cost 0.90, half of 0.60
    # kept: sold 75 × 3.00 − 100 × 0.90 + 25 left × 0.30.
    demand = from_masses([0.0] * 50 + [0.5] + [0.0] * 99 + [0.5])
    terms = Terms(Decimal(300), Decimal(90), Decimal(60), Decimal("0.5"))
    choice = choice_of(demand, terms, batch=50, on_hand=0, moulds=2)
    assert choice.margin == 22_500 - 9_000 + 750
    assert (choice.make, choice.left, choice.sells_out) == (100, 25.0, 0.5)


def test_what_was_carried_in_and_is_left_over_is_worth_nothing() -> None:
    # 20 carried in and 30 made meet a demand of 10: 10 carried ones are thrown away, 30 kept.
    demand = from_masses([0.0] * 10 + [1.0])
    terms = Terms(Decimal(300), Decimal(90), Decimal(60), Decimal("0.5"))
    choice = choice_of(demand, terms, batch=30, on_hand=20, moulds=1)
    assert choice.margin == 10 * 300 - 30 * 90 + 30 * 30
    assert choice.left == 40.0


def test_a_wider_demand_costs_more_even_at_its_best() -> None:
    terms = Terms(Decimal(300), Decimal(90))
    costs = []
    for spread in (0.001, 0.03, 0.2):
        demand = negative_binomial(100, spread)
        costs.append(expected_cost(demand, best_moulds(demand, terms, 1), 210, 90))
    assert costs == sorted(costs)
