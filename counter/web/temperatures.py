"""The temperature log: a place, then its figure, and what was measured today."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import CounterError
from counter.trade.temperatures import what_to_do
from counter.trade.units import parse_day, parse_temperature
from counter.web.forms import told, typed
from counter.web.here import by, field, shop, t, words
from counter.web.notes import note

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
    settings, today = shop().settings, shop().today()
    day = parse_day(typed("day") or str(today))
    readings = shop().temperatures(day, day)
    last = {r.place: r for r in readings}
    places = [
        (name, how, last.get(name), USUAL[how, settings.fahrenheit])
        for name, how in settings.holding.items() if how != "room"
    ]  # fmt: skip
    return render_template(
        "temperatures.html", places=places, readings=readings[::-1], typed=typed, at=day,
        today=today, parse=parse_temperature, unit="°F" if settings.fahrenheit else "°C",
        wrong=[(r, what_to_do(r)) for r in last.values() if not r.ok] if day == today else [],
    )  # fmt: skip


@page.get("/")
def index() -> str:
    return show()


@page.post("/")
def measure() -> AnyResponse | tuple[str, int]:
    """Note what a place measures: a button's figure, or one that was typed."""
    try:
        text = field("usual", "", 20) or field("celsius", most=20)
        if text[-1:].isdigit():
            text += "F" if shop().settings.fahrenheit else "C"
        made = shop().note_temperature(
            field("place", most=60), parse_temperature(text), field("note", ""), by=by()
        )
    except CounterError as error:
        status = told(error)
        return show(), status
    shown = words().temperature(made.celsius)
    note(t("temperatures.noted" if made.ok else "temperatures.out", place=made.place,
           shown=shown), "good" if made.ok else "stop")  # fmt: skip
    return redirect(url_for("temperatures.index"))
