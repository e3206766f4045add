"""Options of the command line, as typed, into the values Shop takes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import time
from decimal import Decimal, InvalidOperation
from typing import Any

from counter.errors import BadInput
from counter.making import BatchNote
from counter.shop import Shop
from counter.units import (
    parse_amount,
    parse_clock,
    parse_minutes,
    parse_pressure,
    parse_temperature,
)
from labels.units import Measure, parse_measure


def pair(text: str, mark: str, tried: str, expected: str) -> tuple[str, str]:
    """Two parts of ``text`` around the first ``mark``."""
    left, found, right = text.partition(mark)
    if not found or not left.strip() or not right.strip():
        raise BadInput(f"read {tried} '{text}'", "one of its two parts is missing", expected)
    return left.strip(), right.strip()


def parse_number(text: str, what: str) -> Decimal:
    """A plain decimal number."""
    try:
        number = Decimal(text.strip()) if text.isascii() else Decimal("NaN")
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or abs(number) > 10**6:
        raise BadInput(f"read {what} '{text}'", "it is not a number", "Write it as 11.2")
    return number


def read_note(texts: Mapping[str, Any], unit: str, shop: Shop) -> BatchNote:
    """A maker's note from the options of ``counter batch``."""
    boiled, cook, press = texts["boiled"], texts["cook"], texts["press"]
    celsius = minutes = kpa = pressed = None
    if boiled and cook:
        raise BadInput("read the cook", "it is given twice", "Write --boiled or --cook")
    if cook:
        degrees, held = pair(cook, ",", "cook", "Write it as 95C,15min")
        celsius, minutes = parse_temperature(degrees), parse_minutes(held)
    if press:
        force, _, held = press.partition(",")
        kpa, pressed = parse_pressure(force), parse_minutes(held) if held.strip() else None
    return BatchNote(
        made=parse_amount(texts["made"], unit) if texts["made"] else None,
        ingredients=read_ingredients(texts, shop),
        codes=dict(
            pair(code, "=", "supplier code", "Write it as soybeans=B-1207")
            for code in texts["code"]
        ),
        brix=parse_number(texts["brix"], "°Brix") if texts["brix"] else None,
        boiled_minutes=parse_minutes(boiled) if boiled else None,
        cook_celsius=celsius, cook_minutes=minutes,
        cook_ended=parse_clock(texts["cooked_at"]) if texts["cooked_at"] else None,
        cooled=read_cooled(texts["cooled"]) if texts["cooled"] else None,
        press_kpa=kpa, press_minutes=pressed,
        mixed=tuple(read_mixed(text, shop) for text in texts["mixed"]),
        notes=texts["notes"],
    )  # fmt: skip


def read_cooled(text: str) -> tuple[time, time]:
    first, second = pair(text, ",", "cooling times", "Write both, such as 08:10,11:30")
    return parse_clock(first), parse_clock(second)


def read_ingredients(texts: Mapping[str, Any], shop: Shop) -> dict[str, Measure]:
    """What went in, by ingredient key."""
    found = {}
    if texts["beans"]:
        found["soybeans"] = parse_measure(texts["beans"], "mass")
    if texts["water"]:
        found["water"] = parse_measure(texts["water"])
    if texts["coagulant"]:
        kind, amount = pair(texts["coagulant"], " ", "coagulant", "Write it as 'gypsum 300g'")
        ingredient = shop.catalogue.ingredient(kind, f"log coagulant '{kind}'")
        if not ingredient.coagulant:
            others = [i.key for i in shop.catalogue.ingredients.values() if i.coagulant]
            do = f"Coagulants in the catalogue: {', '.join(others) or 'none'}"
            raise BadInput(f"log coagulant '{kind}'", "it is no coagulant", do)
        found[kind] = parse_measure(amount)
    for text in texts["extra"]:
        key, amount = pair(text, "=", "ingredient", "Write it as ginger=200g")
        found[key] = parse_measure(amount)
    return found


def read_mixed(text: str, shop: Shop) -> tuple[str, int]:
    lot, amount = pair(text, ":", "older stock", "Write it as 26328-01:24")
    row = shop.ledger().row(lot, f"use lot {lot}")
    return lot, parse_amount(amount, row.lot.unit)
