"""What people will ask for on a day, from what was sold on the days before it.

A day that sold out does not say how much was wanted, only that it was at least so much; taking its
sales for its demand makes the shop smaller every week. Three kinds of day are told apart:

- not sold out: the sales are the demand;
- sold out at a known hour: the c-th piece went when the share G of a usual day's buying was over.
  For gamma-Poisson demand that is exactly c pieces seen at the exposure G;
- sold out, hour unknown: demand was at least c.

The taking of sales for demand: Conrad, Operational Research Quarterly 27 (1976) 123, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date

import msgspec

from counter.errors import BadInput
from counter.plan.distributions import Demand, negative_binomial
from counter.plan.evidence import Seen
from counter.plan.levels import Belief, Habits, Levels, believe, guessed, wanted_of
from labels.say import NOTHING, Said, say, say_n, term

LEAST_EXPOSURE = 0.02
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class DaySales(msgspec.Struct, frozen=True):
    """One product on one trading day, in its stock unit (pieces or millilitres).

    ``available`` is what was made and carried in. ``sold_out_at`` is the share of the opening hours
    that was over when the last one went, 0 to 1; a day that sold all it had and does not say when
    counts as sold out at an unknown hour. ``special`` names a holiday. Raises BadInput.
    """

    day: date
    sold: int
    available: int
    sold_out_at: float | None = None
    special: str = ""

    def __post_init__(self) -> None:
        tried = say("count {date} for the plan", date=self.day)
        if self.sold < 0 or self.available < 0:
            why = say("{sold} sold of {made} is below zero", sold=self.sold, made=self.available)
            raise BadInput(tried, why, say("Correct the day's sales"))
        if self.sold_out_at is not None and not 0.0 <= self.sold_out_at <= 1.0:
            why = say("it sold out at {share} of the opening hours", share=self.sold_out_at)
            raise BadInput(tried, why, say("Give a share between 0 and 1"))

    @property
    def sold_out(self) -> bool:
        return self.sold_out_at is not None or self.sold >= self.available


class Curve(msgspec.Struct, frozen=True):
    """The share of a day's buying that is over, at equal steps of the opening hours, 0 to 1.

    >>> Curve((0.0, 0.6, 1.0)).at(0.25)
    0.3
    """

    shares: tuple[float, ...] = (0.0, 1.0)

    def at(self, fraction: float) -> float:
        place = min(max(fraction, 0.0), 1.0) * (len(self.shares) - 1)
        i = min(int(place), len(self.shares) - 2)
        low, high = self.shares[i], self.shares[i + 1]
        return low + (high - low) * (place - i)


EVEN = Curve()


def learn_curve(
    sales: Iterable[tuple[float, int]], *, steps: int = 20, trust_after: int = 100
) -> Curve:
    """How buying spreads over the day, from (fraction of the opening hours, amount) of sales.

    Give only sales of days that did not sell out: a sold-out day shows too little of its evening.
    An even day weighs as much as ``trust_after`` of the amounts, so few sales do not bend it far.
    Sales before opening and after closing count at the edge.
    """
    held = [trust_after / steps] * steps
    for fraction, amount in sales:
        held[min(int(min(max(fraction, 0.0), 1.0) * steps), steps - 1)] += amount
    whole = math.fsum(held)
    shares = [math.fsum(held[:i]) / whole for i in range(steps)]
    return Curve((*shares, 1.0))


class Memory:
    """What was learned of one product's days, for a history that only grows.

    Given to `estimate_demand` again the next day, only the new day is learned. Whatever it holds,
    the estimate is the same as without it.
    """

    def __init__(self) -> None:
        self.belief: Belief | None = None


class Estimate(msgspec.Struct, frozen=True):
    """The demand expected for ``target``, and what it rests on.

    ``alike`` are the days it rests on first, oldest first: the same weekday, or the same holiday.
    ``days`` counts all ordinary days looked at. ``overdispersion`` is the day-to-day one;
    ``demand`` is wider by what is not known.
    ``caution`` is a sentence where little is known, else empty.
    """

    target: date
    special: str
    demand: Demand
    mean: float
    overdispersion: float
    alike: tuple[DaySales, ...]
    days: int
    caution: Said = NOTHING


def estimate_demand(
    history: Sequence[DaySales],
    target: date,
    *,
    special: str = "",
    curve: Curve = EVEN,
    grain: int = 1,
    guess: int = 1,
    habits: Habits | None = None,
    memory: Memory | None = None,
) -> Estimate:
    """The distribution of what will be asked for on ``target``, in the unit of the history.

    Days on and after ``target`` and days with nothing to sell are left out. ``grain`` is what one
    customer takes, 1 piece or the smallest cup in millilitres. ``guess`` is a day's demand where no
    day is on record at all. ``special`` names the holiday that ``target`` is. ``memory`` saves time
    where one product is estimated day after day.
    """
    habits = habits or Habits()
    kept = (d for d in history if d.day < target and (d.available or d.sold))
    before = sorted(kept, key=lambda d: d.day)
    ordinary = [d for d in before if not d.special]
    first = _first_day(target, habits)
    recent = [d for d in ordinary if d.day.toordinal() >= first]
    memory = memory or Memory()
    levels = guessed(guess / grain, habits)
    if recent:
        seen = [_seen(day, day.day, curve, grain) for day in recent]
        memory.belief = believe(seen, habits, memory.belief)
        levels = memory.belief.levels(target.toordinal())
    weekday = target.weekday()
    alike = [d for d in recent if d.day.weekday() == weekday]
    caution = _caution(len(recent), len(alike), WEEKDAYS[weekday])
    factor, doubt = 1.0, 0.0
    if special:
        alike = [d for d in before if d.special == special]
        factor, doubt = _holiday(alike, ordinary, curve, grain, habits, levels)
        caution = _holiday_caution(len(alike), special, WEEKDAYS[weekday]) if before else caution
    mean = levels.means[weekday] * factor
    return Estimate(
        target,
        special,
        negative_binomial(mean, levels.spread(weekday, doubt), grain),
        mean * grain,
        levels.overdispersion,
        tuple(alike),
        len(recent),
        caution,
    )


def _holiday_caution(alike: int, special: str, weekday: str) -> Said:
    if not alike:
        return say(
            "No earlier {special} is on record: taken as a {weekday}, and less sure.",
            special=special,
            weekday=term(weekday),
        )
    if alike >= 3:
        return NOTHING
    return say_n(
        "Only {n} earlier {special} on record: less is sure.",
        "Only {n} earlier {special} on record: less is sure.",
        n=alike,
        special=special,
    )


def _caution(days: int, alike: int, weekday: str) -> Said:
    if not days:
        return say("No day is on record yet: this is a guess until the first days are sold.")
    if alike >= 4:
        return NOTHING
    name, seen = term(weekday), say_n("{n} day", "{n} days", n=days)
    if not alike:
        return say(
            "No {weekday} of {days} on record: the other days help, but less is sure.",
            weekday=name,
            days=seen,
        )
    return say_n(
        "Only {n} {weekday} of {days} on record: the other days help, but less is sure.",
        "Only {n} {weekday}s of {days} on record: the other days help, but less is sure.",
        n=alike,
        weekday=name,
        days=seen,
    )


def _first_day(target: date, habits: Habits) -> int:
    """The oldest ordinal looked at. It moves in steps, so that a belief serves for many days."""
    step = max(1, 7 * habits.memory // 2)
    return (target.toordinal() // step - 2) * step


def _seen(day: DaySales, at: date, curve: Curve, grain: int) -> Seen:
    """A day as evidence, as if it had been ``at`` a day."""
    return Seen(at.toordinal(), day.day.weekday(), day.sold / grain, _exposure(day, curve))


def _around(
    days: Sequence[DaySales], middle: date, curve: Curve, grain: int, habits: Habits
) -> Levels:
    """The levels around a date that lies between the days: later ones as far before it."""
    far = sorted(days, key=lambda d: abs((d.day - middle).days), reverse=True)
    seen = [_seen(d, middle - abs(middle - d.day), curve, grain) for d in far]
    return believe(seen, habits).levels(middle.toordinal())


def _exposure(day: DaySales, curve: Curve) -> float:
    if day.sold_out_at is not None:
        return max(curve.at(day.sold_out_at), LEAST_EXPOSURE)
    return 0.0 if day.sold >= day.available else 1.0


def _holiday(
    alike: Sequence[DaySales],
    ordinary: Sequence[DaySales],
    curve: Curve,
    grain: int,
    habits: Habits,
    now: Levels,
) -> tuple[float, float]:
    """How much more is asked for on this holiday than on its weekday, and how unsure that is.

    Each earlier one is set against the ordinary days around it, or against today's where none are
    on record. Starts from "as an ordinary day" with the weight of ``holiday_pull`` holidays.
    """
    days = []
    for day in alike:
        reach = 7 * habits.holiday_around
        near = [d for d in ordinary if abs((d.day - day.day).days) <= reach]
        around = _around(near, day.day, curve, grain, habits) if near else now
        days.append((day.sold / grain, _exposure(day, curve), around.means[day.day.weekday()]))
    pull = habits.holiday_pull
    doubt = habits.holiday_spread**2 * pull / (len(days) + pull)
    if not days:
        return 1.0, doubt
    usual = sum(mean for _, _, mean in days)
    start = pull * usual / len(days)
    factor = 1.0
    for _ in range(60):
        wanted = sum(wanted_of(c, e, factor * mean, now.overdispersion) for c, e, mean in days)
        factor, before = (wanted + start) / (usual + start), factor
        if abs(factor - before) <= 1e-3 * before:
            break
    return factor, doubt + (now.overdispersion + len(days) / (usual * factor)) / len(days)
