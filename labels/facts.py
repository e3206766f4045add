"""What is to be said on a pack: plain values, no wording of the law, no layout.

Lengths are millimetres, masses grams, volumes millilitres, all as Decimal. A value that could
never stand on a label (a negative mass, a side of zero) cannot be made: BadValue.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Literal

import msgspec

from labels.allergens import check_source
from labels.checks import shown
from labels.errors import BadValue
from labels.say import figure, join, say, term
from labels.symbols import Symbol
from labels.units import MOST, parse_measure

MOST_DEEP = 20  # of ingredients within one another
MOST_WITHIN = 500  # of ingredients side by side in one of them
SQUARE_INCH = Decimal("25.4") ** 2


class Ingredient(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing that went in. ``parts`` make it a compound (soy sauce: water, soybeans, wheat).

    ``allergens`` are source keys (``"soy"``, ``"tree-nut:almond"``, ``"fish:cod"``). ``quid`` asks
    for its percentage (EU Art. 22), ``aid`` marks a processing aid, which is not listed.
    ``allergens_none`` are sources that its name says and that somebody said are not in it.
    """

    name: str
    grams: Decimal = Decimal(0)
    second: str = ""
    parts: tuple[Ingredient, ...] = ()
    allergens: tuple[str, ...] = ()
    water: bool = False
    quid: bool = False
    aid: bool = False
    allergens_none: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _say_something("ingredient", self.name)
        if self.second:
            _say_something("ingredient", self.second)
        _not_below_zero(self.grams, self.name)
        for key in self.allergens:
            check_source(key, self.name)
        deep, within = 0, self.parts
        while within:
            deep, within = deep + 1, tuple(part for item in within for part in item.parts)
            if deep > MOST_DEEP:
                why = say("ingredients lie in it, one in another, more than {n} deep", n=MOST_DEEP)
                do = say("Write its recipe flatter")
            elif len(within) > MOST_WITHIN:
                why = say("more than {n} ingredients lie in it", n=MOST_WITHIN)
                do = say("Write its recipe shorter")
            else:
                continue
            raise BadValue(say("list '{name}'", name=self.name), why, do)

    def all_allergens(self) -> tuple[str, ...]:
        """Its own source keys and those of its parts, each once, in order of appearance."""
        found = [*self.allergens, *(k for part in self.parts for k in part.all_allergens())]
        return tuple(dict.fromkeys(found))


class Maker(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Who answers for the food. ``in_directory``: listed in a current city directory, so that the
    street may be left out (21 CFR 101.5(c)). ``phrase``: "Distributed by", if not the maker."""

    name: str
    street: str = ""
    city: str = ""
    state: str = ""
    zip: str = ""
    country: str = ""
    phone: str = ""
    in_directory: bool = False
    phrase: str = ""

    def __post_init__(self) -> None:
        _say_something("maker", self.name)


class RandomWeight(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A pack from a lot without a fixed weight: price per lb or kg and total price.

    Both are already written as money ("$4.99"), for labels does no arithmetic with money.
    """

    unit_price: str
    total_price: str
    per: Literal["lb", "kg"] = "lb"

    def __post_init__(self) -> None:
        _say_something("price per unit", self.unit_price)
        _say_something("total price", self.total_price)


class NetQuantity(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How much is in the pack: a mass, a volume or a count, the last also beside one of the first.

    ``drained`` is the mass without the water a block lies in. ``count_text`` is how the count is
    said ("6 pieces").
    """

    grams: Decimal | None = None
    ml: Decimal | None = None
    count: int | None = None
    count_text: str = ""
    drained: Decimal | None = None
    random: RandomWeight | None = None

    def __post_init__(self) -> None:
        if self.grams is not None and self.ml is not None:
            raise BadValue(say("state the net quantity"), say("both a mass and a volume are given"))
        if self.grams is None and self.ml is None and self.count is None:
            raise BadValue(say("state the net quantity"), say("no mass, volume or count is given"))
        for value in (self.grams, self.ml, self.count, self.drained):
            if value is None:
                continue
            if not (Decimal(value).is_finite() and value > 0):
                why = say("it is not above zero")
            elif value >= MOST:
                why = say("no such amount is weighed or measured")
            else:
                continue
            amount = figure(shown(f"{value}"))
            raise BadValue(say("state the net quantity {amount}", amount=amount), why)
        if self.drained is not None and (self.grams is None or self.drained > self.grams):
            why = say("it is not part of a larger net weight")
            raise BadValue(say("state the drained weight {amount} g", amount=self.drained), why)
        if self.random is not None and self.grams is None:
            raise BadValue(say("state a random weight"), say("the mass is missing"))

    @classmethod
    def of(cls, text: str) -> NetQuantity:
        """From a mass or volume as people write it: ``NetQuantity.of("14 oz")``."""
        measure = parse_measure(text)
        if measure.kind == "mass":
            return cls(grams=measure.base)
        return cls(ml=measure.base)


class DateMark(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """``best-by`` speaks of quality, ``use-by`` of safety; which of them, the maker decides."""

    kind: Literal["best-by", "use-by"]
    day: date


_MEASURES = {
    "rectangle": ("width", "height"),
    "cylinder": ("height", "circumference"),
    "tapered": ("height", "greatest circumference", "least circumference"),
    "other": ("total surface in mm²",),
    "top": ("area in mm²",),
}


class Panel(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The shape of the package, for the area of its principal display panel (21 CFR 101.1).

    ``mm`` holds, by ``shape``: rectangle (width, height); cylinder (height, circumference);
    tapered cup (height, greatest, least circumference); other (total surface, mm²); top (the
    whole of an obvious panel, mm²).
    """

    shape: Literal["rectangle", "cylinder", "tapered", "other", "top"]
    mm: tuple[Decimal, ...]

    def __post_init__(self) -> None:
        names = _MEASURES[self.shape]
        if len(self.mm) != len(names):
            tried = say("measure a {shape} panel by {n} numbers", shape=self.shape, n=len(self.mm))
            why = say("it takes {n}: {names}", n=len(names), names=join(", ", map(term, names)))
            raise BadValue(tried, why)
        for name, value in zip(names, self.mm, strict=True):
            if not (value.is_finite() and value > 0):
                tried = say("measure the panel's {side} as {amount}", side=term(name), amount=value)
                raise BadValue(tried, say("it is not above zero"))

    @property
    def area_mm2(self) -> Decimal:
        """Area of the principal display panel. 40 % of height x circumference for round ones."""
        mm, forty = self.mm, Decimal("0.4")
        if self.shape == "rectangle":
            return mm[0] * mm[1]
        if self.shape == "cylinder":
            return forty * mm[0] * mm[1]
        if self.shape == "tapered":  # common practice: the mean of the two circumferences
            return forty * mm[0] * (mm[1] + mm[2]) / 2
        return mm[0] if self.shape == "top" else forty * mm[0]

    @property
    def area_in2(self) -> Decimal:
        """The same in square inches, the unit of 21 CFR 101.7(i)."""
        return self.area_mm2 / SQUARE_INCH

    @property
    def largest_cm2(self) -> Decimal | None:
        """The largest surface in square centimetres (EU 1169/2011 Art. 13(3), 16(2)), or None.

        It decides what may be smaller, so in doubt it is taken large: of a round pack the whole
        lateral surface counts, of ``other`` half of all there is (a flat bag). Of ``top`` only a
        part of the pack is known.
        """
        mm = self.mm
        if self.shape == "top":
            return None
        if self.shape == "cylinder":
            return mm[0] * mm[1] / 100
        if self.shape == "tapered":
            return mm[0] * (mm[1] + mm[2]) / 200
        return (mm[0] / 2 if self.shape == "other" else self.area_mm2) / 100


class Facts(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that one label says. What the market asks for and is missing here is refused later.

    ``storage`` None means the market's usual words for how it is ``held``; an empty text means
    that nothing is said. ``frozen_on`` is the day it was frozen, of what is held so; ``thawed``
    means that it was frozen and no longer is. ``may_contain`` are source keys of what may have got
    into it. ``beverage``: it is one in the sense of the law that lets it bear the short date words.
    ``finished`` is the mass of what the ingredients became. ``percent_clause`` asks for the
    "Contains 2% or less of" ending of the US list (2, 1.5, 1 or 0.5). ``disperse`` spreads the
    parts of compounds through the US list instead of naming the compound. ``second_language`` is
    the code of the second names ("es"). ``low_bars`` allows bars lower than the standard asks, down
    to 5 mm, where the label does not fit otherwise; the label then says what that gives up.
    ``allergens_none`` as for an ingredient.
    """

    name: str
    form: str = ""
    second_name: str = ""
    second_language: str = ""
    ingredients: tuple[Ingredient, ...] = ()
    percent_clause: Decimal | None = None
    disperse: bool = False
    finished: Decimal | None = None
    net: NetQuantity | None = None
    e_mark: bool = False
    date_mark: DateMark | None = None
    packed: date | None = None
    lot: str = ""
    maker: Maker | None = None
    storage: str | None = None
    handling: str = ""
    panel: Panel | None = None
    symbols: tuple[Symbol, ...] = ()
    low_bars: bool = False
    logo: str = ""
    held: Literal["cold", "frozen", "room"] = "cold"
    frozen_on: date | None = None
    thawed: bool = False
    may_contain: tuple[str, ...] = ()
    beverage: bool = False
    allergens_none: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _say_something("product", self.name)
        if self.second_name:
            _say_something("product", self.second_name)
        for key in self.may_contain:
            check_source(key, self.name)
        if self.thawed and self.held == "frozen":
            tried = say("label '{name}' as thawed", name=self.name)
            raise BadValue(tried, say("it is held frozen"))
        if self.finished is not None:
            _not_below_zero(self.finished)

    def sources(self) -> tuple[str, ...]:
        """Every allergen source key of the ingredients, processing aids included, each once."""
        keys = [k for ingredient in self.ingredients for k in ingredient.all_allergens()]
        return tuple(dict.fromkeys(keys))

    def may_contain_too(self) -> tuple[str, ...]:
        """The source keys of ``may_contain`` that are not in it for certain, each once."""
        there = self.sources()
        return tuple(dict.fromkeys(k for k in self.may_contain if k not in there))


def _say_something(what: str, text: str) -> None:
    if not text.strip():
        tried = say("name a {what} '{text}'", what=term(what), text=text)
        raise BadValue(tried, say("there is nothing to read in it"))


def _not_below_zero(grams: Decimal, ingredient: str = "") -> None:
    if not Decimal(grams).is_finite() or grams < 0:
        why = say("it is not a weight of zero or more")
    elif grams >= MOST * 1000:
        why = say("no such amount is weighed or measured")
    else:
        return
    amount = figure(shown(f"{grams}"))
    tried = say("weigh finished weight at {amount} g", amount=amount)
    if ingredient:
        tried = say("weigh ingredient '{name}' at {amount} g", name=ingredient, amount=amount)
    raise BadValue(tried, why)
