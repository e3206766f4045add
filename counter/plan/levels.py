"""The level of each weekday and the day-to-day spread, learned day by day.

The shop's level wanders a little every day, and each weekday has its share of it. What is believed
of the seven levels is a normal distribution of their logarithms; a day that comes in shifts its own
weekday most and the others as far as they hang together with it (Kalman's filter). Two things
nobody knows beforehand: how fast the level wanders, and how much days vary. Several answers to each
are kept, and each weighs as much as it would have foretold the days so far. So a steady shop is
averaged over many weeks and a restless one over few, by what its own days say.

Sources, from memory: Kalman, Journal of Basic Engineering 82 (1960) 35; West, Harrison and Migon,
Dynamic generalized linear models, JASA 80 (1985) 73; for the weights of several filters, Magill,
IEEE Transactions on Automatic Control 10 (1965) 434.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Sequence

import msgspec

from counter.plan.distributions import mean_of_at_least
from counter.plan.evidence import Seen, log_chance_of, news_of

LEAST_MEAN = 0.05
"""Grains a day. With a level of nothing nothing could ever be planned."""

SPREADS = (0.01, 0.06, 0.1, 0.14, 0.18, 0.24, 0.32, 0.45, 0.7)
"""How much days vary beyond chance, as shares of the mean; the first is chance alone (Poisson)."""

START_DAYS = 6
"""A level begins from the first days seen whole or in part, so many of them."""


class Habits(msgspec.Struct, frozen=True):
    """What is expected of a shop before its days tell; times in weeks, the rest in logarithms.

    ``wander`` holds the rates at which a level may wander, as the change (standard deviation) of
    one week. A level begins unsure by ``level_spread``; each weekday's share of it by
    ``share_spread``, neighbours in the week sharing ``share_alike`` of that: Tuesday is more like
    Wednesday than like Saturday. ``spread`` is the day-to-day variation, ``spread_doubt`` how far
    off that may be; ``poisson`` is the weight of days that vary by chance alone, against 1. What a
    day says of rates and spread weighs half after ``fade``. ``holiday_pull`` and ``holiday_spread``
    say how many holidays "as an ordinary day" weighs and how unsure it is; ``holiday_around`` how
    far the days lie that one is set against. Ordinary days are looked at for ``memory`` at least
    and half as much again at most.

    Chosen by replaying generated shops, steady, growing, seasonal, capricious and wandering; more
    rates, or a rate of growth beside the level, gained nothing.
    """

    wander: tuple[float, ...] = (0.0045, 0.02, 0.055, 0.12)
    level_spread: float = 0.85
    share_spread: float = 0.25
    share_alike: float = 0.8
    spread: float = 0.17
    spread_doubt: float = 1.2
    poisson: float = 0.05
    fade: float = 52.0
    holiday_pull: float = 0.25
    holiday_spread: float = 0.5
    holiday_around: int = 4
    memory: int = 39


class Levels(msgspec.Struct, frozen=True):
    """Mean of each weekday in grains, Monday first, and the overdispersion from day to day.

    ``doubt`` is the relative variance of each mean, how little is known of it.
    """

    means: tuple[float, ...]
    doubt: tuple[float, ...]
    overdispersion: float

    def spread(self, weekday: int, more_doubt: float = 0.0) -> float:
        """Overdispersion of the next such day: its own, and the doubt about the level.

        Relative variances of independent factors multiply.
        """
        doubt = self.doubt[weekday] + more_doubt
        return self.overdispersion + doubt * (1.0 + self.overdispersion)


class _Path:
    """The belief about the seven levels, if the level wanders at one rate.

    The covariance of the weekdays ``i`` and ``j`` is ``own[7 * i + j] + common``: waiting moves
    all weekdays alike, which is one addition. One flat list, since a plan learns thousands of days.
    """

    def __init__(self, wander: float, start: float, habits: Habits) -> None:
        self.wander = wander**2
        self.logs = [math.log(start)] * 7
        share, alike = habits.share_spread**2, habits.share_alike
        self.own = [share * alike ** abs(i - j) for i in range(7) for j in range(7)]
        self.common = habits.level_spread**2

    def wait(self, weeks: float) -> None:
        self.common += self.wander * weeks

    def mean(self, weekday: int) -> float:
        return max(LEAST_MEAN, math.exp(min(self.logs[weekday], 30.0)))

    def doubt(self, weekday: int) -> float:
        return max(self.own[8 * weekday] + self.common, 1e-12)

    def learn(self, day: Seen, overdispersion: float) -> None:
        w = day.weekday
        shift, sharpness = news_of(day, self.logs[w], self.doubt(w), overdispersion)
        tied = [held + self.common for held in self.own[7 * w : 7 * w + 7]]
        self.logs = [log + shift * tie for log, tie in zip(self.logs, tied, strict=True)]
        known = [sharpness * one * other for one in tied for other in tied]
        self.own = list(map(operator.sub, self.own, known))


class _Scores:
    """Several answers to one question, and how much each weighs."""

    def __init__(self, prior: Sequence[float]) -> None:
        self.prior = tuple(prior)
        self.logs = list(prior)
        self.weights = _weights_of(self.logs)

    def learn(self, evidence: Sequence[float], keep: float) -> None:
        """Add the logarithms of new chances; the evidence so far weighs ``keep`` of what it did."""
        self.logs = [
            before + keep * (log - before) + new
            for before, log, new in zip(self.prior, self.logs, evidence, strict=True)
        ]
        self.weights = _weights_of(self.logs)


def _weights_of(logs: Sequence[float]) -> list[float]:
    top = max(logs)
    raw = [math.exp(log - top) for log in logs]
    whole = math.fsum(raw)
    return [weight / whole for weight in raw]


class Belief:
    """What is believed of a product after the days in ``seen``, which must come in order.

    ``start`` is the level it began from, in grains.
    """

    def __init__(self, start: float, habits: Habits) -> None:
        self.start, self.habits = start, habits
        self.seen: list[Seen] = []
        self._paths = [_Path(wander, start, habits) for wander in habits.wander]
        self._rates = _Scores([0.0] * len(habits.wander))
        self._overdispersions = tuple(spread**2 for spread in SPREADS)
        self._spreads = _Scores([_prior_of(spread, habits) for spread in SPREADS])

    def learn(self, day: Seen) -> None:
        """Take in one more day, no earlier than those before."""
        weeks = (day.day - self.seen[-1].day) / 7.0 if self.seen else 0.0
        for path in self._paths:
            path.wait(weeks)
        own = self.overdispersion
        mean, doubt = self._mixed(day.weekday, 0.0)
        rates = [
            log_chance_of(day, path.mean(day.weekday), _joined(own, path.doubt(day.weekday)))
            for path in self._paths
        ]
        spreads = [log_chance_of(day, mean, _joined(one, doubt)) for one in self._overdispersions]
        for path in self._paths:
            path.learn(day, own)
        keep = 0.5 ** (weeks / self.habits.fade)
        self._rates.learn(rates, keep)
        self._spreads.learn(spreads, keep)
        self.seen.append(day)

    def levels(self, day: int) -> Levels:
        """The levels as they stand on ``day`` (a proleptic ordinal), after the last day seen."""
        weeks = (day - self.seen[-1].day) / 7.0 if self.seen else 0.0
        both = [self._mixed(w, weeks) for w in range(7)]
        return Levels(
            tuple(mean for mean, _ in both), tuple(doubt for _, doubt in both), self.overdispersion
        )

    @property
    def rates(self) -> tuple[float, ...]:
        """How likely each rate of wandering is, as ``habits.wander`` has them."""
        return tuple(self._rates.weights)

    @property
    def overdispersion(self) -> float:
        """The mean of the overdispersions that are held possible, by their weight."""
        pairs = zip(self._spreads.weights, self._overdispersions, strict=True)
        return math.fsum(weight * spread for weight, spread in pairs)

    def _mixed(self, weekday: int, weeks: float) -> tuple[float, float]:
        """Mean and relative variance of a weekday's level over all rates of wandering."""
        mean = square = 0.0
        for weight, path in zip(self._rates.weights, self._paths, strict=True):
            one = path.mean(weekday)
            mean += weight * one
            square += weight * one**2 * (1.0 + path.doubt(weekday) + path.wander * weeks)
        return mean, square / mean**2 - 1.0


def _joined(own: float, doubt: float) -> float:
    return own + doubt * (1.0 + own)


def _prior_of(spread: float, habits: Habits) -> float:
    """Logarithm of the weight of a spread before any day: lognormal, and a share for chance."""
    if spread == SPREADS[0]:
        return math.log(habits.poisson)
    return -0.5 * (2.0 * math.log(spread / habits.spread) / habits.spread_doubt) ** 2


def believe(seen: Sequence[Seen], habits: Habits, before: Belief | None = None) -> Belief:
    """The belief after all days of ``seen``, given in order.

    ``before`` is one that was made of the first of these days: then only the rest is learned, and
    ``before`` is changed. One that was made of other days is left alone.
    """
    start = _start_of(seen)
    same = before is not None and (before.habits, before.start) == (habits, start)
    if before is None or not same or before.seen != list(seen[: len(before.seen)]):
        before = Belief(start, habits)
    for day in seen[len(before.seen) :]:
        before.learn(day)
    return before


def _start_of(seen: Sequence[Seen]) -> float:
    """Where the level begins: the average of the first days that were seen whole or in part.

    It is no less than the first days sold. Where everything always sold out at unknown hours, it
    is half as much again as was ever sold.
    """
    known = [day for day in seen if day.exposure > 0.0]
    level = max(_average(known[:START_DAYS]), _average(seen[:START_DAYS]))
    if not known:
        level = 1.5 * max((day.count for day in seen), default=1.0)
    return max(level, 0.5)


def _average(days: Sequence[Seen]) -> float:
    """Grains a whole day; a day of unknown hour counts as whole."""
    whole = sum(day.exposure or 1.0 for day in days)
    return sum(day.count for day in days) / whole if days else 0.0


def guessed(guess: float, habits: Habits) -> Levels:
    """The levels where no day is on record: ``guess`` grains, and little sure."""
    wide = 4.0 * habits.share_spread**2
    return Levels((max(guess, LEAST_MEAN),) * 7, (wide,) * 7, habits.spread**2)


def wanted_of(count: float, exposure: float, mean: float, overdispersion: float) -> float:
    """The mean of a day's whole demand, given what was seen of it; never below what was sold."""
    if exposure >= 1.0:
        return count
    if exposure <= 0.0:
        return max(count, mean_of_at_least(math.ceil(count), mean, overdispersion))
    size = 1.0 / overdispersion
    rate = (size + count) / (size / mean + exposure)
    return count + (1.0 - exposure) * rate
