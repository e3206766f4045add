"""What a closing keeps for reports and the plan: hours, waste in money, yields, what was there.

Worked out once, when the day is closed, with the catalogue as it stood: a price changed later does
not change what was lost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal

import msgspec

from counter.trade.catalogue import Catalogue, Ingredient, Portion, Product, Unit
from counter.trade.closing import (
    Closing,
    HourDay,
    LotDay,
    TakenBack,
    WasteDay,
    YieldDay,
    portions_sold,
)
from counter.trade.ledger import Ledger
from counter.trade.money import half_up
from counter.trade.production import Batch
from counter.trade.sales import Sale
from counter.trade.taxes import taxes_by_rate
from counter.trade.waste import REASONS, about
from labels.errors import LabelError
from labels.units import GRAMS, MILLILITRES, parse_measure

LEFT_OVER = tuple(reason for reason in REASONS if about(reason).left_over)
"""Reasons of waste of what stood there to be sold until the end."""


def with_figures(
    closing: Closing,
    ledger: Ledger,
    catalogue: Catalogue,
    sale_of: Callable[[str], Sale | None] = lambda _: None,
    back: Iterable[Sale] = (),
) -> Closing:
    """The closing with what reports and the plan need of the day.

    ``sale_of`` finds a sale of an earlier day by its number, for the tax in refunds of it; ``back``
    are those that today's refunds have taken back whole.
    """
    return msgspec.structs.replace(
        closing,
        hours=sales_by_hour(ledger.stayed),
        waste=waste_in_money(closing.lots, ledger.stayed, catalogue),
        yields=tuple(yield_of(batch, ledger, catalogue) for batch in ledger.made),
        available=available_of(ledger, closing.lots),
        by_rate=taxes_by_rate(
            ledger.sales.values(), ledger.refunds, lambda n: ledger.sales.get(n) or sale_of(n)
        ),
        back=tuple(
            TakenBack(sale=s.number, portions=tuple(portions_sold([s])), hour=sales_by_hour([s])[0])
            for s in back
        ),
    )


def less_taken_back(closings: Sequence[Closing]) -> list[Closing]:
    """Closings without what was sold in sales that the refunds of a later one of them took back
    whole, as each is without those of its own day."""
    back: dict[str, list[TakenBack]] = {}
    for one in (b for c in closings for b in c.back):
        back.setdefault(one.sale.partition("/")[0], []).append(one)
    return [_less(c, back.get(str(c.day), ())) for c in closings]


def _less(closing: Closing, back: Sequence[TakenBack]) -> Closing:
    if not back:
        return closing
    portions = {p.portion: p for p in closing.portions}
    hours = {h.hour: h for h in closing.hours}
    for one in back:
        for p in one.portions:
            was = portions[p.portion]
            portions[p.portion] = msgspec.structs.replace(
                was, quantity=was.quantity - p.quantity, net=was.net - p.net
            )
        if now := hours.get(one.hour.hour):  # closings of before they were kept have none
            sold = {name: n - one.hour.sold.get(name, 0) for name, n in now.sold.items()}
            left = HourDay(now.hour, now.sales - 1, now.total - one.hour.total, sold)
            hours[now.hour] = left
    return msgspec.structs.replace(
        closing,
        portions=tuple(p for p in portions.values() if p.quantity),
        hours=tuple(h for h in hours.values() if h.sales),
        taken_back=closing.taken_back + len(back),
        taken_back_total=closing.taken_back_total + sum(b.hour.total for b in back),
    )


def sales_by_hour(sales: Iterable[Sale]) -> tuple[HourDay, ...]:
    """Sales by the hour of the clock they were made at, in the order of the day."""
    hours: dict[tuple[date, int], HourDay] = {}
    for sale in sales:
        key = (sale.at.date(), sale.at.hour)
        hour = hours.get(key) or HourDay(sale.at.hour, 0, 0)
        sold = dict(hour.sold)
        for line in sale.lines:
            drawn = sum(draw.amount for draw in line.draws)
            sold[line.product] = sold.get(line.product, 0) + drawn
        hours[key] = HourDay(sale.at.hour, hour.sales + 1, hour.total + sale.total, sold)
    return tuple(hours[key] for key in sorted(hours))


def waste_in_money(
    lots: Iterable[LotDay], sales: Iterable[Sale], catalogue: Catalogue
) -> tuple[WasteDay, ...]:
    """Waste by product and reason, with its cost and the price it would have brought."""
    amounts: dict[tuple[str, str], int] = {}
    for lot in lots:
        for reason, amount in lot.wasted.items():
            key = (lot.product, reason)
            amounts[key] = amounts.get(key, 0) + amount
    drawn = drawn_by_portion(sales)
    found = []
    for (name, reason), amount in sorted(amounts.items()):
        product = catalogue.products.get(name)
        cost = amount * unit_cost(product) if product else Decimal(0)
        price = amount * unit_price(catalogue.portions_of(name), drawn)
        found.append(
            WasteDay(
                product=name, reason=reason, amount=amount, cost=half_up(cost), price=half_up(price)
            )
        )
    return tuple(found)


def drawn_by_portion(sales: Iterable[Sale]) -> dict[str, int]:
    """Pieces, millilitres or grams that left by each portion."""
    drawn: dict[str, int] = {}
    for line in (n for sale in sales for n in sale.lines):
        drawn[line.portion] = drawn.get(line.portion, 0) + sum(d.amount for d in line.draws)
    return drawn


def unit_cost(product: Product) -> Decimal:
    """Cost of one piece, millilitre or gram in minor units."""
    return Decimal(product.cost) / product.mould if product.mould else Decimal(0)


def unit_price(portions: Iterable[Portion], drawn: Mapping[str, int]) -> Decimal:
    """Usual price of one piece, millilitre or gram in minor units, tax as the tag has it.

    Over the portions as they were ``drawn``; each counts alike where none was.
    """
    prices = {p.key: price_of_unit(p) for p in portions}
    if not prices:
        return Decimal(0)
    whole = sum(drawn.get(key, 0) for key in prices)
    if whole <= 0:
        return sum(prices.values(), Decimal(0)) / len(prices)
    return sum((price * drawn.get(key, 0) for key, price in prices.items()), Decimal(0)) / whole


def price_of_unit(portion: Portion) -> Decimal:
    """Price of one piece, millilitre or gram at the portion's usual price."""
    if portion.per:
        return Decimal(portion.price) / (GRAMS.get(portion.per) or MILLILITRES[portion.per])
    return Decimal(portion.price) / portion.draws if portion.draws else Decimal(0)


def is_bean(ingredient: Ingredient) -> bool:
    """Whether an ingredient is the dry beans that are soaked, and not made of them."""
    return ingredient.key == "soybeans" or ("soy" in ingredient.allergens and not ingredient.parts)


def yield_of(batch: Batch, ledger: Ledger, catalogue: Catalogue) -> YieldDay:
    """What went into a batch and what came out."""
    beans, water, noted = Decimal(0), Decimal(0), False
    coagulants: dict[str, Decimal] = {}
    for part in batch.ingredients:
        ingredient = catalogue.ingredients.get(part.ingredient) or Ingredient(part.ingredient, "")
        if is_bean(ingredient):
            beans, noted = beans + part.grams, noted or bool(part.written)
        elif ingredient.water:
            water += part.grams
        elif ingredient.coagulant:
            coagulants[part.ingredient] = coagulants.get(part.ingredient, Decimal(0)) + part.grams
    took: dict[str, int] = {}
    for mixed in batch.mixed:
        row = ledger.rows.get(mixed.lot)
        if row is not None:
            took[row.lot.product] = took.get(row.lot.product, 0) + mixed.amount
    weighs, liquid = weight_of(batch.made, batch.unit, catalogue.products.get(batch.product))
    return YieldDay(
        lot=batch.lot,
        product=batch.product,
        unit=batch.unit,
        made=batch.made,
        weighs=weighs,
        liquid=liquid,
        beans_g=beans,
        water_g=water,
        coagulants=coagulants,
        brix=batch.brix,
        noted=noted,
        took=took,
    )


def weight_of(made: int, unit: Unit, product: Product | None) -> tuple[int, bool]:
    """What so many of a product weigh in grams, or measure in millilitres (then True)."""
    if unit != "piece":
        return made, unit == "ml"
    try:
        net = parse_measure(product.pack.net) if product and product.pack.net else None
    except LabelError:
        net = None
    return (half_up(net.base * made), net.kind == "volume") if net else (0, False)


def available_of(ledger: Ledger, lots: Iterable[LotDay]) -> dict[str, int]:
    """What of each product was there to be sold: what was, what is left, what was left too long.

    What broke, was given away, lost in scooping, went into another batch or is missing was not
    there to be sold; nor was a lot that could not be sold and was not.
    """
    found: dict[str, int] = {}
    for lot in lots:
        row = ledger.rows[lot.lot]
        limit = row.lot.mark.limit or row.lot.mark.day
        barred = (
            bool(lot.stopped or row.lot.raw or row.lot.reserve)
            or max(limit, row.lot.mark.day) < ledger.day
        )
        left = lot.carried_out + sum(lot.wasted.get(reason, 0) for reason in LEFT_OVER)
        there = lot.sold + (0 if barred else left)
        found[lot.product] = found.get(lot.product, 0) + there
    return {product: amount for product, amount in sorted(found.items()) if amount > 0}
