"""A closed day corrected: the drawer, a sale and a temperature that nobody entered, a lot."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, CounterError
from counter.trade.corrections import Correction
from counter.trade.money import parse_money
from counter.trade.payments import kind_named
from counter.trade.units import parse_clock, parse_day
from counter.web.forms import celsius, told, typed, typed_amount
from counter.web.here import by, field, needs, shop, t
from counter.web.notes import note
from labels.say import say

page = Blueprint("correcting", __name__, url_prefix="/records/correct")


def show() -> str:
    """The forms for a day, and what is corrected of it so far."""
    day = parse_day(field("day", most=20))
    shop().closed_days.must_be_sealed(day)
    names = shop().desk.catalogues.names()
    lots = [
        (n.lot, f"{n.lot} {names.get(n.product, n.product)}") for n in shop().closings.of(day).lots
    ]
    return render_template(
        "records_correct.html",
        at=day,
        typed=typed,
        lots=lots,
        portions=[(p.key, p.name) for p in shop().desk.for_sale().portions.values() if not p.per],
        places=[(name, name) for name in shop().desk.settings.holding],
        corrections=shop().closed_days.corrections_of(day),
    )


@page.get("/")
@needs("maker")
def index() -> str:
    return show()


@page.post("/")
@needs("maker")
def correct() -> AnyResponse | tuple[str, int]:
    """Write one correction down."""
    try:
        made = corrected(field("what", most=12))
    except CounterError as error:
        status = told(error)
        return show(), status
    note(t("correcting.noted", number=made.number))
    return redirect(url_for("records.index", day=made.corrects))


def corrected(what: str) -> Correction:
    day, why = parse_day(field("day", most=20)), field("why", "")
    clock = field("clock", "", 10)
    if what == "cash":
        return shop().closed_days.correct(day, why, cash=signed_money("cash"), by=by())
    if what == "lot":
        lot = field("lot", most=20)
        sign, text = signed("amount")
        by_so_much = sign * typed_amount(text, shop().desk.batch(lot).unit)
        return shop().closed_days.correct(day, why, lot=lot, amount=by_so_much, by=by())
    if what == "sold":
        lot = field("lot", "", 20)
        text = field("portion", most=60) + (f"@{lot}" if lot else "")
        item = shop().counter.read_item(f"{text}*{field('number', '1', 4)}")
        paid = kind_named(field("paid", "cash", 20)) or "cash"
        when = parse_clock(clock) if clock else None
        return shop().closed_days.forgotten_sale(day, item, paid, why, when, by=by())
    if what == "reading":
        place, shows = field("place", most=60), celsius(field("celsius", most=20))
        when = parse_clock(clock)
        return shop().closed_days.forgotten_temperature(day, place, shows, why, when, by=by())
    raise BadInput(
        say("correct day {date}", date=day),
        say("it cannot be '{text}'", text=what),
        say("Reload the page"),
    )


def signed(name: str) -> tuple[int, str]:
    """The sign that was picked, and the amount."""
    return (-1 if field(f"{name}-less", "", 4) == "yes" else 1), field(name, most=40)


def signed_money(name: str) -> int:
    sign, text = signed(name)
    return sign * parse_money(text, shop().desk.settings.places)
