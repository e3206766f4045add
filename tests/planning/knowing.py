"""The best that can be known: rules that are told how a shop's demand comes about.

They know the week, how much days vary, and how the level moves (that it stands still, wanders at
such a rate, or swings so far in a year), and not where it is. What is known of that after each day
is worked out by Bayes' rule over a grid, and the best amount under it is made. No rule that sees
only sales can do better on the average of such shops.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
from scipy import special, stats

from counter.plan.backtest import Rule, TrueDay
from counter.plan.demand import DaySales
from counter.plan.planning import Terms

from .shops import FIRST, WEEK

WIDE = tuple(np.linspace(math.log(40), math.log(250), 140))
NARROW = tuple(np.linspace(math.log(80), math.log(125), 40))
Factors = Callable[[int], np.ndarray]
"""The factor on the level by day number, a row for each way the year may go."""


def steady(_day: int) -> np.ndarray:
    return np.ones((1, 1))


def swinging(swings: Sequence[float]) -> Factors:
    """A year that goes up and down by one of the ``swings``, in logs, from any of 20 beginnings."""
    phases = np.arange(20) * 2 * math.pi / 20
    swing, phase = (grid.ravel() for grid in np.meshgrid(swings, phases))

    def factors(day: int) -> np.ndarray:
        return np.exp(swing * np.sin(2 * math.pi * day / 365 + phase))[:, None]

    return factors


@cache
def step_of(levels: tuple[float, ...], wander: float) -> np.ndarray:
    """Chances of going from each level (row) to each other."""
    kernel = stats.norm.pdf(np.subtract.outer(levels, levels), 0.0, wander)
    return kernel / kernel.sum(axis=1)[:, None]


def knowing_rule(
    terms: Terms,
    spread: float,
    *,
    levels: tuple[float, ...] = NARROW,
    factors: Factors = steady,
    wander: float = 0.0,
) -> Rule:
    """The best amount by the piece; ``wander`` is the level's step in a week, in logs."""
    weights = np.ones((len(factors(0)), len(levels)))
    size, ratio = 1.0 / spread, float(terms.ratio)
    learned = 0
    last = FIRST

    def moved(days: int) -> np.ndarray:
        if not wander or not days:
            return weights
        return weights @ step_of(levels, wander * math.sqrt(days / 7))

    def means(day) -> np.ndarray:
        return WEEK[day.weekday()] * factors((day - FIRST).days) * np.exp(levels)[None, :]

    def make(history: Sequence[DaySales], day: TrueDay) -> int:
        nonlocal weights, learned, last
        for seen in history[learned:]:
            weights = moved((seen.day - last).days) * chance_of(seen, means(seen.day), size)
            weights /= weights.sum()
            last = seen.day
        learned = len(history)
        now, wanted = moved((day.day - last).days), means(day.day)
        now = now / now.sum()

        def enough(amount: int) -> float:
            return float((now * special.betainc(size, amount + 1, size / (size + wanted))).sum())

        low, high = 0, 1000
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if enough(middle) >= ratio else (middle + 1, high)
        return max(1, low)

    return make


def chance_of(seen: DaySales, means: np.ndarray, size: float) -> np.ndarray:
    if seen.sold_out and seen.sold_out_at is None:
        return stats.nbinom.sf(seen.sold - 1, size, size / (size + means))
    part = means * (seen.sold_out_at or 1.0)
    return stats.nbinom.pmf(seen.sold, size, size / (size + part))
