"""Who comes to the invented shop, when, and for what. Every figure in here is made up."""

from __future__ import annotations

import math
import random
from datetime import date, datetime, time, timedelta

import msgspec

OPENS, SHUTS = time(8), time(18)
SHUT_WEEKDAY = 0  # Monday
WEEKDAYS = (0.0, 0.85, 0.9, 0.95, 1.15, 1.45, 1.2)
WEATHER = 0.13  # how much days vary, beyond who happens to come, as the logarithm's deviation
# Share of a day's customers in each hour from 8 to 17: a morning rush, lunch, the way home.
HOURS = (0.09, 0.11, 0.11, 0.12, 0.13, 0.08, 0.07, 0.09, 0.11, 0.09)


class Habit(msgspec.Struct, frozen=True):
    """A portion's mean sales on an ordinary day, and how many go in one sale at the most."""

    portion: str
    mean: float
    most: int = 1


HABITS = (
    Habit("firm-block", 118, 3),
    Habit("soft-block", 52, 2),
    Habit("smoked-block", 15),
    Habit("spiced-block", 20, 2),
    Habit("pressed", 12),
    Habit("cup-small", 24, 2),
    Habit("cup-medium", 18, 2),
    Habit("cup-large", 8),
    Habit("milk", 20, 2),
    Habit("sweet-milk", 22, 2),
    Habit("puffs", 19, 2),
    Habit("pulp", 4),
)
# Which products are made on which weekdays (0 is Monday), and how many moulds.
MOULDS = {
    "firm": (0, 2, 2, 3, 3, 4, 3),
    "soft": (0, 1, 2, 1, 2, 3, 2),
    "smoked": (0, 1, 0, 1, 0, 1, 0),
    "spiced": (0, 1, 0, 1, 0, 1, 0),
    "pressed": (0, 1, 0, 0, 1, 0, 0),
    "pudding": (0, 2, 2, 2, 2, 3, 2),
    "milk": (0, 1, 2, 1, 2, 3, 2),
    "sweet-milk": (0, 1, 2, 2, 2, 3, 2),
    "puffs": (0, 1, 1, 1, 1, 1, 1),
    "pulp": (0, 1, 0, 0, 1, 0, 0),
}


class Wish(msgspec.Struct, frozen=True):
    """What one customer wants, and when the customer comes."""

    at: datetime
    items: tuple[tuple[str, int, str], ...]
    card: bool
    here: bool


def poisson(chance: random.Random, mean: float) -> int:
    """A Poisson number; Knuth's product of uniforms, in pieces so that exp() does not vanish."""
    total = 0
    while mean > 0:
        step = min(mean, 30.0)
        limit, product, count = math.exp(-step), chance.random(), 0
        while product > limit:
            product *= chance.random()
            count += 1
        total += count
        mean -= step
    return total


def weather(chance: random.Random) -> float:
    """How the day as a whole goes: mostly ordinary, at times a rush or a wet day."""
    return math.exp(chance.gauss(0, WEATHER))


def wishes_of(day: date, chance: random.Random, busy: float = 1.0) -> list[Wish]:
    """The customers of one day in the order they come."""
    level = WEEKDAYS[day.weekday()] * weather(chance) * busy
    wanted: list[tuple[str, int]] = []
    for habit in HABITS:
        left = poisson(chance, habit.mean * level)
        while left > 0:
            count = min(left, chance.randint(1, habit.most))
            wanted.append((habit.portion, count))
            left -= count
    chance.shuffle(wanted)
    wishes = []
    while wanted:
        size = chance.choices((1, 2, 3), (0.55, 0.33, 0.12))[0]
        items = tuple(
            (portion, count, topping_for(portion, chance)) for portion, count in wanted[:size]
        )
        wanted = wanted[size:]
        cup = any(portion.startswith("cup") for portion, _, _ in items)
        wishes.append(
            Wish(arrival(day, chance), items, chance.random() < 0.55, cup and chance.random() < 0.4)
        )
    return sorted(wishes, key=lambda w: w.at)


def wishes_on(day: date, seed: int) -> list[Wish]:
    """The customers of one day of the shop of this ``seed``, whatever the shop does."""
    return wishes_of(day, random.Random(f"{seed}/{day}/wishes"))


def topping_for(portion: str, chance: random.Random) -> str:
    if not portion.startswith("cup"):
        return ""
    return chance.choices(("ginger", "brown", "sesame", ""), (0.5, 0.25, 0.1, 0.15))[0]


def arrival(day: date, chance: random.Random) -> datetime:
    """A moment of the opening hours, without zone."""
    hour = chance.choices(range(len(HOURS)), HOURS)[0]
    start = datetime.combine(day, OPENS) + timedelta(hours=hour)
    return start + timedelta(seconds=chance.randrange(3600))
