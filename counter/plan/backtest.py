"""Would the plan have done better? The same days again, made by different rules.

The true demand of each day must be known, so this runs on generated shops, or on days of a real
one that did not sell out. A rule sees only what the shop would have seen under that rule: its own
sales, its own sold-out hours.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date

import msgspec

from counter.plan.demand import EVEN, Curve, DaySales, Memory, estimate_demand
from counter.plan.distributions import Demand
from counter.plan.levels import Habits
from counter.plan.planning import Terms, best_moulds, expected_cost


class TrueDay(msgspec.Struct, frozen=True):
    """A day whose demand is known. ``bought_at`` holds when each piece was asked for, in order.

    Times are shares of the opening hours. Without them a sold-out day has no hour. ``law`` is the
    distribution the demand was drawn from, where it is known.
    """

    day: date
    demand: int
    bought_at: tuple[float, ...] = ()
    special: str = ""
    law: Demand | None = None


Rule = Callable[[Sequence[DaySales], TrueDay], int]
"""What to make, from the days before (oldest first) and the day itself.

A rule of the shop may look at nothing of the day but its date and holiday."""


class Replay(msgspec.Struct, frozen=True):
    """What a rule came to over ``days``: amounts in the stock unit, costs in minor units.

    ``cost`` is what happened; ``expected_cost`` is the mean over the law of each day, so that two
    rules can be told apart without the luck of the draw (None where a law is missing).
    """

    days: int
    made: int
    sold: int
    wasted: int
    lost: int
    cost: float
    expected_cost: float | None


def backtest(
    days: Sequence[TrueDay],
    rule: Rule,
    terms: Terms,
    *,
    skip: int = 0,
    before: Sequence[DaySales] = (),
) -> Replay:
    """Replay ``days`` under ``rule``; what is left is thrown away each evening.

    ``before`` is what every rule knows when the replay begins. The first ``skip`` days are lived
    through and learned from, but not counted.
    """
    history = list(before)
    counted: list[tuple[int, TrueDay]] = []
    for i, day in enumerate(days):
        made = rule(history, day)
        history.append(seen_of(day, made))
        if i >= skip:
            counted.append((made, day))
    sold = sum(min(made, day.demand) for made, day in counted)
    made_all = sum(made for made, _ in counted)
    lost = sum(day.demand for _, day in counted) - sold
    missed, wasted = float(terms.missed), float(terms.wasted)
    expected: float | None = 0.0
    for made, day in counted:
        if day.law is None or expected is None:
            expected = None
        else:
            expected += expected_cost(day.law, made, missed, wasted)
    cost = missed * lost + wasted * (made_all - sold)
    return Replay(len(counted), made_all, sold, made_all - sold, lost, cost, expected)


def seen_of(day: TrueDay, made: int) -> DaySales:
    """What the shop sees of a day on which it made so many."""
    sold = min(made, day.demand)
    gone = sold >= made and 0 < made <= len(day.bought_at)
    return DaySales(day.day, sold, made, day.bought_at[made - 1] if gone else None, day.special)


def plan_rule(
    terms: Terms, batch: int, *, curve: Curve = EVEN, grain: int = 1, habits: Habits | None = None
) -> Rule:
    """The plan: demand estimated from what was seen, then the best number of moulds."""
    memory = Memory()

    def make(history: Sequence[DaySales], day: TrueDay) -> int:
        estimate = estimate_demand(
            history,
            day.day,
            special=day.special,
            curve=curve,
            grain=grain,
            guess=batch,
            habits=habits,
            memory=memory,
        )
        # As `_as_sold`: with nothing made nothing is learned, and it would stay at nothing.
        return batch * max(1, best_moulds(estimate.demand, terms, batch))

    return make


def yesterday_rule(batch: int) -> Rule:
    """As much as was sold yesterday, in whole moulds, and one more if that sold out.

    Without that one more a shop that follows its own sales never makes more again, only less.
    """

    def make(history: Sequence[DaySales], _day: TrueDay) -> int:
        return _as_sold(history[-1:], batch)

    return make


def last_week_rule(batch: int) -> Rule:
    """As `yesterday_rule`, from the last day of the same weekday."""

    def make(history: Sequence[DaySales], day: TrueDay) -> int:
        return _as_sold([d for d in history if d.day.weekday() == day.day.weekday()][-1:], batch)

    return make


def mean_rule(batch: int) -> Rule:
    """As `yesterday_rule`, from the average of all days so far."""

    def make(history: Sequence[DaySales], _day: TrueDay) -> int:
        return _as_sold(history, batch)

    return make


def _as_sold(days: Sequence[DaySales], batch: int) -> int:
    """Whole moulds for the mean of ``days``, at least one: nothing made, nothing learned."""
    if not days:
        return batch
    mean = sum(d.sold + batch * d.sold_out for d in days) / len(days)
    return batch * max(1, math.ceil(mean / batch))
