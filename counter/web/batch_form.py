"""The form of a batch: what stands in its fields, and what was typed into them, read.

Recipe, amounts and supplier codes begin as they were the last time. What is measured (°Brix, cook,
cooling) begins empty: a figure nobody took must not get into the log by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from babel.dates import format_skeleton

from counter.errors import BadInput, CounterError
from counter.trade.batch_note import BatchNote, read_note
from counter.trade.catalogue import Ingredient, Product
from counter.trade.production import Batch, Cook
from counter.trade.units import (
    KPA_PER_PSI,
    clock_on,
    parse_clock,
    parse_moment,
    parse_temperature,
    show_amount,
)
from counter.web.forms import point
from counter.web.here import field, shop, t, words
from labels.errors import LabelError
from labels.say import say

Values = dict[str, str]
OTHERS = ("1", "2")  # ingredients beside those of the recipe and of the last time
MIXED = ("1", "2", "3", "4")
PLAIN = (
    "made",
    "brix",
    "cook",
    "cook-minutes",
    "cook-temp",
    "cooked-at",
    "passed-57",
    "cooled-21",
    "cooled-5",
    "press",
    "press-minutes",
    "at-day",
    "at-clock",
    "lot",
)
# Fields that mean something only together: when one of them is corrected, all are.
TOGETHER = (
    {"cook", "cook-minutes", "cook-temp", "cooked-at"},
    {"cooled-21", "cooled-5"},
    {"press", "press-minutes"},
    {f"mixed-{part}-{n}" for part in ("lot", "amount") for n in MIXED},
)
NOTES_MOST = 1000


def typed() -> Values:
    """Every field of the form as it was sent, checked to be plain text."""
    names = list(PLAIN)
    for key in shop().desk.catalogue.ingredients:
        names += [f"amount.{key}", f"code.{key}"]
    for n in OTHERS:
        names += [f"other-{n}", f"other-amount-{n}", f"other-code-{n}"]
    for n in MIXED:
        names += [f"mixed-lot-{n}", f"mixed-amount-{n}"]
    return {name: field(name, "") for name in names} | {"notes": field("notes", "", NOTES_MOST)}


def rows_of(product: Product, last: Batch | None) -> list[Ingredient]:
    """The ingredients that have a row of their own: of the recipe, and of the last time."""
    keys = [part.ingredient for part in product.recipe]
    keys += [part.ingredient for part in last.ingredients] if last else []
    known = shop().desk.catalogue.ingredients
    return [known[key] for key in dict.fromkeys(keys) if key in known]


def start_values(product: Product, last: Batch | None) -> Values:
    """The form of a new batch: as the last one, without what is measured or was left out."""
    if last is None:
        return {"made": show_amount(product.mould, product.unit)}
    found = {name: text for name, text in values_of(last).items() if kept(name)}
    left_out = [f"amount.{p.ingredient}" for p in last.ingredients if not p.grams]
    return {name: text for name, text in found.items() if name not in left_out}


def kept(name: str) -> bool:
    """Whether a new batch begins with this value of the last one."""
    return name.startswith(("amount.", "code.", "press")) or name == "made"


def values_of(batch: Batch) -> Values:
    """A batch as the form shows it."""
    found: Values = {"made": show_amount(batch.made, batch.unit), "notes": batch.notes}
    found |= {f"amount.{p.ingredient}": p.written for p in batch.ingredients}
    found |= {f"code.{key}": code for key, code in batch.codes.items()}
    if batch.brix is not None:
        found["brix"] = f"{batch.brix:f}"
    found |= cook_values(batch.cook)
    if batch.cooling:
        found["cooled-21"] = clock24(batch.cooling.to_21)
        found["cooled-5"] = clock24(batch.cooling.to_5)
    found["passed-57"] = clock24(batch.passed_57)
    if batch.press_kpa is not None:
        found["press"] = pressure(batch.press_kpa)
        found["press-minutes"] = str(batch.press_minutes or "")
    for n, mixed in zip(MIXED, batch.mixed, strict=False):
        found |= {f"mixed-lot-{n}": mixed.lot, f"mixed-amount-{n}": str(mixed.amount)}
    return found


def cook_values(cook: Cook | None, ended: bool = True) -> Values:
    """A cook as the form shows it; ``ended`` says whether with its end."""
    if cook is None:
        return {}
    found = {"cook": "boiled", "cook-minutes": str(cook.minutes)}
    if cook.celsius is not None:
        found |= {"cook": "held", "cook-temp": words().temperature(cook.celsius)}
    return found | ({"cooked-at": clock24(cook.ended)} if ended and cook.ended else {})


def clock24(moment: datetime | None) -> str:
    """A moment as the fields take it, ``08:10`` on the shop's clock."""
    return f"{moment.astimezone(shop().desk.settings.zone):%H:%M}" if moment else ""


def day_words(day: date) -> str:
    """A day near today, as the shop's language writes it: ``Sat, Nov 28``."""
    said = str(format_skeleton("MMMEd", day, locale=words().locale))
    return said.replace(" ", "\u00a0")  # a date does not go over a line end


def pressure(kpa: Decimal) -> str:
    """A pressure in the unit the market reads."""
    if not shop().desk.settings.fahrenheit:
        return f"{kpa.normalize():f} kPa"
    psi = (kpa / KPA_PER_PSI).quantize(Decimal("0.1"), ROUND_HALF_UP)
    return f"{psi.normalize():f} psi"


def read_form(values: Values, product: Product) -> tuple[BatchNote, dict[str, str]]:
    """The note of all fields that can be read, and for each of the others why it cannot."""
    texts: dict[str, Any] = {"extra": [], "code": [], "mixed": [], "notes": values["notes"] or None}
    wrong: dict[str, str] = {}
    for name, found in readings(values):
        try:
            read_note(found, product.unit, shop().desk.catalogue, shop().production.unit_of)
        except (CounterError, LabelError) as error:
            wrong[name] = words().said(error)
            continue
        for key, text in found.items():
            texts[key] = [*texts[key], *text] if isinstance(text, list) else text
    return read_note(texts, product.unit, shop().desk.catalogue, shop().production.unit_of), wrong


def readings(values: Values) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """What each field says, as the texts that ``read_note`` knows; empty ones say nothing."""
    for name, key in (
        ("made", "made"),
        ("brix", "brix"),
        ("cooked-at", "cooked_at"),
        ("passed-57", "passed_57"),
    ):
        if values[name]:
            yield name, {key: point(values[name])}
    yield from cook_readings(values)
    first, second = values["cooled-21"], values["cooled-5"]
    if second and not first:
        yield "cooled-21", {"cooled": f" ,{second}"}
    elif first:
        yield (
            "cooled-5" if second else "cooled-21",
            {"cooled": ",".join(filter(None, (first, second)))},
        )
    if values["lot"]:
        yield "lot", {"lot": values["lot"]}
    if values["press"]:
        held = f",{values['press-minutes']}" if values["press-minutes"] else ""
        yield "press", {"press": point(values["press"]) + held}
    named = [(f"amount.{k}", f"code.{k}", k) for k in shop().desk.catalogue.ingredients]
    named += [(f"other-amount-{n}", f"other-code-{n}", values[f"other-{n}"]) for n in OTHERS]
    for amount, code, key in named:
        if key and values[amount]:
            yield amount, {"extra": [f"{key}={point(values[amount])}"]}
        if key and values[code]:
            yield code, {"code": [f"{key}={values[code]}"]}
    for n in MIXED:
        lot, much = values[f"mixed-lot-{n}"], values[f"mixed-amount-{n}"]
        if lot or much:
            yield f"mixed-amount-{n}", {"mixed": [f"{lot}:{point(much)}"]}


def cook_readings(values: Values) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Boiled for so long, or held hot. A temperature that cannot be read is named by itself."""
    minutes, degrees = values["cook-minutes"], point(values["cook-temp"])
    if values["cook"] == "boiled":
        yield "cook-minutes", {"boiled": minutes or " "}
    elif values["cook"] == "held":
        try:
            parse_temperature(degrees)
        except CounterError:
            yield "cook-temp", {"cook": f"{degrees or ' '},1"}
            return
        yield "cook-minutes", {"cook": f"{degrees},{minutes}"}


def must_be_whole(values: Values, product: Product, wrong: Mapping[str, str]) -> dict[str, str]:
    """What is wrong with the form as it would be written down: nothing may be missing."""
    found = dict(wrong)
    if not values["made"]:
        found["made"] = t("log.made_missing")
    if product.cook is None and not any(values[f"mixed-lot-{n}"] for n in MIXED):
        found["mixed-amount-1"] = t("log.mixed_missing")
    known = shop().desk.catalogue.ingredients
    for n in OTHERS:
        key = values[f"other-{n}"]
        if key and key not in known:
            unknown = BadInput(say("use ingredient '{key}'", key=key), say("it is not known"))
            found[f"other-{n}"] = words().said(unknown)
        elif values[f"other-amount-{n}"] and not key:
            found[f"other-{n}"] = t("log.other_missing")
    return found


def moment_of(values: Values) -> datetime | None:
    """When the batch was made; None for just now. A time alone is today."""
    day, clock = values["at-day"], values["at-clock"]
    settings = shop().desk.settings
    if day and clock:
        return parse_moment(f"{day} {clock}", settings.zone)
    if day:
        raise BadInput(
            say("note it for {date}", date=day),
            say("the time is missing"),
            say("Write it as 04:10"),
        )
    if not clock:
        return None
    return clock_on(
        shop().desk.today(), parse_clock(clock), settings.shop.day_starts, settings.zone
    )


def changed(values: Values, before: Values) -> Values:
    """Only what differs from ``before``; the rest empty, which leaves it as it was."""
    names = {name for name, text in values.items() if text and text != before.get(name, "")}
    for group in TOGETHER:
        if names & group:
            names |= group
    return {name: text if name in names else "" for name, text in values.items()}
