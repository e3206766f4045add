"""The plan against the best that can be known of shops whose level cannot be known before.

Where the level moves, or next to nothing is seen, nobody who sees only sales is within a twentieth
of knowing the law of every day. The plan is held to what a rule costs that is told how the level
moves, how much days vary and what the week is like, and only not where the level is.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from counter.plan.backtest import Rule, TrueDay, backtest, plan_rule
from counter.plan.levels import Habits
from counter.plan.planning import Terms

from .knowing import WIDE, knowing_rule, swinging
from .shops import TERMS, perfect_rule, shop_days

THREE_MONTHS = 78  # trading days


def cost_of(shops: list[list[TrueDay]], rule_for, terms: Terms = TERMS) -> float:
    """Over several shops; ``rule_for`` makes a rule for each, since a rule remembers its shop."""
    total = 0.0
    for days in shops:
        rule: Rule = rule_for()
        cost = backtest(days, rule, terms, skip=THREE_MONTHS).expected_cost
        assert cost is not None
        total += cost
    return total


def plan(terms: Terms = TERMS, **habits: object):
    return lambda: plan_rule(terms, 1, habits=Habits(**habits) if habits else None)


@pytest.mark.parametrize("wander", [0.04, 0.08])
def test_a_wandering_level_is_followed_nearly_as_well_as_it_can_be(wander: float) -> None:
    # In the mean of six shops 1.02 times the best that can be known, at both rates.
    shops = [shop_days(seed, 300, wander=wander) for seed in (51, 52)]
    perfect = cost_of(shops, lambda: perfect_rule(TERMS, 1))
    best = cost_of(shops, lambda: knowing_rule(TERMS, 0.03, levels=WIDE, wander=wander))
    assert perfect < best
    assert cost_of(shops, plan()) <= 1.05 * best


def test_a_strong_season_is_followed_nearly_as_well_as_if_it_had_been_foretold() -> None:
    # Told that the year is one wave, and not how high, nor when. In the mean of six shops the plan,
    # which knows of no wave, costs 1.05 times as much; 1.07 times what perfect knowledge does.
    shops = [shop_days(seed, 365, season=0.3) for seed in (51, 52)]
    perfect = cost_of(shops, lambda: perfect_rule(TERMS, 1))
    told = cost_of(shops, lambda: knowing_rule(TERMS, 0.03, factors=swinging((0.1, 0.2, 0.3))))
    cost = cost_of(shops, plan())
    assert perfect < told
    assert cost <= 1.075 * told
    assert cost <= 1.09 * perfect


def test_a_dear_product_of_unknown_hours_is_planned_nearly_as_well_as_it_can_be() -> None:
    # It sells out on most days, and only the others say how much is wanted. The best is the plan
    # itself, told that the level stands still and how much days vary.
    terms = Terms(Decimal(300), Decimal(255))
    shops = [shop_days(seed, 300, hours=False) for seed in (51, 52)]
    told = plan(terms, wander=(1e-6,), spread=0.03**0.5, spread_doubt=0.01, poisson=1e-9)
    perfect = cost_of(shops, lambda: perfect_rule(terms, 1), terms)
    best = cost_of(shops, told, terms)
    assert perfect < best
    assert cost_of(shops, plan(terms), terms) <= 1.05 * best
