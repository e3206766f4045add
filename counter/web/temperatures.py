"""The temperature log: a place, then its figure, and what was measured today."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, CounterError
from counter.trade.temperatures import (
    SHOWS,
    Temperature,
    ThermometerCheck,
    Water,
    what_is_wrong,
    what_to_do,
)
from counter.trade.units import parse_day, parse_temperature
from counter.web.forms import celsius, told, typed
from counter.web.here import by, field, shop, t, words
from counter.web.notes import note
from labels.say import say

page = Blueprint("temperatures", __name__, url_prefix="/temperatures")

# What thermometers of a cold and of a hot place show most: buttons, no limits.
USUAL = {
    ("cold", False): ("1C", "2C", "3C", "4C", "5C", "7C"),
    ("freezer", False): ("-24C", "-22C", "-20C", "-18C", "-15C", "-12C"),
    ("freezer", True): ("-10F", "-5F", "0F", "5F", "10F", "20F"),
    ("hot", False): ("55C", "57C", "60C", "63C", "66C", "70C"),
    ("cold", True): ("34F", "36F", "38F", "40F", "41F", "45F"),
    ("hot", True): ("130F", "135F", "140F", "145F", "150F", "160F"),
}


def show() -> str:
    """The places with their last reading, and the readings of a day."""
    settings, today = shop().desk.settings, shop().desk.today()
    day = parse_day(typed("day") or str(today))
    readings = shop().desk.recorded(Temperature, day, day)
    last = {r.place: r for r in readings}
    checks = shop().desk.recorded(ThermometerCheck, day, day)
    of_each = {c.thermometer: c for c in checks}.values()
    wrong = [
        *((r.at, r.celsius, what_to_do(r)) for r in last.values() if not r.ok),
        *((c.at, c.celsius, what_is_wrong(c)) for c in of_each if not c.ok),
    ]
    places = [
        (name, how, last.get(name), USUAL[how, settings.fahrenheit])
        for name, how in settings.holding.items()
        if how != "room"
    ]
    return render_template(
        "temperatures.html",
        places=places,
        readings=readings[::-1],
        typed=typed,
        at=day,
        today=today,
        parse=parse_temperature,
        unit="°F" if settings.fahrenheit else "°C",
        wrong=wrong if day == today else [],
        checks=checks[::-1],
    )


@page.get("/")
def index() -> str:
    return show()


@page.post("/")
def measure() -> AnyResponse | tuple[str, int]:
    """Note what a place measures: a button's figure, or one that was typed."""
    try:
        shows = celsius(field("usual", "", 20) or field("celsius", most=20))
        place = field("place", most=60)
        made = shop().records.note_temperature(place, shows, field("note", ""), by=by())
    except CounterError as error:
        status = told(error)
        return show(), status
    key = "temperatures.noted" if made.ok else "temperatures.out"
    says = t(key, place=made.place, shown=words().temperature(made.celsius))
    note(says, "good" if made.ok else "stop")
    return redirect(url_for("temperatures.index"))


def water_of(text: str) -> Water:
    for water in SHOWS:
        if text == water:
            return water
    why = say("neither ice water nor boiling water is chosen")
    raise BadInput(say("note the check of a thermometer"), why, say("Choose one of them"))


@page.post("/thermometer")
def thermometer() -> AnyResponse | tuple[str, int]:
    """Note what a thermometer shows in ice water or in boiling water."""
    try:
        water = water_of(field("water", "", 10))
        name, shows = field("thermometer", most=60), celsius(field("celsius", most=20))
        made = shop().records.check_thermometer(name, water, shows, field("note", ""), by=by())
    except CounterError as error:
        status = told(error)
        return show(), status
    key = "temperatures.right" if made.ok else "temperatures.not_right"
    says = t(key, name=made.thermometer, shown=words().temperature(made.celsius))
    note(says, "good" if made.ok else "stop")
    return redirect(url_for("temperatures.index"))
