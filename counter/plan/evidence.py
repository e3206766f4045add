"""What one day says about the level of its weekday: how well it was foretold, and what it shifts.

Demand is gamma-Poisson around a level whose logarithm is believed to be normal. A day seen whole or
in part is weighed where the belief after it has its top (Newton's method); of a day that sold out
at an unknown hour all that is known is that demand reached so much, and there the mean and the
variance of the belief after it are worked out over a grid.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import msgspec

from counter.plan.distributions import LEAST_DISPERSION, log_chance_of_at_least

_STEP = 0.75
_GRID = tuple((i * _STEP, NormalDist().pdf(i * _STEP) * _STEP) for i in range(-6, 7))
"""Places of a standard normal and their weights; they add up to 1 to five digits."""
_FAR = 3.0
"""Beyond so many deviations the grid is too coarse: the day is taken as if it had been counted."""


class Seen(msgspec.Struct, frozen=True):
    """A day as evidence: ``count`` grains seen during the share ``exposure`` of its buying.

    Exposure 1 is a whole day; 0 is one that sold out at an unknown hour, after at least ``count``.
    ``day`` is its proleptic ordinal.
    """

    day: int
    weekday: int
    count: float
    exposure: float


def log_chance_of(day: Seen, mean: float, overdispersion: float) -> float:
    """Logarithm of the chance of what was seen of a day, up to a term of the day alone."""
    spread = max(overdispersion, LEAST_DISPERSION)
    if day.exposure <= 0.0:
        return log_chance_of_at_least(math.ceil(day.count), mean, spread)
    size, count = 1.0 / spread, day.count
    ratio = spread * mean * day.exposure
    log = math.lgamma(count + size) - math.lgamma(size)
    return log + count * math.log(ratio) - (count + size) * math.log1p(ratio)


def news_of(day: Seen, log: float, doubt: float, overdispersion: float) -> tuple[float, float]:
    """How far a day shifts the logarithm of its level, and how much surer it makes it.

    The belief before is normal with mean ``log`` and variance ``doubt``. After it the mean is
    ``log + shift × doubt`` and the variance ``doubt - sharpness × doubt²``.
    """
    spread = max(overdispersion, LEAST_DISPERSION)
    if day.exposure <= 0.0:
        return _news_of_blind(math.ceil(day.count), log, doubt, spread)
    return _news_of_counted(day.count, day.exposure, log, doubt, spread)


def _news_of_counted(
    count: float, exposure: float, log: float, doubt: float, spread: float
) -> tuple[float, float]:
    """Newton's method for the top of the belief; from near the count where little was believed."""
    near = max(count, 0.5)
    place = log + (math.log(near / exposure) - log) * doubt / (doubt + spread + 1.0 / near)
    known = 0.0
    for _ in range(30):
        mean = math.exp(place) * exposure
        wide = 1.0 + spread * mean
        known = mean * (1.0 + spread * count) / wide**2
        slope = (count - mean) / wide - (place - log) / doubt
        step = max(-1.0, min(1.0, slope / (known + 1.0 / doubt)))
        place += step
        if abs(step) < 1e-7:
            break
    return (place - log) / doubt, known / (1.0 + doubt * known)


def _news_of_blind(count: int, log: float, doubt: float, spread: float) -> tuple[float, float]:
    if count <= 0:
        return 0.0, 0.0
    sd = math.sqrt(doubt)
    chances = [
        weight * math.exp(log_chance_of_at_least(count, math.exp(log + sd * x), spread))
        for x, weight in _GRID
    ]
    whole = math.fsum(chances)
    pairs = list(zip(chances, _GRID, strict=True))
    mean = math.fsum(chance * x for chance, (x, _) in pairs) / whole if whole else math.inf
    if mean > _FAR:
        return _news_of_counted(count, 1.0, log, doubt, spread)
    square = math.fsum(chance * (x - mean) ** 2 for chance, (x, _) in pairs) / whole
    square = max(square, _STEP**2 / 12)  # not surer than the grid is fine
    return mean / sd, max(0.0, 1.0 - square) / doubt
