"""How likely each amount of demand is, and the arithmetic behind it.

A day's demand is a whole number, never below zero, and varies more than chance alone explains (the
weather, a bus that does not come), so it is gamma-Poisson, which is the negative binomial: the day
draws a rate from a gamma, customers come at that rate. Its variance is
``mean + overdispersion × mean²``; with no overdispersion it is the Poisson. A normal would give
weight to less than nothing for a product of which ten are sold.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate

import msgspec

LEAST_DISPERSION = 1e-4
"""Below it a negative binomial cannot be told from a Poisson at any amount a small shop sells."""

_TAIL = 1e-13


class Demand(msgspec.Struct, frozen=True):
    """A discrete distribution of demand on 0, ``grain``, 2 × ``grain`` … pieces or millilitres.

    ``below[i]`` is the chance of at most ``i`` grains; ``moment[i]`` what those amounts add to the
    mean, in grains. Make one with `from_masses` or `negative_binomial`.

    >>> fair = from_masses([0.5, 0.25, 0.25])
    >>> fair.mean, fair.cdf(1), fair.expected_sales(1)
    (0.75, 0.75, 0.5)
    """

    below: tuple[float, ...]
    moment: tuple[float, ...]
    grain: int = 1

    @property
    def mean(self) -> float:
        return self.moment[-1] * self.grain

    @property
    def most(self) -> int:
        """The largest amount that is still counted as possible."""
        return (len(self.below) - 1) * self.grain

    def cdf(self, amount: int) -> float:
        """The chance that no more than ``amount`` is asked for."""
        grains = amount // self.grain
        return 0.0 if grains < 0 else self.below[min(grains, len(self.below) - 1)]

    def expected_sales(self, stock: int) -> float:
        """The mean of the smaller of demand and ``stock``: what is sold of it."""
        grains = stock // self.grain
        if grains < 0:
            return 0.0
        i = min(grains, len(self.below) - 1)
        return self.moment[i] * self.grain + stock * (1.0 - self.below[i])

    def expected_left(self, stock: int) -> float:
        """What is left of ``stock`` when everybody has been served."""
        return max(0.0, stock - self.expected_sales(stock))

    def expected_short(self, stock: int) -> float:
        """What is asked for and not there."""
        return max(0.0, self.mean - self.expected_sales(stock))


def from_masses(masses: Sequence[float], grain: int = 1) -> Demand:
    """A distribution from the chance of each amount; what is missing to 1 is spread evenly."""
    whole = math.fsum(masses)
    shares = [mass / whole for mass in masses]
    below = tuple(min(1.0, chance) for chance in accumulate(shares))
    moment = tuple(accumulate(i * share for i, share in enumerate(shares)))
    return Demand((*below[:-1], 1.0), moment, grain)


def negative_binomial(mean: float, overdispersion: float, grain: int = 1) -> Demand:
    """Gamma-Poisson demand with this ``mean`` in grains; cut where 1e-13 is left.

    The chances are multiplied up and down from the most likely amount, so that none of them
    underflows however large the mean is.
    """
    size = 1.0 / max(overdispersion, LEAST_DISPERSION)
    ratio = mean / (size + mean)
    mode = math.floor(max(0.0, (size - 1.0) * mean / size))
    down = [1.0]
    for k in range(mode, 0, -1):
        down.append(down[-1] * k / ((k - 1 + size) * ratio))
    up: list[float] = []
    k, mass = mode, 1.0
    while mass > _TAIL or k < mean:
        mass *= (k + size) * ratio / (k + 1)
        up.append(mass)
        k += 1
    return from_masses(down[::-1] + up, grain)


def log_beta_share(a: float, b: float, x: float) -> float:
    """Logarithm of the regularised incomplete beta function I_x(a, b), by continued fraction.

    In logarithms, because the chance of a demand far above anything seen is too small to write.
    """
    if x <= 0.0 or x >= 1.0:
        return -math.inf if x <= 0.0 else 0.0
    front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    front += a * math.log(x) + b * math.log1p(-x)
    if x < (a + 1.0) / (a + b + 2.0):
        return front + math.log(_beta_fraction(a, b, x) / a)
    other = math.exp(front) * _beta_fraction(b, a, 1.0 - x) / b
    return math.log1p(-min(other, 1.0 - 1e-16))


def _beta_fraction(a: float, b: float, x: float) -> float:
    """The continued fraction of I_x(a, b) (DLMF 8.17.22), by Lentz's method.

    Asked only for x < (a+1)/(a+b+2), where no denominator comes near zero.
    """
    c, d = 1.0, 1.0 / (1.0 - (a + b) * x / (a + 1.0))
    value = d
    for m in range(1, 5000):
        twice = a + 2 * m
        term = m * (b - m) * x / ((twice - 1.0) * twice)
        c, d = 1.0 + term / c, 1.0 / (1.0 + term * d)
        value *= c * d
        term = -(a + m) * (a + b + m) * x / (twice * (twice + 1.0))
        c, d = 1.0 + term / c, 1.0 / (1.0 + term * d)
        value *= c * d
        if -1e-12 < c * d - 1.0 < 1e-12:
            break
    return value


def log_chance_of_at_least(count: int, mean: float, overdispersion: float) -> float:
    """Logarithm of P(demand ≥ count) for gamma-Poisson demand."""
    if count <= 0:
        return 0.0
    size = 1.0 / overdispersion
    return log_beta_share(count, size, mean / (size + mean))


def mean_of_at_least(count: int, mean: float, overdispersion: float) -> float:
    """The mean of gamma-Poisson demand when all that is known is that it reached ``count``.

    From k·C(k+r−1, k) = r·C(k+r−1, k−1): E[D; D ≥ c] = mean × P(D' ≥ c−1), where D' has size r+1.
    """
    if count <= 0:
        return mean
    size = 1.0 / overdispersion
    ratio = mean / (size + mean)
    above = 0.0 if count == 1 else log_beta_share(count - 1, size + 1.0, ratio)
    return max(float(count), mean * math.exp(above - log_beta_share(count, size, ratio)))
