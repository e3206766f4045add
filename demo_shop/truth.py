"""What the invented town truly wants of each product, which no shop ever sees.

A shop sees what it sold. Whether its plan is any good can only be told against the demand itself,
so the demand is kept here, as a pure function of seed, day and product; the books hold nothing of
it. Pressed tofu is left out: what a customer takes of it is weighed at the counter.
"""

from __future__ import annotations

import math
from datetime import date, datetime
from functools import cache, lru_cache
from statistics import NormalDist

from counter.plan.backtest import TrueDay
from counter.plan.distributions import Demand, from_masses
from demo_shop.town import HABITS, OPENS, SHUTS, WEATHER, WEEKDAYS, wishes_on

OUNCES = 118.294
"""Millilitres of 4 US fluid ounces; all cups are whole numbers of that."""
CUPS = {"cup-small": 2, "cup-medium": 3, "cup-large": 4}
PRODUCTS = {
    "firm": ("firm-block",),
    "soft": ("soft-block",),
    "smoked": ("smoked-block",),
    "spiced": ("spiced-block",),
    "milk": ("milk",),
    "sweet-milk": ("sweet-milk",),
    "puffs": ("puffs",),
    "pulp": ("pulp",),
    "pudding": tuple(CUPS),
}
"""Products and the portions they are sold in."""

_STEP = 0.25
_WEATHERS = tuple(
    (math.exp(WEATHER * _STEP * i), NormalDist().pdf(_STEP * i) * _STEP) for i in range(-20, 21)
)


def true_day(product: str, day: date, seed: int) -> TrueDay:
    """What was asked for of a product on a day the shop was open, when, and by which law.

    Pieces, or millilitres of pudding.
    """
    begin = datetime.combine(day, OPENS)
    length = datetime.combine(day, SHUTS) - begin
    times: list[float] = []
    for wish in _wishes(day, seed):
        share = (wish.at - begin) / length
        for portion, count, _topping in wish.items:
            if portion in PRODUCTS[product]:
                times += [share] * (count * _drawn(portion))
    return TrueDay(day, len(times), tuple(times), law=law_of(product, day.weekday()))


_wishes = lru_cache(400)(wishes_on)


@cache
def law_of(product: str, weekday: int) -> Demand:
    """The distribution of a weekday's demand: Poisson for each portion, all of one weather."""
    means = {habit.portion: habit.mean * WEEKDAYS[weekday] for habit in HABITS}
    jumps = {CUPS.get(portion, 1): means[portion] for portion in PRODUCTS[product]}
    usual = sum(jump * mean for jump, mean in jumps.items())
    top = math.ceil(2.5 * usual + 60)
    masses = [0.0] * top
    for factor, weight in _WEATHERS:
        for amount, chance in enumerate(_together(jumps, factor, top)):
            masses[amount] += weight * chance
    if product != "pudding":
        return from_masses(masses)
    millilitres = [0.0] * (round(top * OUNCES) + 1)
    for amount, mass in enumerate(masses):
        millilitres[round(amount * OUNCES)] = mass
    return from_masses(millilitres)


def _together(jumps: dict[int, float], factor: float, top: int) -> list[float]:
    """Chances of the sum of Poisson numbers of jumps (Panjer, ASTIN Bulletin 12 (1981) 22)."""
    chances = [math.exp(-factor * sum(jumps.values()))]
    for amount in range(1, top):
        reached = sum(
            jump * mean * chances[amount - jump] for jump, mean in jumps.items() if jump <= amount
        )
        chances.append(factor * reached / amount)
    return chances


def _drawn(portion: str) -> int:
    return round(CUPS[portion] * OUNCES) if portion in CUPS else 1
