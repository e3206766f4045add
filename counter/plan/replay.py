"""The shop's own past again, made by the plan and by simple rules, and what each would have lost.

True demand is not known where a product sold out. There it is taken as what was sold plus what the
shop's own days say was still wanted (the mean of the estimate over all days, given what was seen);
elsewhere what was sold is the demand. Buyers are taken to come evenly over the day. What is left at
night is counted as left over and weighed with its worth tomorrow.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

import msgspec

from counter.plan.backtest import (
    Replay,
    Rule,
    TrueDay,
    backtest,
    last_week_rule,
    mean_rule,
    plan_rule,
    yesterday_rule,
)
from counter.plan.demand import DaySales, estimate_demand
from counter.plan.levels import wanted_of
from counter.plan.planning import Making
from counter.plan.tomorrow import Past, history_of, making_of
from counter.trade.catalogue import Unit

LEARN_DAYS = 10
"""Days that are lived through before any rule is judged."""
MOST_DAYS = 120
RULES = ("made", "plan", "yesterday", "same day last week", "mean")


class Replayed(msgspec.Struct, frozen=True):
    """One product: each rule's outcome, and how often demand had to be estimated."""

    product: str
    name: str
    unit: Unit
    days: int
    sold_out_days: int
    added: int
    rules: dict[str, Replay]


def replay_shop(past: Past) -> tuple[Replayed, ...]:
    """Replay each product that was made on enough days. Oldest days teach, later ones count."""
    found = []
    for product in past.catalogue.products.values():
        if not past.catalogue.portions_of(product.key) or not product.cost:
            continue
        history = [d for d in history_of(past, product) if d.available or d.sold][-MOST_DAYS:]
        if len(history) > LEARN_DAYS:
            making = making_of(past, product)
            found.append(_replay(making, history, product.name))
    return tuple(found)


def _replay(making: Making, history: Sequence[DaySales], name: str) -> Replayed:
    days = [_true_day(making, history, day) for day in history]
    made = {day.day: day.available for day in history}
    batch, terms = making.batch, making.terms
    rules: dict[str, Rule] = {
        "made": lambda _, day: made[day.day],
        "plan": plan_rule(terms, batch, grain=making.grain),
        "yesterday": yesterday_rule(batch),
        "same day last week": last_week_rule(batch),
        "mean": mean_rule(batch),
    }
    outcome = {
        rule: backtest(days[LEARN_DAYS:], rules[rule], terms, before=history[:LEARN_DAYS])
        for rule in RULES
    }
    counted = list(zip(history, days, strict=True))[LEARN_DAYS:]
    return Replayed(
        making.product,
        name,
        making.unit,
        len(counted),
        sum(seen.sold_out for seen, _ in counted),
        sum(true.demand - seen.sold for seen, true in counted),
        outcome,
    )


def _true_day(making: Making, history: Sequence[DaySales], seen: DaySales) -> TrueDay:
    """A day with its demand, estimated where it sold out, from all other days around it."""
    demand = seen.sold
    if seen.sold_out:
        others = [_before(d, seen.day) for d in history if d.day != seen.day]
        estimate = estimate_demand(
            others,
            seen.day,
            special=seen.special,
            curve=making.curve,
            grain=making.grain,
            guess=making.batch,
        )
        part = 0.0 if seen.sold_out_at is None else making.curve.at(seen.sold_out_at)
        wanted = wanted_of(
            seen.sold / making.grain, part, estimate.mean / making.grain, estimate.overdispersion
        )
        demand = max(seen.sold, math.floor(wanted * making.grain + 0.5))
    times: tuple[float, ...] = ()
    if making.unit == "piece":
        times = tuple((i + 0.5) / demand for i in range(demand))
    return TrueDay(seen.day, demand, times, seen.special)


def _before(day: DaySales, target: date) -> DaySales:
    """A later day mirrored before ``target``, on the same weekday: the estimate looks back only."""
    if day.day < target:
        return day
    back = (day.day - target).days
    weeks = -(-2 * back // 7) * 7
    return msgspec.structs.replace(day, day=date.fromordinal(day.day.toordinal() - weeks))
