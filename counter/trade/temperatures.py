"""Temperatures of the places that hold food: fridge, freezer, display, hot well.

Source: FDA Food Code 3-501.16(A): food that needs it is held at 57 °C / 135 °F or above, or at 5 °C
/ 41 °F or below. 3-403.11: reheated for hot holding to 74 °C / 165 °F within 2 hours (this one from
memory). A freezer keeps -18 °C / 0 °F or below: the EU's figure for quick-frozen food (Directive
89/108/EEC), common practice elsewhere; frozen food stays frozen (3-501.11). How often to measure is
for the shop's own plan and the local food code; a log helps to show it and is no permit.

A thermometer for food is right to 1 °C where it is used (4-203.11, number from memory; 2 °F where
it has no °C) and checked as often as it needs (4-502.11(B)). Ice water at 0 °C and boiling water at
100 °C by the sea, about 1 °C less every 300 m up, as its measure are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Literal, assert_never

import msgspec

from counter.errors import BadInput, NotFound, Refused
from counter.trade.tubs import HOT, Mode, allowed, holds
from labels.say import NOTHING, Said, figure, say

PlaceKind = Literal["cold", "hot", "freezer", "room"]
"""How a place holds its food; ``room`` is one that is not chilled."""
FROZEN = Decimal("-17.78")  # 0 °F; -18 °C is colder, so either reading passes
COLDEST, HOTTEST = Decimal(-40), Decimal(120)  # below and above it the thermometer is wrong


Water = Literal["ice", "boiling"]
SHOWS: dict[Water, Decimal] = {"ice": Decimal(0), "boiling": Decimal(100)}
TRUE_WITHIN = Decimal(1)  # °C, also for one that shows °F only: the stricter of the two


class ThermometerCheck(msgspec.Struct, frozen=True, kw_only=True):
    """What a thermometer showed in water of which the temperature is known."""

    thermometer: str
    water: Water
    celsius: Decimal
    at: datetime
    ok: bool
    note: str = ""
    by: str = ""


class Temperature(msgspec.Struct, frozen=True, kw_only=True):
    """What a place measured. ``ok`` is the verdict by the rule of that day."""

    place: str
    hot: bool
    celsius: Decimal
    at: datetime
    ok: bool
    note: Said = NOTHING
    by: str = ""
    freezer: bool = False

    @property
    def limit(self) -> Said:
        """What the place must keep, in words."""
        return limit_of(self.hot, self.freezer)

    @property
    def safe(self) -> bool:
        """Whether food that is not frozen could lie there: a freezer that is only cold is no
        danger yet."""
        return holds("hot" if self.hot else "cold", self.celsius)


def held_as(kind: PlaceKind) -> Mode:
    """What holds for food in such a place: hot, cold (frozen food, too), or by its time alone."""
    match kind:
        case "hot":
            return "hot"
        case "cold" | "freezer":
            return "cold"
        case "room":
            return "time"
        case _:
            assert_never(kind)


def limit_of(hot: bool, freezer: bool) -> Said:
    return say("-18 °C / 0 °F or below") if freezer else allowed("hot" if hot else "cold")


def read_place(text: str, places: Mapping[str, PlaceKind], tried: Said) -> tuple[str, PlaceKind]:
    """The name of a place as the shop writes it, and how it holds its food.

    Small and capital letters are the same. NotFound with near matches for a place nobody set up.
    """
    word = " ".join(text.split())
    for name, how in places.items():
        if name.casefold() == word.casefold():
            return name, how
    do = say("Known are {names}; add others under [holding] in shop.toml", names=", ".join(places))
    raise NotFound(tried, "place", word, places, do)


def measured(
    place: str, kind: PlaceKind, celsius: Decimal, at: datetime, note: str = "", by: str = ""
) -> Temperature:
    """A reading with its verdict. BadInput for what no place in a kitchen shows; Refused for a
    place that keeps nothing cold or hot."""
    if kind == "room":
        tried = say("note a temperature of {place}", place=place)
        why = say("it is not chilled: what lies there has 4 hours, whatever it shows")
        raise Refused(tried, why, say("Measure the food when it is moved"))
    if not COLDEST <= celsius <= HOTTEST:
        tried = say("note {amount} °C for {name}", amount=figure(celsius), name=place)
        why = say("a place that holds food shows {least} to {most} °C", least=COLDEST, most=HOTTEST)
        raise BadInput(tried, why, say("Read the thermometer again"))
    hot, freezer = kind == "hot", kind == "freezer"
    ok = celsius <= FROZEN if freezer else holds(held_as(kind), celsius)
    return Temperature(
        place=place,
        hot=hot,
        celsius=celsius,
        at=at,
        ok=ok,
        note=Said(" ".join(note.split())[:200]),
        by=by,
        freezer=freezer,
    )


def checked(
    name: str, water: Water, celsius: Decimal, at: datetime, note: str = "", by: str = ""
) -> ThermometerCheck:
    """A check of a thermometer with its verdict. BadInput for one without a name."""
    thermometer = " ".join(name.split())[:60]
    if not thermometer:
        do = say("Name it, such as probe 1")
        raise BadInput(say("note the check of a thermometer"), say("it has no name"), do)
    ok = abs(celsius - SHOWS[water]) <= TRUE_WITHIN
    return ThermometerCheck(
        thermometer=thermometer,
        water=water,
        celsius=celsius,
        at=at,
        ok=ok,
        note=Said(" ".join(note.split())[:200]),
        by=by,
    )


def what_is_wrong(check: ThermometerCheck) -> Said:
    """What a thermometer that is not right asks for, or ""."""
    if check.ok:
        return NOTHING
    return say(
        "{thermometer} is more than {most} °C off. Set it right or take another one,"
        " and check it again; what it measured since its last check is in doubt. High above the sea"
        " water boils below 100 °C: use ice water there."
        " The local food code and the inspector decide.",
        thermometer=check.thermometer,
        most=TRUE_WITHIN,
    )


def what_to_do(reading: Temperature) -> Said:
    """What a reading out of its limits asks for, or ""."""
    if reading.ok:
        return NOTHING
    if reading.hot:
        first = say("Measure the food itself and heat it to 74 °C / 165 °F within 2 hours")
    else:
        first = say("Measure the food itself and bring it to a place that is cold")
    if not reading.hot and reading.celsius >= HOT:
        first = say("Check that the right place was written down, then measure the food itself")
    if reading.freezer and reading.safe:
        first = say("See whether the food is frozen still, and move what thaws to a fridge")
    return say(
        "{place} must keep {limit}. {first}; throw away what may have been out"
        " of it for more than 4 hours. Measure again, and note what was done."
        " The local food code and the inspector decide.",
        place=reading.place,
        limit=reading.limit,
        first=first,
    )
