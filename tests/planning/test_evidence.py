"""What one day says of its level, against numerical integration with SciPy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy import stats

from counter.plan.evidence import Seen, log_chance_of, news_of
from counter.plan.levels import SPREADS
from tests.often import examples

DAYS = [
    # count, exposure (0: at least so many), level believed, variance of its log, overdispersion
    (130, 1.0, 60, 0.12, 0.19),
    (120, 1.0, 100, 0.02, 0.03),
    (40, 0.3, 100, 0.02, 0.03),
    (3, 1.0, 12, 0.05, 1e-4),
    (0, 1.0, 4, 0.05, 0.03),
    (130, 0.0, 60, 0.12, 0.19),
    (120, 0.0, 100, 0.02, 0.03),
    (90, 0.0, 100, 0.4, 0.03),
    (3, 0.0, 2, 0.7, 0.1),
]


def belief_after(count: int, exposure: float, level: float, doubt: float, spread: float):
    """Mean and variance of the logarithm after the day, over a grid of 8,000 places."""
    sd = math.sqrt(doubt)
    logs = np.linspace(math.log(level) - 8 * sd, math.log(level) + 8 * sd, 8000)
    size = 1.0 / spread
    if exposure:
        likely = stats.nbinom.pmf(count, size, size / (size + np.exp(logs) * exposure))
    else:
        likely = stats.nbinom.sf(count - 1, size, size / (size + np.exp(logs)))
    weight = stats.norm.pdf(logs, math.log(level), sd) * likely
    mean = np.average(logs, weights=weight)
    return mean, np.average((logs - mean) ** 2, weights=weight)


@pytest.mark.parametrize(("count", "exposure", "level", "doubt", "spread"), DAYS)
def test_the_belief_after_a_day_is_the_one_that_integration_finds(
    count: int, exposure: float, level: float, doubt: float, spread: float
) -> None:
    mean, variance = belief_after(count, exposure, level, doubt, spread)
    shift, sharpness = news_of(Seen(1, 0, count, exposure), math.log(level), doubt, spread)
    # A day seen whole is weighed at the top of the belief, which lies beside its mean.
    near = 0.006 if not exposure else 0.12 * math.sqrt(variance)
    assert math.log(level) + shift * doubt == pytest.approx(mean, abs=near)
    assert doubt - sharpness * doubt**2 == pytest.approx(variance, rel=0.03)


@pytest.mark.parametrize("exposure", [1.0, 0.4, 0.0])
def test_the_chance_of_a_day_is_the_one_of_scipy_up_to_a_term_of_the_day_alone(
    exposure: float,
) -> None:
    def scipys(mean: float, spread: float) -> float:
        size = 1.0 / spread
        if not exposure:
            return stats.nbinom.logsf(89, size, size / (size + mean))
        return stats.nbinom.logpmf(90, size, size / (size + mean * exposure))

    day = Seen(1, 0, 90, exposure)
    for mean, spread in ((100, 0.03), (80, 0.03), (100, 0.2), (300, 1e-4)):
        ours = log_chance_of(day, mean, spread) - log_chance_of(day, 95, 0.05)
        assert ours == pytest.approx(scipys(mean, spread) - scipys(95, 0.05), rel=1e-6)


counts = st.integers(0, 400)
levels = st.floats(1, 300).map(math.log)
doubts = st.floats(1e-4, 0.7)
spreads = st.sampled_from(SPREADS[:7]).map(lambda spread: spread**2)


@examples(150)
@given(counts, st.floats(0.02, 1.0), levels, doubts, spreads)
def test_the_earlier_it_sold_out_the_more_was_wanted(
    count: int, exposure: float, log: float, doubt: float, spread: float
) -> None:
    early, _ = news_of(Seen(1, 0, count, exposure), log, doubt, spread)
    whole, _ = news_of(Seen(1, 0, count, 1.0), log, doubt, spread)
    assert early >= whole - 1e-4 / doubt**0.5


@example(202, 0.0, 0.0, 1e-4, 0.01)  # all of it falls on one place of the grid
@examples(150)
@given(counts, st.sampled_from((0.0, 0.1, 0.6, 1.0)), levels, doubts, spreads)
def test_no_day_makes_a_level_less_sure_and_one_of_unknown_hour_never_lowers_it(
    count: int, exposure: float, log: float, doubt: float, spread: float
) -> None:
    shift, sharpness = news_of(Seen(1, 0, count, exposure), log, doubt, spread)
    assert 0.0 <= sharpness * doubt < 1.0
    if not exposure:
        assert shift * doubt >= -1e-4


def test_having_nothing_and_selling_nothing_says_nothing() -> None:
    assert news_of(Seen(1, 0, 0, 0.0), math.log(50), 0.1, 0.03) == (0.0, 0.0)
