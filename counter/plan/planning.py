"""Tomorrow: how much to make, and how many beans to soak tonight.

A block too few loses its margin, a block too many loses its cost; the best amount is the smallest
that is enough with the chance ``cu / (cu + co)`` (the newsvendor). Moulds and tubs come whole, so
the expected margin of each number of moulds is worked out and the best one taken.
Source: Snyder and Shen, Fundamentals of Supply Chain Theory, chapter 4.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date, time
from decimal import ROUND_HALF_UP, Decimal
from statistics import median
from typing import Literal

import msgspec

from counter.errors import BadInput
from counter.plan.demand import EVEN, WEEKDAYS, Curve, DaySales, Estimate, Memory, estimate_demand
from counter.plan.distributions import Demand
from counter.trade.units import show_amount
from labels.say import NOTHING, Said, full, join, say, term

LEAST_LOSS = Decimal("0.05")
"""Share of its cost that a piece left over always loses: it is a day older and fills the cooler.
Without it a product that keeps would be made without end. Common practice, no source."""

_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


class Terms(msgspec.Struct, frozen=True):
    """What one piece or millilitre brings and costs, in minor units (parts of one are fine).

    ``price`` is without tax. ``last_day_price`` times ``keeps`` is what one left over is worth
    tomorrow, where ``keeps`` is the chance that it is still sold then, 0 for what must go tonight.
    Raises BadInput.
    """

    price: Decimal
    cost: Decimal
    last_day_price: Decimal = Decimal(0)
    keeps: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        amounts = (self.price, self.cost, self.last_day_price)
        if min(amounts) < 0 or not 0 <= self.keeps <= 1 or self.cost == 0:
            raise BadInput(
                say("plan at price {price} and cost {cost}", price=self.price, cost=self.cost),
                say("amounts are not below zero, a cost is above it and a chance is 0 to 1"),
                say("Set the cost of a mould in the catalogue"),
            )

    @property
    def missed(self) -> Decimal:
        """What one too few loses (cu)."""
        return max(Decimal(0), self.price - self.cost)

    @property
    def wasted(self) -> Decimal:
        """What one too many loses (co): its cost less its worth tomorrow.

        One kept is worth no more than its cost, since it only saves making one tomorrow.
        """
        worth = self.keeps * min(self.last_day_price, self.cost)
        return max(self.cost - worth, LEAST_LOSS * self.cost)

    @property
    def ratio(self) -> Decimal:
        """The chance of being enough at which one more no longer pays, cu / (cu + co)."""
        return self.missed / (self.missed + self.wasted)


class Yield(msgspec.Struct, frozen=True):
    """What went into one batch and what it made, from the production log. Grams."""

    made: int
    beans_g: Decimal
    water_g: Decimal = Decimal(0)
    coagulant_g: Decimal = Decimal(0)


class Soak(msgspec.Struct, frozen=True):
    """What to soak and weigh out tonight, whole grams; coagulant to a tenth."""

    beans_g: int
    water_g: int
    coagulant_g: Decimal
    batches: int


def soak_for(make: int, yields: Sequence[Yield], last: int = 8) -> Soak | None:
    """Beans, water and coagulant for ``make`` by the median of the ``last`` batches.

    The median, so that one batch that went wrong does not change tonight's beans. Batches are
    given oldest first; those that made nothing are passed over. None where no batch is left.
    """
    usable = [y for y in yields if y.made > 0][-last:]
    if not usable:
        return None

    def grams(amount_of: Callable[[Yield], Decimal], places: str) -> Decimal:
        each = median(amount_of(y) / y.made for y in usable)
        return (each * make).quantize(Decimal(places), ROUND_HALF_UP)

    return Soak(
        int(grams(lambda y: y.beans_g, "1")),
        int(grams(lambda y: y.water_g, "1")),
        grams(lambda y: y.coagulant_g, "0.1"),
        len(usable),
    )


class Choice(msgspec.Struct, frozen=True):
    """One number of moulds and what to expect of it.

    ``margin`` is in minor units, rounded half up: money in, less the making.
    ``sells_out`` is the chance that nothing is left. ``left`` is a mean, in the stock unit.
    """

    moulds: int
    make: int
    margin: int
    sells_out: float
    left: float


class Making(msgspec.Struct, frozen=True):
    """How one product is made and sold: ``batch`` is what one mould or tub makes.

    ``vessel`` is the word for it, one that takes an s. ``grain`` is what one customer takes, see
    `estimate_demand`. ``opens`` and ``closes`` turn shares of the opening hours into clock times;
    ``curve`` is how buying spreads between them.
    """

    product: str
    terms: Terms
    batch: int
    unit: Literal["piece", "ml", "g"] = "piece"
    vessel: str = "mould"
    grain: int = 1
    opens: time = time(8)
    closes: time = time(18)
    curve: Curve = EVEN


class Plan(msgspec.Struct, frozen=True):
    """How much to make for ``target``, why, and what one mould less or more would do.

    ``on_hand`` is what was carried in and may still be sold on ``target``. ``fewer`` is None where
    nothing is made, ``soak`` where no batch tells the yield.
    """

    product: str
    target: date
    on_hand: int
    fewer: Choice | None
    this: Choice
    more: Choice
    soak: Soak | None
    words: Said
    estimate: Estimate

    @property
    def make(self) -> int:
        return self.this.make

    @property
    def moulds(self) -> int:
        return self.this.moulds


def expected_cost(demand: Demand, stock: int, missed: float, wasted: float) -> float:
    """Mean loss against knowing the demand: too few at ``missed`` each, too many at ``wasted``."""
    return missed * demand.expected_short(stock) + wasted * demand.expected_left(stock)


def best_moulds(demand: Demand, terms: Terms, batch: int, on_hand: int = 0) -> int:
    """The number of moulds of ``batch`` that loses least, on top of what is ``on_hand``.

    The loss is convex in the amount, so the first mould that does not pay ends the search; of two
    equal ones the smaller is taken. With single pieces this is the smallest Q with F(Q) ≥ ratio.
    """
    if batch < 1 or on_hand < 0:
        raise BadInput(
            say("plan moulds of {mould} with {amount} on hand", mould=batch, amount=on_hand),
            say("a mould makes at least one, and no less than nothing is on hand"),
            say("Count what is on hand and set what a mould makes"),
        )
    missed, wasted = float(terms.missed), float(terms.wasted)
    moulds, least = 0, expected_cost(demand, on_hand, missed, wasted)
    while on_hand + moulds * batch < demand.most:
        loss = expected_cost(demand, on_hand + (moulds + 1) * batch, missed, wasted)
        if loss >= least - 1e-12:
            break
        moulds, least = moulds + 1, loss
    return moulds


def choice_of(demand: Demand, terms: Terms, batch: int, on_hand: int, moulds: int) -> Choice:
    """What to expect of so many moulds. What was carried in and is left over is worth nothing."""
    make = moulds * batch
    stock = on_hand + make
    left = demand.expected_left(stock)
    kept = max(0.0, left - demand.expected_left(on_hand))
    worth = float(terms.cost - terms.wasted)
    margin = float(terms.price) * demand.expected_sales(stock) + worth * kept
    margin -= float(terms.cost) * make
    sells_out = 1.0 - demand.cdf(stock - 1)
    return Choice(moulds, make, math.floor(margin + 0.5), min(1.0, max(0.0, sells_out)), left)


def plan_product(
    making: Making,
    history: Sequence[DaySales],
    target: date,
    *,
    special: str = "",
    on_hand: int = 0,
    yields: Sequence[Yield] = (),
    memory: Memory | None = None,
) -> Plan:
    """Moulds to make for ``target``, beans to soak tonight, and why. Raises BadInput.

    ``special`` names the holiday that ``target`` is; ``yields`` are the batches of the production
    log, oldest first. With no day on record the guess is one mould.
    """
    terms, batch = making.terms, making.batch
    estimate = estimate_demand(
        history,
        target,
        special=special,
        curve=making.curve,
        grain=making.grain,
        guess=batch,
        memory=memory,
    )
    moulds = best_moulds(estimate.demand, terms, batch, on_hand)
    if not estimate.days and not on_hand and terms.missed > 0:
        # Nothing made, nothing learned: a shop that begins with nothing stays at nothing.
        moulds = max(moulds, 1)
    this, more = (choice_of(estimate.demand, terms, batch, on_hand, moulds + i) for i in (0, 1))
    fewer = choice_of(estimate.demand, terms, batch, on_hand, moulds - 1) if moulds else None
    soak = soak_for(this.make, yields)
    words = _words(making, estimate, this, on_hand, soak)
    return Plan(making.product, target, on_hand, fewer, this, more, soak, words, estimate)


def _words(
    making: Making, estimate: Estimate, this: Choice, on_hand: int, soak: Soak | None
) -> Said:
    """What was seen, what is made of it, and where little is known."""
    words = [_seen_in_words(making, estimate), _making_in_words(making, this, on_hand)]
    words.append(estimate.caution)
    if soak is None and this.make:
        words.append(say("No batch is on record: take the beans from the recipe."))
    return full(join(" ", (part for part in words if part)))


def _seen_in_words(making: Making, estimate: Estimate) -> Said:
    """``Fridays sold 84 to 110, sold out twice by 15:20;`` over the last eight such days."""
    days = estimate.alike[-8:]
    if not days:
        return NOTHING
    name = term(estimate.special or f"{WEEKDAYS[estimate.target.weekday()]}s")
    least, most = min(d.sold for d in days), max(d.sold for d in days)
    sold: Said = show_amount(least, making.unit)
    if most > least:
        sold = say("{least} to {most}", least=sold, most=show_amount(most, making.unit))
    out = [d for d in days if d.sold_out]
    if not out:
        return say("{weekdays} sold {amount};", weekdays=name, amount=sold)
    often = {1: say("once"), 2: say("twice")}
    times = often.get(len(out)) or say("{count} times", count=_number(len(out)))
    hours = [d.sold_out_at for d in out if d.sold_out_at is not None]
    if len(hours) == len(out):
        clock = _clock(max(hours), making.opens, making.closes)
        by = say("{times} at {clock}", times=times, clock=clock)
        times = by if len(out) == 1 else say("{times} by {clock}", times=times, clock=clock)
    return say(
        "{weekdays} sold {amount}, sold out {times};", weekdays=name, amount=sold, times=times
    )


def _making_in_words(making: Making, this: Choice, on_hand: int) -> Said:
    have = show_amount(on_hand, making.unit)
    if making.terms.missed == 0:
        return say("one more would cost more than it brings, so nothing is made.")
    if not this.moulds and on_hand:
        return say("{amount} on hand will do, so nothing is made.", amount=have)
    single = making.batch == 1
    if not this.moulds:
        if single:
            return say("one would not pay, so nothing is made.")
        if making.vessel == "tub":
            return say("a whole tub would not pay, so nothing is made.")
        return say("a whole mould would not pay, so nothing is made.")
    amount = show_amount(this.make, making.unit)
    made = say("make {amount}", amount=amount)
    if not single:
        vessels = vessels_of(making.vessel, this.moulds)
        made = say("{amount} is {vessels}", amount=amount, vessels=vessels)
    if on_hand:
        return say("{made}, on top of {amount} on hand.", made=made, amount=have)
    return join("", (made, "."))


def vessels_of(vessel: str, count: int) -> Said:
    """``three moulds``, ``one tub``."""
    if count == 1:
        return say("one tub") if vessel == "tub" else say("one mould")
    if vessel == "tub":
        return say("{count} tubs", count=_number(count))
    return say("{count} moulds", count=_number(count))


def _number(count: int) -> Said:
    return term(_NUMBERS[count] if count < len(_NUMBERS) else str(count))


def _clock(fraction: float, opens: time, closes: time) -> str:
    start, end = (t.hour * 60 + t.minute for t in (opens, closes))
    # A shop that closes after midnight closes on the next calendar day.
    minute = round(start + fraction * ((end - start) % 1440)) % 1440
    return f"{minute // 60:02d}:{minute % 60:02d}"
