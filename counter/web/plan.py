"""Tomorrow: how much to make, what to soak tonight, and why."""

from __future__ import annotations

from decimal import Decimal

from flask import Blueprint, render_template

from counter.errors import CounterError
from counter.plan.planning import Choice
from counter.plan.tomorrow import ProductPlan
from counter.trade.units import parse_day
from counter.web.forms import told, typed
from counter.web.here import field, needs, shop, t, unhurried, words

page = Blueprint("plan", __name__, url_prefix="/plan")


@page.get("/")
@needs("maker")
@unhurried
def index() -> str | tuple[str, int]:
    """The plan of the next day the shop opens, or of the day named."""
    status = 200
    found = None
    try:
        text = field("day", "", 20)
        found = shop().plan.for_day(parse_day(text) if text else None)
    except CounterError as error:
        status = told(error)
    return render_template(
        "plan.html",
        plan=found,
        choices=choices,
        moulds=moulds,
        weight=weight,
        typed=typed,
        names={k: i.name for k, i in shop().desk.catalogues.of(None).ingredients.items()},
        made=shop().desk.catalogues.names(),
        percent=percent,
        units={k: p.unit for k, p in shop().desk.catalogues.of(None).products.items()},
    ), status


def choices(product: ProductPlan) -> list[tuple[str, Choice]]:
    """One mould less, this, one more, each under its text."""
    named = (("one_less", product.fewer), ("this", product.this), ("one_more", product.more))
    return [(key, choice) for key, choice in named if choice is not None]


def moulds(product: ProductPlan, count: int) -> str:
    return t(f"plan.{'tubs' if product.vessel == 'tub' else 'moulds'}", n=count)


def weight(grams: int | Decimal) -> str:
    """Grams as the shop weighs them out: whole, or to a tenth below a kilogram."""
    if grams < 1000 and grams != int(grams):
        return f"{words().number(Decimal(grams))} g"
    return words().amount(round(grams), "g")


def percent(chance: float) -> str:
    return words().percent(Decimal(round(chance * 100)) / 100)
