"""The shop's plan for a day: every product from the closings, and the beans to soak tonight.

What sold, what was there and when it ran out come from the closings; yields from their log; the
amounts from :mod:`counter.plan.planning`. Nothing here reads a book or a clock.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import reduce

import msgspec

from counter.errors import BadInput
from counter.plan.demand import EVEN, Curve, DaySales, Memory, estimate_demand, learn_curve
from counter.plan.planning import Choice, Making, Soak, Terms, Yield, plan_product, soak_for
from counter.trade.catalogue import Catalogue, Product, Unit
from counter.trade.closing import Closing, YieldDay
from counter.trade.dayfigures import price_of_unit, unit_cost
from counter.trade.rates import Tax
from counter.trade.stock import Lot
from counter.trade.whereabouts import Place
from labels.say import Said, join, say, say_n

KEPT_BEFORE = Decimal("0.8")
"""Chance that one left over is still sold, before the shop's own days tell; no source."""
LOOK_BACK_WEEKS = 8
ORDINARY_WEEKS = 60
"""Weeks that an ordinary day is planned from; a holiday is planned from its earlier ones too."""


class Hours(msgspec.Struct, frozen=True):
    """When the shop is open, on its own clock."""

    opens: time
    closes: time

    def share(self, moment: datetime) -> float:
        """The share of the opening hours that is over at ``moment``, 0 to 1."""
        start, end, now = (t.hour * 60 + t.minute for t in (self.opens, self.closes, moment.time()))
        long = (end - start) % 1440 or 1440
        gone = (now - start) % 1440
        if gone > long:  # before opening or after closing, whichever is nearer
            return 0.0 if 1440 - gone < gone - long else 1.0
        return gone / long


class ProductPlan(msgspec.Struct, frozen=True):
    """What to make of one product. Amounts in its unit, margins in minor units.

    ``goes_into`` is how much of the making is for other products of the same morning.
    """

    product: str
    name: str
    unit: Unit
    vessel: str
    mould: int
    on_hand: int
    wanted: float
    make: int
    moulds: int
    goes_into: dict[str, int]
    fewer: Choice | None
    this: Choice
    more: Choice
    soak: Soak | None
    coagulants: dict[str, Decimal]
    takes: dict[str, int]
    words: Said


class ShopPlan(msgspec.Struct, frozen=True):
    """The plan for ``target`` and all that is soaked and weighed out for it, in grams.

    ``until`` is the last closed day it rests on; ``open_day`` says that a day before ``target``
    is not closed yet, so that what it will leave is an estimate. ``warm`` are places out of their
    range, with what lies there counted as long as it may be sold.
    """

    target: date
    special: str
    until: date | None
    open_day: date | None
    products: tuple[ProductPlan, ...]
    beans_g: int
    water_g: int
    coagulants: dict[str, Decimal]
    margin: int
    warm: tuple[Place, ...] = ()

    @property
    def to_make(self) -> tuple[ProductPlan, ...]:
        return tuple(p for p in self.products if p.make)


class Past(msgspec.Struct, frozen=True):
    """What the plan knows of a shop: its closings oldest first, and its calendar."""

    closings: tuple[Closing, ...]
    holidays: Mapping[date, str]
    hours: Hours
    catalogue: Catalogue
    tax: Tax


def plan_shop(
    past: Past,
    target: date,
    standing: Sequence[tuple[Lot, int]],
    *,
    open_day: date | None = None,
    day_share: float = 0.0,
) -> ShopPlan:
    """Plan every product for ``target``. ``standing`` is what is on hand and may be sold then.

    ``open_day`` is not closed yet: what it will still sell, from ``day_share`` of its opening hours
    on, is taken off what is on hand.
    """
    special = past.holidays.get(target, "")
    near = not special and not (open_day and past.holidays.get(open_day))
    past = _known(past, target, near)
    on_hand: dict[str, int] = {}
    for lot, amount in standing:
        on_hand[lot.product] = on_hand.get(lot.product, 0) + max(0, amount)
    first = [p for p in past.catalogue.products.values() if _is_made(past, p)]
    # What goes into other products must be known before their own number of moulds.
    first.sort(key=lambda p: not _takes_of(past, p.key))
    into: dict[str, dict[str, int]] = {}
    plans: dict[str, ProductPlan] = {}
    for product in first:
        making = making_of(past, product)
        history, memory = history_of(past, product), Memory()
        have = on_hand.get(product.key, 0)
        if open_day is not None and have:
            today = estimate_demand(
                history,
                open_day,
                special=past.holidays.get(open_day, ""),
                curve=making.curve,
                grain=making.grain,
                guess=making.batch,
                memory=memory,
            )
            have = max(0, have - round(today.mean * (1.0 - making.curve.at(day_share))))
        used = into.get(product.key, {})
        made = _plan_one(past, making, history, memory, target, special, have, used)
        plans[product.key] = made
        for source, amount in made.takes.items():
            into.setdefault(source, {})[product.key] = amount
    ordered = tuple(plans[key] for key in past.catalogue.products if key in plans)
    return _together(past, target, special, open_day, ordered)


def _known(past: Past, target: date, near: bool) -> Past:
    """What was known before ``target``; only of the last weeks where that is ``near`` enough."""
    known = [c for c in past.closings if c.day < target]
    if near and known:
        since = known[-1].day - timedelta(weeks=ORDINARY_WEEKS)
        known = [c for c in known if c.day >= since]
    return msgspec.structs.replace(past, closings=tuple(known))


def _together(
    past: Past, target: date, special: str, open_day: date | None, plans: tuple[ProductPlan, ...]
) -> ShopPlan:
    coagulants: dict[str, Decimal] = {}
    for plan in plans:
        for key, grams in plan.coagulants.items():
            coagulants[key] = coagulants.get(key, Decimal(0)) + grams
    soaks = [p.soak for p in plans if p.soak is not None and p.make]
    return ShopPlan(
        target,
        special,
        past.closings[-1].day if past.closings else None,
        open_day,
        plans,
        sum(s.beans_g for s in soaks),
        sum(s.water_g for s in soaks),
        coagulants,
        sum(p.this.margin for p in plans),
    )


def _plan_one(
    past: Past,
    making: Making,
    history: Sequence[DaySales],
    memory: Memory,
    target: date,
    special: str,
    have: int,
    into: dict[str, int],
) -> ProductPlan:
    """One product, with whole moulds added for what goes into others beyond what is on hand."""
    product = past.catalogue.products[making.product]
    used = sum(into.values())
    extra = -(-max(0, used - have) // making.batch)
    rest = have + extra * making.batch - used
    batches = yields_of(past, product.key)
    yields = [Yield(y.made, y.beans_g, y.water_g, _all(y.coagulants)) for y in batches]
    plan = plan_product(
        making, history, target, special=special, on_hand=rest, yields=yields, memory=memory
    )
    make = plan.make + extra * making.batch
    soak = _soak(yields, make)
    takes = {
        source: -(-amount * make // batches[-1].made)
        for source, amount in (batches[-1].took if batches else {}).items()
    }
    words = plan.words
    if used:
        names = [past.catalogue.product(key).name for key in into]
        words = join(" ", (goes_into(used, names, extra, making.vessel), words))
    return ProductPlan(
        product.key,
        product.name,
        product.unit,
        making.vessel,
        making.batch,
        have,
        round(plan.estimate.mean, 1),
        make,
        plan.moulds + extra,
        into,
        _shift(plan.fewer, extra, making.batch) if plan.fewer else None,
        _shift(plan.this, extra, making.batch),
        _shift(plan.more, extra, making.batch),
        soak,
        _coagulants(batches, make) if soak else {},
        takes,
        words,
    )


def goes_into(used: int, names: Sequence[str], moulds: int, vessel: str) -> Said:
    """What goes into other products, and how many moulds more are made for it.

    >>> goes_into(24, ["fried tofu"], 1, "mould")
    '24 go into fried tofu: 1 mould more.'
    """
    named = reduce(lambda first, last: say("{first} and {last}", first=first, last=last), names)
    if not moulds:
        return say("{amount} go into {names}, out of what is on hand.", amount=used, names=named)
    if vessel == "tub":
        more = say_n("{n} tub more", "{n} tubs more", n=moulds)
    else:
        more = say_n("{n} mould more", "{n} moulds more", n=moulds)
    return say("{amount} go into {names}: {more}.", amount=used, names=named, more=more)


def _shift(choice: Choice, moulds: int, batch: int) -> Choice:
    """The same choice with moulds that go elsewhere on top."""
    return msgspec.structs.replace(
        choice, moulds=choice.moulds + moulds, make=choice.make + moulds * batch
    )


def _soak(yields: Sequence[Yield], make: int) -> Soak | None:
    soak = soak_for(make, yields) if make else None
    return soak if soak is not None and soak.beans_g else None


def _all(coagulants: Mapping[str, Decimal]) -> Decimal:
    return sum(coagulants.values(), Decimal(0))


def _coagulants(batches: Sequence[YieldDay], make: int) -> dict[str, Decimal]:
    """Coagulant of the kind used last, by the yields of the batches that used it."""
    kinds = dict.fromkeys(key for y in batches[-1:] for key in y.coagulants)
    found = {}
    for kind in kinds:
        mine = [
            Yield(y.made, y.beans_g, y.water_g, y.coagulants[kind])
            for y in batches
            if kind in y.coagulants
        ]
        soak = soak_for(make, mine)
        if soak is not None and soak.coagulant_g:
            found[kind] = soak.coagulant_g
    return found


def _is_made(past: Past, product: Product) -> bool:
    """Whether a product is sold and was made in the last weeks, or never yet (then it is new)."""
    if not past.catalogue.portions_of(product.key):
        return False
    days = [c.day for c in past.closings if any(y.product == product.key for y in c.yields)]
    if not days:
        return not any(c.yields for c in past.closings)
    return days[-1] >= past.closings[-1].day - timedelta(weeks=LOOK_BACK_WEEKS)


def _takes_of(past: Past, product: str) -> dict[str, int]:
    batches = yields_of(past, product)
    return batches[-1].took if batches else {}


def yields_of(past: Past, product: str) -> list[YieldDay]:
    """The batches of a product, oldest first."""
    return [y for c in past.closings for y in c.yields if y.product == product]


def making_of(past: Past, product: Product) -> Making:
    """How a product is made and sold, from the catalogue and the shop's own days."""
    grain = grain_of(past, product)
    return Making(
        product.key,
        terms_of(past, product),
        product.mould,
        product.unit,
        "tub" if product.tub else "mould",
        grain,
        past.hours.opens,
        past.hours.closes,
        curve_of(past, product.key),
    )


def grain_of(past: Past, product: Product) -> int:
    """What one customer takes: a piece, the smallest cup, the usual weight at the scales."""
    if product.unit == "piece":
        return 1
    portions = past.catalogue.portions_of(product.key)
    draws = [p.draws for p in portions if p.draws > 0 and not p.per]
    if draws:
        return min(draws)
    keys = {p.key for p in portions}
    sold = sum(n.sold for c in past.closings for n in c.lots if n.product == product.key)
    count = sum(p.quantity for c in past.closings for p in c.portions if p.portion in keys)
    return max(1, round(sold / count)) if sold > 0 and count else max(1, product.mould // 16)


def terms_of(past: Past, product: Product) -> Terms:
    """What one piece, millilitre or gram brings and costs, tax taken out of the price."""
    cost = unit_cost(product)
    if cost <= 0:
        raise BadInput(
            say("plan {product}", product=product.key),
            say("it has no cost, so too many cannot be weighed against too few"),
            say(
                'Write cost = "..." of one mould under [products.{product}] in the catalogue',
                product=product.key,
            ),
        )
    sold: dict[str, int] = {}
    for day in (p for c in past.closings for p in c.portions if p.product == product.key):
        sold[day.portion] = sold.get(day.portion, 0) + day.quantity
    weights, usual, late = Decimal(0), Decimal(0), Decimal(0)
    for portion in past.catalogue.portions_of(product.key):
        weight = Decimal(max(1, sold.get(portion.key, 0)) * (portion.draws or 1))
        rate = Decimal(0)
        if past.tax.mode == "included" and portion.tax in past.tax.classes:
            rate = past.tax.classes[portion.tax].away
        price = price_of_unit(portion) / (1 + rate)
        last = price
        if portion.last_day_price is not None and portion.price:
            last = price * min(portion.last_day_price, portion.price) / portion.price
        weights, usual, late = weights + weight, usual + weight * price, late + weight * last
    keeps = kept_chance(past, product) if product.keeps > 1 else Decimal(0)
    return Terms(usual / weights, cost, last_day_price=late / weights, keeps=keeps)


def kept_chance(past: Past, product: Product) -> Decimal:
    """The chance that one left over at night is still sold: what was not thrown away for its date.

    Starts from a usual share with the weight of one mould.
    """
    over = date_waste = 0
    for lot in (n for c in past.closings for n in c.lots if n.product == product.key):
        if lot.made:
            over += lot.carried_out
        date_waste += lot.wasted.get("date", 0)
    start = Decimal(product.mould)
    kept = Decimal(max(0, over - date_waste)) + KEPT_BEFORE * start
    return min(Decimal(1), kept / (over + start))


def history_of(past: Past, product: Product) -> list[DaySales]:
    """What was sold of a product on each closed day, what was there, when it ran out.

    A rest smaller than the smallest portion counts as run out.
    """
    smallest = grain_of(past, product) if product.unit == "ml" else 1
    found = []
    for closing in past.closings:
        sold = max(0, sum(n.sold for n in closing.lots if n.product == product.key))
        there = max(there_of(closing, product.key), sold)
        out = closing.sold_out_at.get(product.key)
        if there - sold < smallest:
            there = sold
        gone = past.hours.share(out) if out is not None and there <= sold else None
        special = past.holidays.get(closing.day, "")
        found.append(DaySales(closing.day, sold, there, gone, special))
    return found


def there_of(closing: Closing, product: str) -> int:
    """What was there to be sold; from the lots alone in a closing of before it was kept."""
    if closing.available:
        return closing.available.get(product, 0)
    return sum(n.sold + n.carried_out for n in closing.lots if n.product == product)


def curve_of(past: Past, product: str) -> Curve:
    """How buying spreads over the opening hours, from days on which the product lasted."""
    sales: list[tuple[float, int]] = []
    for closing in past.closings[-80:]:
        if product in closing.sold_out_at:
            continue
        for hour in closing.hours:
            amount = hour.sold.get(product, 0)
            for minute, part in ((15, amount - amount // 2), (45, amount // 2)):
                moment = datetime.combine(closing.day, time(hour.hour, minute))
                if part > 0:
                    sales.append((past.hours.share(moment), part))
    whole = sum(amount for _, amount in sales)
    return learn_curve(sales, trust_after=max(100, whole // 10)) if sales else EVEN


def next_open_day(today: date, days: Sequence[date]) -> date:
    """The day after ``today``, or the next whose weekday the shop opens on.

    ``days`` are the days it was open; a weekday without one in eight weeks is a day of rest, once
    two weeks are on record.
    """
    recent = [d for d in days if today - timedelta(weeks=LOOK_BACK_WEEKS) <= d <= today]
    target = today + timedelta(days=1)
    if not recent or (today - recent[0]).days < 14:
        return target
    weekdays = {d.weekday() for d in recent}
    while target.weekday() not in weekdays:
        target += timedelta(days=1)
    return target
