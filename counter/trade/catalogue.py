"""Products, portions, toppings, recipes and ingredients: what the shop makes and sells."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Literal, TypeVar

import msgspec

from counter.errors import NotFound
from counter.trade.dates import DateKind, DayOne, Held, Keeping

Unit = Literal["piece", "ml", "g"]
Shape = Literal["rectangle", "cylinder", "tapered", "other", "top"]
SubIngredients = Literal["brackets", "dispersed"]
_T = TypeVar("_T")


class Part(msgspec.Struct, frozen=True):
    """So many grams of one ingredient; ``written`` is the amount as somebody wrote it."""

    ingredient: str
    grams: Decimal
    written: str = ""


class Ingredient(msgspec.Struct, frozen=True):
    """Something that goes into a batch; with ``parts`` it is a recipe of its own (a syrup).

    ``density`` is in grams a millilitre, for ingredients that are measured by volume.
    ``allergens`` are source keys such as ``soy``, ``wheat``, ``tree-nut:almond``. ``quid``: an EU
    label gives its percentage (1169/2011 Art. 22). ``allergens_none``: sources that its name says
    and that are not in it, each with a word why (highly refined oil, 21 USC 321(qq)).
    """

    key: str
    name: str
    second_name: str = ""
    allergens: tuple[str, ...] = ()
    water: bool = False
    coagulant: bool = False
    processing_aid: bool = False
    density: Decimal | None = None
    parts: tuple[Part, ...] = ()
    quid: bool = False
    allergens_none: dict[str, str] = {}


class Break(msgspec.Struct, frozen=True):
    """A price for several: ``quantity`` of them cost ``price`` together."""

    quantity: int
    price: int


class Portion(msgspec.Struct, frozen=True):
    """A way a product is sold. It draws ``draws`` pieces or millilitres from a lot.

    ``price`` is in minor units for one, or for one ``per`` (``kg``, ``lb``) when sold by weight.
    ``off``: not sold for the time being.
    """

    key: str
    product: str
    name: str
    draws: int
    price: int
    per: str = ""
    breaks: tuple[Break, ...] = ()
    last_day_price: int | None = None
    tax: str = ""
    toppings: tuple[str, ...] = ()
    off: bool = False


class Topping(msgspec.Struct, frozen=True):
    """What goes on a cup; ``price`` 0 when it is free. ``ingredient`` says what is in it."""

    key: str
    name: str
    price: int = 0
    ingredient: str = ""


class Range(msgspec.Struct, frozen=True):
    """The usual range of a figure of the log; outside of it the log warns."""

    least: Decimal
    most: Decimal


class Cooking(msgspec.Struct, frozen=True):
    """What counts as cooked for this product. 95 °C for 5 minutes: common practice, no source."""

    celsius: Decimal = Decimal(95)
    minutes: int = 5


class Pack(msgspec.Struct, frozen=True):
    """What its label needs beside the batch. ``net`` and ``drained`` as written, "14 oz".

    ``shape`` and ``panel_mm`` give the package's principal display panel: width and height of a
    rectangle, height and circumference of a cylinder; see ``labels.facts.Panel``. ``item`` names
    the product in the number of the symbol ``weighed``. ``percent_clause`` is the threshold of the
    US list's ending ("2"); ``sub_ingredients`` says how it lists what a compound is made of.
    ``low_bars`` allows bars lower than the standard asks where the blank has no room for them.
    ``storage`` are its own storage words, ``-`` for none. ``beverage``: it is one in the sense of
    California Public Resources Code 14504, and its best-by date may be a short ``BB``.
    """

    net: str = ""
    drained: str = ""
    blank: str = ""
    symbols: tuple[str, ...] = ("lot",)
    number: str = ""
    item: str = ""
    shape: Shape = "rectangle"
    panel_mm: tuple[Decimal, ...] = ()
    storage: str = ""
    handling: str = ""
    e_mark: bool = False
    percent_clause: str = ""
    sub_ingredients: SubIngredients = "brackets"
    low_bars: bool = False
    beverage: bool = False


class Product(msgspec.Struct, frozen=True):
    """What is made and sold. Stock is kept in whole ``unit``: pieces, millilitres or grams.

    ``mould`` is how much one mould or tub makes. ``recipe`` is for ``recipe_makes`` of the unit.
    ``cook`` is None for products made from food that is already cooked (smoked blocks).
    ``cost`` is the cost of one ``mould`` in minor units, for waste in money and the plan.
    ``place`` is the cold place where a new batch lies; "" is the shop's first one.
    ``allergens_none`` as for an ingredient. ``may_contain``: source keys of what may get into it.
    """

    key: str
    name: str
    unit: Unit
    keeps: int
    second_name: str = ""
    day_one: DayOne = "made"
    date: DateKind = "best-by"
    held: Held = "cold"
    study: str = ""
    tub: bool = False
    cook: Cooking | None = Cooking()
    cooled: bool = True
    mould: int = 1
    cost: int = 0
    recipe: tuple[Part, ...] = ()
    recipe_makes: int = 1
    usual: dict[str, Range] = {}
    pack: Pack = Pack()
    allergens_none: dict[str, str] = {}
    may_contain: tuple[str, ...] = ()
    place: str = ""

    @property
    def unwrapped(self) -> bool:
        """Whether it lies there without a label: of what has one, net weight or face are known."""
        return not (self.tub or self.pack.net or self.pack.panel_mm)

    @property
    def keeping(self) -> Keeping:
        return Keeping(self.keeps, self.day_one, self.date, self.held, self.study)


class Person(msgspec.Struct, frozen=True):
    """Somebody who works here. ``pin`` is a salted slow hash, never the PIN itself."""

    key: str
    name: str
    role: Literal["counter", "maker", "owner"] = "counter"
    pin: str = ""


class Catalogue(msgspec.Struct, frozen=True):
    """The whole catalogue as it stood at one time. A new one never changes what was sold.

    ``may_contain``: source keys of what is about in the kitchen and may get into all of it.
    ``since`` is the calendar date from which it holds; None: from when it was put to use. ``by``
    is who put it to use.
    """

    products: dict[str, Product] = {}
    portions: dict[str, Portion] = {}
    toppings: dict[str, Topping] = {}
    ingredients: dict[str, Ingredient] = {}
    staff: dict[str, Person] = {}
    may_contain: tuple[str, ...] = ()
    since: date | None = None
    by: str = ""

    def product(self, key: str, tried: str = "") -> Product:
        return _look_up(self.products, "product", key, tried)

    def portion(self, key: str, tried: str = "") -> Portion:
        return _look_up(self.portions, "portion", key, tried)

    def portion_named(self, name: str) -> Portion | None:
        """The portion that is called so, whatever its capital letters; None for no such name."""
        wanted = name.strip().casefold()
        return next((p for p in self.portions.values() if p.name.casefold() == wanted), None)

    def topping(self, key: str, tried: str = "") -> Topping:
        return _look_up(self.toppings, "topping", key, tried)

    def ingredient(self, key: str, tried: str = "") -> Ingredient:
        return _look_up(self.ingredients, "ingredient", key, tried)

    @property
    def coagulants(self) -> frozenset[str]:
        return frozenset(i.key for i in self.ingredients.values() if i.coagulant)

    def portions_of(self, product: str) -> tuple[Portion, ...]:
        """The portions a product is sold as now, without those switched off."""
        return tuple(p for p in self.portions.values() if p.product == product and not p.off)

    def pack_portion(self, product: str) -> Portion | None:
        """The portion a scanned pack of this product is sold as: one piece, or by weight."""
        for portion in self.portions_of(product):
            if portion.draws == 1 or portion.per:
                return portion
        own = self.portions_of(product)
        return own[0] if own else None

    def with_parts(self, ingredient: str) -> tuple[str, ...]:
        """An ingredient and all that is in it, each once; not what has left the catalogue."""
        seen: dict[str, None] = {}

        def walk(key: str) -> None:
            if key in self.ingredients and key not in seen:
                seen[key] = None
                for part in self.ingredients[key].parts:
                    walk(part.ingredient)

        walk(ingredient)
        return tuple(seen)

    def allergens_of(self, ingredient: str) -> tuple[str, ...]:
        """Source keys of an ingredient and of all that is in it, each once, in order."""
        keys = (a for key in self.with_parts(ingredient) for a in self.ingredients[key].allergens)
        return tuple(dict.fromkeys(keys))

    def may_contain_of(self, product: str) -> tuple[str, ...]:
        """Source keys of what may get into a product: its own, and those of the kitchen."""
        item = self.products.get(product)
        return tuple(dict.fromkeys((*(item.may_contain if item else ()), *self.may_contain)))


def _look_up(table: dict[str, _T], kind: str, key: str, tried: str) -> _T:
    if key in table:
        return table[key]
    raise NotFound(tried or f"use {kind} '{key}'", kind, key, table)
