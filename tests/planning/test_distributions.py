"""The distributions against SciPy and against published tables."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from counter.plan.distributions import (
    Demand,
    from_masses,
    log_beta_share,
    log_chance_of_at_least,
    mean_of_at_least,
    negative_binomial,
)
from tests.often import examples

from .shops import chance_of, poisson, quantile

MEANS = (0.05, 1.0, 7.5, 100.0, 900.0)
SPREADS = (1e-4, 0.03, 0.4, 2.0)


def scipy_law(mean: float, spread: float) -> stats.rv_discrete:
    size = 1.0 / spread
    return stats.nbinom(size, size / (size + mean))


@pytest.mark.parametrize("mean", MEANS)
@pytest.mark.parametrize("spread", SPREADS)
def test_a_negative_binomial_agrees_with_scipy(mean: float, spread: float) -> None:
    ours, law = negative_binomial(mean, spread), scipy_law(mean, spread)
    assert ours.mean == pytest.approx(mean, rel=1e-8)
    for chance in (0.01, 0.2, 0.5, 0.8, 0.99, 0.9999):
        assert quantile(ours, chance) == law.ppf(chance)
    for amount in (0, 1, round(mean / 2), round(mean), round(mean * 2)):
        assert chance_of(ours, amount) == pytest.approx(law.pmf(amount), rel=1e-7, abs=1e-12)
        assert ours.cdf(amount) == pytest.approx(law.cdf(amount), rel=1e-9, abs=1e-12)


def test_demand_without_overdispersion_is_nearly_poisson() -> None:
    ours, law = negative_binomial(40.0, 0.0), poisson(40.0)
    assert max(abs(ours.cdf(k) - law.cdf(k)) for k in range(100)) < 1e-3


@pytest.mark.parametrize("mean", MEANS)
@pytest.mark.parametrize("spread", SPREADS)
def test_the_chance_of_reaching_an_amount_agrees_with_scipy(mean: float, spread: float) -> None:
    law = scipy_law(mean, spread)
    for count in (0, 1, 2, math.ceil(mean), math.ceil(1.5 * mean) + 2, math.ceil(3 * mean) + 5):
        ours = math.exp(log_chance_of_at_least(count, mean, spread))
        assert ours == pytest.approx(law.sf(count - 1), rel=1e-8, abs=1e-200)


@pytest.mark.parametrize(
    ("count", "mean", "spread"),
    [(1, 0.5, 0.03), (80, 100.0, 0.03), (130, 100.0, 0.03), (400, 100.0, 0.03), (30, 20.0, 1.0)],
)
def test_the_mean_above_an_amount_is_the_sum_over_the_chances(
    count: int, mean: float, spread: float
) -> None:
    law = scipy_law(mean, spread)
    masses = [(k, law.pmf(k)) for k in range(count, count + 3000)]
    expected = math.fsum(k * p for k, p in masses) / math.fsum(p for _, p in masses)
    assert mean_of_at_least(count, mean, spread) == pytest.approx(expected, rel=1e-8)


def test_the_chance_of_an_amount_far_above_anything_seen_does_not_vanish() -> None:
    # P(D ≥ 40,000) at mean 20 is below 1e-1000: no double holds it, its logarithm does.
    assert -1e6 < log_chance_of_at_least(40_000, 20.0, 1e-4) < -1000
    assert mean_of_at_least(40_000, 20.0, 1e-4) == pytest.approx(40_000, rel=1e-3)


@examples(40)
@given(st.floats(0.2, 300), st.floats(0.2, 300), st.floats(0.01, 0.99))
def test_the_beta_share_agrees_with_the_integral_of_its_density(
    a: float, b: float, x: float
) -> None:
    ours = math.exp(log_beta_share(a, b, x))
    assert ours == pytest.approx(stats.beta.cdf(x, a, b), rel=1e-9, abs=1e-200)


def test_the_edges_of_the_beta_share_are_nothing_and_everything() -> None:
    assert log_beta_share(2.0, 3.0, 0.0) == -math.inf
    assert log_beta_share(2.0, 3.0, 1.0) == 0.0
    whole, _ = integrate.quad(lambda t: 12 * t * (1 - t) ** 2, 0, 0.3)  # B(2, 3) = 1/12
    assert math.exp(log_beta_share(2.0, 3.0, 0.3)) == pytest.approx(whole, rel=1e-12)


masses_lists = st.lists(st.floats(0.001, 1.0), min_size=1, max_size=30)


@examples(60)
@given(masses_lists, st.integers(1, 400), st.integers(0, 3000))
def test_demand_is_what_is_sold_and_what_is_short(
    masses: list[float], grain: int, stock: int
) -> None:
    demand = from_masses(masses, grain)
    sold = math.fsum(chance_of(demand, k) * min(k, stock) for k in range(0, demand.most + 1, grain))
    assert demand.expected_sales(stock) == pytest.approx(sold, abs=1e-6)
    assert demand.expected_sales(stock) + demand.expected_short(stock) == pytest.approx(demand.mean)
    assert demand.expected_sales(stock) + demand.expected_left(stock) == pytest.approx(stock)


@examples(60)
@given(masses_lists, st.integers(1, 400), st.floats(0.0, 1.0))
def test_a_quantile_is_the_smallest_amount_that_is_enough(
    masses: list[float], grain: int, chance: float
) -> None:
    demand = from_masses(masses, grain)
    enough = quantile(demand, chance)
    assert demand.cdf(enough) >= chance
    assert enough == 0 or demand.cdf(enough - grain) < chance


def test_amounts_between_two_grains_and_below_zero_have_no_chance() -> None:
    cups = from_masses([0.25, 0.5, 0.25], grain=250)
    assert cups.mean == 250
    assert (
        chance_of(cups, 250),
        chance_of(cups, 251),
        chance_of(cups, -250),
        chance_of(cups, 750),
    ) == (0.5, 0, 0, 0)
    assert (cups.cdf(-1), cups.cdf(249), cups.cdf(600), cups.cdf(10_000)) == (0, 0.25, 1, 1)
    assert cups.expected_sales(-1) == 0


def test_a_demand_of_nothing_is_certain() -> None:
    nothing = poisson(0.0)
    assert isinstance(nothing, Demand)
    assert (nothing.mean, nothing.cdf(0), quantile(nothing, 0.999)) == (0.0, 1.0, 0)
