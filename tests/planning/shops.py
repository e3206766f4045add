"""Invented shops whose true demand is known: gamma-Poisson days, customers one at a time."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from decimal import Decimal
from functools import cache

from scipy import stats

from counter.plan.backtest import Rule, TrueDay
from counter.plan.demand import DaySales
from counter.plan.distributions import Demand, from_masses, negative_binomial
from counter.plan.planning import Terms, best_moulds

FIRST = date(2025, 1, 6)  # a Monday
WEEK = (0.80, 0.85, 0.90, 1.00, 1.25, 1.40, 0.0)  # closed on Sundays
TERMS = Terms(Decimal(300), Decimal(90))


def poisson(mean: float) -> Demand:
    """Demand that varies by chance alone, by SciPy."""
    return from_masses([stats.poisson.pmf(k, mean) for k in range(int(3 * mean) + 60)])


def chance_of(demand: Demand, amount: int) -> float:
    """The chance that exactly so much is asked for."""
    return demand.cdf(amount) - demand.cdf(amount - 1)


def quantile(demand: Demand, chance: float) -> int:
    """The smallest amount that is enough with at least this chance."""
    amounts = range(0, demand.most + 1, demand.grain)
    return next(n for n in amounts if demand.cdf(n) >= chance or n == demand.most)


def perfect_rule(terms: Terms, batch: int) -> Rule:
    """The best that can be done by anybody who knows the law of each day, but not the day."""

    def make(_history: Sequence[DaySales], day: TrueDay) -> int:
        assert day.law is not None
        return batch * best_moulds(day.law, terms, batch)

    return make


@cache
def law_of(mean: float, spread: float) -> Demand:
    return negative_binomial(mean, spread)


def buying_times(rng: random.Random, mean: float, spread: float) -> list[float]:
    """When each piece is asked for on one day: a gamma rate, then exponential gaps."""
    rate = rng.gammavariate(1.0 / spread, mean * spread)
    times: list[float] = []
    now = rng.expovariate(rate)
    while now <= 1.0:
        times.append(now)
        now += rng.expovariate(rate)
    return times


def late_buyers(share: float) -> float:
    """A crowd after work: a fifth of the buying in the first half of the day."""
    return share * 2.5 if share < 0.2 else 0.5 + (share - 0.2) * 0.625


def shop_days(
    seed: int,
    count: int,
    *,
    level: float = 100.0,
    spread: float = 0.03,
    season: float = 0.0,
    growth: float = 0.0,
    wander: float = 0.0,
    hours: bool = True,
    when: Callable[[float], float] = lambda share: share,
) -> list[TrueDay]:
    """``count`` calendar days. ``season`` is the yearly swing, ``growth`` a week, both in logs.

    ``wander`` is the standard deviation of what the level's logarithm moves in a week, at random.
    """
    rng, walk = random.Random(seed), random.Random(f"walk {seed}")
    moved = 0.0
    days = []
    for i in range(count):
        day = FIRST + timedelta(i)
        moved += walk.gauss(0.0, wander / math.sqrt(7.0))
        if not WEEK[day.weekday()]:
            continue
        swing = season * math.sin(2.0 * math.pi * i / 365.0) + growth * i / 7.0 + moved
        mean = round(level * WEEK[day.weekday()] * math.exp(swing), 1)
        times = [when(share) for share in buying_times(rng, mean, spread)]
        law = law_of(mean, spread)
        days.append(TrueDay(day, len(times), tuple(times) if hours else (), law=law))
    return days
