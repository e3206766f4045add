"""What a maker writes down of a batch, read from the texts of a form or a command line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import time
from decimal import Decimal
from typing import Any

import msgspec

from counter.errors import BadInput
from counter.trade.catalogue import Catalogue
from counter.trade.units import (
    pair,
    parse_amount,
    parse_clock,
    parse_minutes,
    parse_number,
    parse_pressure,
    parse_temperature,
)
from labels.say import say, term
from labels.units import Measure, parse_measure

NONE = Measure(Decimal(0), "g")


class BatchNote(msgspec.Struct, frozen=True):
    """What the maker writes down of a batch; clock times are on the shop's clock.

    ``made`` and ``mixed`` amounts are in the product's own unit. ``cooled`` holds when
    21 °C / 70 °F and 5 °C / 41 °F were reached, the second None as long as it is still warmer;
    ``passed_57`` when it passed 57 °C / 135 °F before.
    0 g of an ingredient of the recipe says that it was left out of this batch.
    None leaves a figure as it was when a batch is corrected.
    """

    made: int | None = None
    ingredients: Mapping[str, Measure] = {}
    codes: Mapping[str, str] = {}
    brix: Decimal | None = None
    boiled_minutes: int | None = None
    cook_celsius: Decimal | None = None
    cook_minutes: int | None = None
    cook_ended: time | None = None
    cooled: tuple[time, time | None] | None = None
    press_kpa: Decimal | None = None
    press_minutes: int | None = None
    mixed: tuple[tuple[str, int], ...] = ()
    notes: str | None = None
    lot: str = ""  # the number on the packs of a new batch; "" for the next one
    passed_57: time | None = None


def read_note(
    texts: Mapping[str, Any], unit: str, catalogue: Catalogue, unit_of: Callable[[str], str]
) -> BatchNote:
    """A maker's note from texts; what is missing or empty is not noted.

    Keys: made, beans, water, coagulant ("gypsum 300g"), brix, boiled, cook ("95C,15min"),
    cooked_at, cooled ("08:10,11:30" or "08:10"), passed_57, press ("60psi,25min"), lot,
    notes; and lists of texts: extra ("ginger=200g"), code ("soybeans=B-1207"), mixed
    ("26328-01:24").
    ``unit`` is the product's, ``unit_of`` gives that of a lot. Raises BadInput, BadValue, NotFound.
    """
    boiled, cook, press = texts.get("boiled"), texts.get("cook"), texts.get("press")
    celsius = minutes = kpa = pressed = None
    if boiled and cook:
        do = say("Write --boiled or --cook")
        raise BadInput(say("read the cook"), say("it is given twice"), do)
    if cook:
        degrees, held = pair(cook, ",", "cook", say("Write it as 95C,15min"))
        celsius, minutes = parse_temperature(degrees), parse_minutes(held)
    if press:
        force, _, held = press.partition(",")
        kpa, pressed = parse_pressure(force), parse_minutes(held) if held.strip() else None
    made, brix = texts.get("made"), texts.get("brix")
    ended, cooled, passed = (texts.get(key) for key in ("cooked_at", "cooled", "passed_57"))
    return BatchNote(
        made=parse_amount(made, unit) if made else None,
        ingredients=read_ingredients(texts, catalogue),
        codes=dict(
            pair(code, "=", "supplier code", say("Write it as soybeans=B-1207"))
            for code in texts.get("code", ())
        ),
        brix=parse_number(brix, "°Brix") if brix else None,
        boiled_minutes=parse_minutes(boiled) if boiled else None,
        cook_celsius=celsius,
        cook_minutes=minutes,
        cook_ended=parse_clock(ended) if ended else None,
        cooled=read_cooled(cooled) if cooled else None,
        press_kpa=kpa,
        press_minutes=pressed,
        mixed=tuple(read_mixed(text, unit_of) for text in texts.get("mixed", ())),
        notes=texts.get("notes"),
        lot=(texts.get("lot") or "").strip(),
        passed_57=parse_clock(passed) if passed else None,
    )


def read_cooled(text: str) -> tuple[time, time | None]:
    """One time or two: 21 °C / 70 °F, and 5 °C / 41 °F once it is reached."""
    if "," not in text:
        return parse_clock(text), None
    first, second = pair(text, ",", "cooling times", say("Write both, such as 08:10,11:30"))
    return parse_clock(first), parse_clock(second)


def read_ingredients(texts: Mapping[str, Any], catalogue: Catalogue) -> dict[str, Measure]:
    """What went in, by ingredient key."""
    found = {}
    if texts.get("beans"):
        found["soybeans"] = parse_measure(texts["beans"], "mass")
    if texts.get("water"):
        found["water"] = parse_measure(texts["water"])
    if texts.get("coagulant"):
        kind, amount = pair(texts["coagulant"], " ", "coagulant", say("Write it as 'gypsum 300g'"))
        tried = say("log coagulant '{text}'", text=kind)
        ingredient = catalogue.ingredient(kind, tried)
        if not ingredient.coagulant:
            others = [i.key for i in catalogue.ingredients.values() if i.coagulant]
            names = ", ".join(others) or term("none")
            do = say("Coagulants in the catalogue: {names}", names=names)
            raise BadInput(tried, say("it is no coagulant"), do)
        found[kind] = parse_measure(amount)
    for text in texts.get("extra", ()):
        key, amount = pair(text, "=", "ingredient", say("Write it as ginger=200g"))
        found[key] = NONE if amount == "0" else parse_measure(amount)
    return found


def read_mixed(text: str, unit_of: Callable[[str], str]) -> tuple[str, int]:
    """A lot that went in, and how much of it in its own unit."""
    lot, amount = pair(text, ":", "older stock", say("Write it as 26328-01:24"))
    return lot, parse_amount(amount, unit_of(lot))
