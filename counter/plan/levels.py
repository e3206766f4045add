"""The level of each weekday and the day-to-day spread, from days that were seen whole or in part.

Found with expectation and maximisation: put the mean of what a sold-out day may have been in place
of what it sold, average, repeat. Days count less the longer ago they are. Each weekday's average is
drawn towards the shop's level times the weekday's share, so a weekday seen once is not believed
too far. Sources: Dempster, Laird and Rubin, JRSS B 39 (1977) 1; Agrawal and Smith, Naval Research
Logistics 43 (1996) 839 (negative binomial demand, sales cut off by stock); both from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import msgspec

from counter.plan.distributions import LEAST_DISPERSION, log_chance_of_at_least, mean_of_at_least

LEAST_MEAN = 0.05
"""Grains a day. With a level of nothing nothing could ever be planned."""


class Habits(msgspec.Struct, frozen=True):
    """How far the past is believed; spans in weeks, pulls in days.

    A day of ``half_life`` ago weighs half. A weekday's own average counts as its days do; the
    shop's overall level times the weekday's share counts as ``pull`` days, since a change of level
    shows in all weekdays and a share holds for long: it is learned with ``share_half_life``,
    starts at 1 with the weight of ``share_pull`` days and is unsure by ``share_spread``. Holidays
    likewise. ``spread`` is the day-to-day variation expected before days tell. No ordinary day
    older than ``memory`` is looked at.

    Chosen by replaying generated shops (steady, growing, seasonal, capricious) with half-lives of
    1.5 to 8 weeks and pulls of 4 to 40: longer ones gain half a per cent in a steady shop and lose
    ten in a seasonal one.
    """

    half_life: float = 2.0
    pull: float = 20.0
    share_half_life: float = 40.0
    share_pull: float = 1.0
    share_spread: float = 0.25
    holiday_pull: float = 0.25
    holiday_spread: float = 0.5
    spread: float = 0.17
    memory: int = 52


class Seen(msgspec.Struct, frozen=True):
    """A day as evidence: ``count`` grains seen during the share ``exposure`` of its buying.

    Exposure 1 is a whole day; 0 is one that sold out at an unknown hour, after at least ``count``.
    ``weeks`` is how far it lies from the day that is asked about.
    """

    weekday: int
    count: float
    exposure: float
    weeks: float


class Levels(msgspec.Struct, frozen=True):
    """Mean of each weekday in grains, Monday first, and the overdispersion from day to day.

    ``doubt`` is the relative variance of each mean, how little is known of it; ``weight`` is how
    many days of this week the history is worth.
    """

    means: tuple[float, ...]
    doubt: tuple[float, ...]
    overdispersion: float
    weight: float

    def spread(self, weekday: int, more_doubt: float = 0.0) -> float:
        """Overdispersion of the next such day: its own, and the doubt about level and spread.

        Relative variances of independent factors multiply. Little history widens the day's own
        part as a Student distribution is wider than a normal one, starting at twice.
        """
        own = self.overdispersion * (self.weight + 4.0) / (self.weight + 2.0)
        doubt = self.doubt[weekday] + more_doubt
        return own + doubt * (1.0 + own)


class _Day(msgspec.Struct, frozen=True):
    """A day seen and its two weights: for the level, and for the share of its weekday."""

    seen: Seen
    level: float
    share: float


class _Sums(msgspec.Struct, frozen=True):
    """Weights and weighted amounts of each weekday, for the level and for the share."""

    weight: list[float]
    amount: list[float]
    share_weight: list[float]
    share_amount: list[float]

    def plus(self, days: Sequence[_Day], amounts: Sequence[float]) -> _Sums:
        """The same days with so much added to the amounts of some."""
        amount, share_amount = list(self.amount), list(self.share_amount)
        for day, more in zip(days, amounts, strict=True):
            amount[day.seen.weekday] += day.level * more
            share_amount[day.seen.weekday] += day.share * more
        return _Sums(self.weight, amount, self.share_weight, share_amount)


def levels_of(seen: Sequence[Seen], habits: Habits, guess: float) -> Levels:
    """Levels and overdispersion from the days seen; ``guess`` grains a day where there are none."""
    spread = habits.spread**2
    if not seen:
        wide = 4.0 * habits.share_spread**2
        return Levels((max(guess, LEAST_MEAN),) * 7, (wide,) * 7, spread, 0.0)
    days = [
        _Day(
            row, 0.5 ** (row.weeks / habits.half_life), 0.5 ** (row.weeks / habits.share_half_life)
        )
        for row in seen
    ]
    sums = _sums(days)
    means = _means(sums, habits)
    for _ in range(3):
        means = _settle(days, sums, means, spread, habits)
        spread, before = _overdispersion(days, means, habits), spread
        if abs(spread - before) < 0.05 * before:
            break
    return Levels(means, _doubt(days, means, spread, habits), spread, sum(sums.weight))


def wanted_of(count: float, exposure: float, mean: float, overdispersion: float) -> float:
    """The mean of a day's whole demand, given what was seen of it; never below what was sold."""
    if exposure >= 1.0:
        return count
    if exposure <= 0.0:
        return max(count, mean_of_at_least(math.ceil(count), mean, overdispersion))
    size = 1.0 / overdispersion
    rate = (size + count) / (size / mean + exposure)
    return count + (1.0 - exposure) * rate


def _sums(days: Sequence[_Day]) -> _Sums:
    weight, amount, share_weight, share_amount = ([0.0] * 7 for _ in range(4))
    for day in days:
        weekday, count = day.seen.weekday, day.seen.count
        weight[weekday] += day.level
        amount[weekday] += day.level * count
        share_weight[weekday] += day.share
        share_amount[weekday] += day.share * count
    return _Sums(weight, amount, share_weight, share_amount)


def _settle(
    days: Sequence[_Day], sums: _Sums, means: tuple[float, ...], spread: float, habits: Habits
) -> tuple[float, ...]:
    """Expectation and maximisation until no weekday's mean moves by more than a thousandth."""
    parts = [day for day in days if day.seen.exposure < 1.0]
    for _ in range(60):
        unseen = []
        for day in parts:
            row = day.seen
            wanted = wanted_of(row.count, row.exposure, means[row.weekday], spread)
            unseen.append(wanted - row.count)
        means, before = _means(sums.plus(parts, unseen), habits), means
        if all(abs(a - b) <= 1e-3 * b for a, b in zip(means, before, strict=True)):
            break
    return means


def _means(sums: _Sums, habits: Habits) -> tuple[float, ...]:
    """Mean of each weekday: its own average, drawn towards overall level × share of the weekday."""
    known = [w for w in range(7) if sums.share_weight[w] > 0.0]
    typical = sum(sums.share_amount[w] / sums.share_weight[w] for w in known) / len(known)
    shares = [1.0] * 7
    for w in known:
        held = sums.share_weight[w]
        own = sums.share_amount[w] / typical if typical > 0.0 else held
        shares[w] = (own + habits.share_pull) / (held + habits.share_pull)
    level = sum(sums.amount) / sum(sums.weight[w] * shares[w] for w in known)
    pull = habits.pull
    return tuple(
        max(LEAST_MEAN, (sums.amount[w] + pull * level * shares[w]) / (sums.weight[w] + pull))
        for w in range(7)
    )


def _doubt(
    days: Sequence[_Day], means: tuple[float, ...], spread: float, habits: Habits
) -> tuple[float, ...]:
    """Relative variance of each weekday's mean: from its own days, the level and the share."""
    everything = sum(d.level for d in days) ** 2 / sum(d.level**2 for d in days)
    doubts = []
    for w in range(7):
        own = [d for d in days if d.seen.weekday == w]
        noise = spread + 1.0 / means[w]
        weight, shared = sum(d.level for d in own), sum(d.share for d in own)
        trust = weight / (weight + habits.pull)
        sure = weight**2 / sum(d.level**2 for d in own) if own else 1.0
        learned = shared / (shared + habits.share_pull)
        share = (1.0 - learned) * habits.share_spread**2
        share += learned**2 * noise / shared if own else 0.0
        doubts.append(trust**2 * noise / sure + (1.0 - trust) ** 2 * (noise / everything + share))
    return tuple(doubts)


def _overdispersion(days: Sequence[_Day], means: tuple[float, ...], habits: Habits) -> float:
    """The most likely overdispersion, by golden section on its logarithm.

    A lognormal prior (a factor of e up or down) stands in while days are few; it is outweighed
    by a dozen of them.
    """
    usual = math.log(habits.spread**2)
    blind: dict[tuple[int, float], float] = {}
    plain: list[tuple[float, float, float]] = []
    for day in days:
        row, mean = day.seen, means[day.seen.weekday]
        if day.level < 0.01:
            continue  # costs time and changes nothing
        if row.exposure > 0.0:
            plain.append((day.level, row.count, mean * row.exposure))
        else:
            alike = (math.ceil(row.count), mean)
            blind[alike] = blind.get(alike, 0.0) + day.level
    whole = sum(weight for weight, _, _ in plain)

    def likelihood(log: float) -> float:
        spread = math.exp(log)
        size = 1.0 / spread
        total = -((log - usual) ** 2) / 2.0
        total += whole * (size * math.log(size) - math.lgamma(size))
        for weight, count, mean in plain:
            total += weight * (math.lgamma(count + size) - (count + size) * math.log(size + mean))
        for (at_least, mean), weight in blind.items():
            total += weight * log_chance_of_at_least(at_least, mean, spread)
        return total

    return math.exp(_highest(likelihood, math.log(LEAST_DISPERSION), math.log(2.0)))


def _highest(value_of: Callable[[float], float], low: float, high: float) -> float:
    """Where a function with one top is highest, to a twentieth (golden section)."""
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    left, right = high - golden * (high - low), low + golden * (high - low)
    at_left, at_right = value_of(left), value_of(right)
    while high - low > 0.1:
        if at_left > at_right:
            high, right, at_right = right, left, at_left
            left = high - golden * (high - low)
            at_left = value_of(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + golden * (high - low)
            at_right = value_of(right)
    return (low + high) / 2.0
