"""Products, portions, toppings, recipes and ingredients: what the shop makes and sells."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal, TypeVar

import msgspec

from counter.errors import NotFound
from counter.trade.dates import DateKind, DayOne, Held, Keeping
from counter.trade.schema import key
from labels.say import NOTHING, Said, say, term

Unit = Literal["piece", "ml", "g"]
Shape = Literal["rectangle", "cylinder", "tapered", "other", "top"]
SubIngredients = Literal["brackets", "dispersed"]
Symbols = tuple[Literal["lot", "item", "gs1", "link", "weighed"], ...]
Role = Literal["counter", "maker", "owner"]
_T = TypeVar("_T")


class Part(msgspec.Struct, frozen=True):
    """So many grams of one ingredient; ``written`` is the amount as somebody wrote it."""

    ingredient: str
    grams: Decimal
    written: str = ""


# fmt: off
# Each key stays together: its type, its words, and its form in the file.


class Ingredient(msgspec.Struct, frozen=True):
    """Something that goes into a batch; with ``parts`` it is a recipe of its own (a syrup).

    ``quid``: Regulation (EU) 1169/2011 Art. 22. ``allergens_none``: highly refined oil, 21 USC
    321(qq).
    """

    key: str
    name: Annotated[str, key("its name on labels")]
    second_name: Annotated[str, key("its name in the labels' second language")] = ""
    allergens: Annotated[tuple[str, ...], key('source keys, as "soy" or "tree-nut:almond"',
        "sources")] = ()
    water: Annotated[bool, key("whether it is water")] = False
    coagulant: Annotated[bool, key("whether it curdles the milk")] = False
    processing_aid: Annotated[bool, key("whether no list of ingredients names it")] = False
    density: Annotated[Decimal | None, key("grams a millilitre, of what is measured by volume",
        "density", always=True)] = None
    parts: Annotated[tuple[Part, ...], key("what it is made of itself", "recipe",
        file="recipe")] = ()
    quid: Annotated[bool, key("whether an EU label gives its percentage")] = False
    allergens_none: Annotated[dict[str, str],
        key("sources that its name says and that are not in it", "none")] = {}


class Break(msgspec.Struct, frozen=True):
    """A price for several."""

    quantity: Annotated[int, key("how many of them")]
    price: Annotated[int, key("what they cost together", "money")]


class Portion(msgspec.Struct, frozen=True):
    """A way a product is sold. It draws ``draws`` pieces or millilitres from a lot; prices are in
    minor units."""

    key: str
    product: Annotated[str, key("the product's key", "known")]
    name: Annotated[str, key("what it is called at the counter")]
    draws: Annotated[int, key("how much of the product one takes", "draws", always=True)]
    price: Annotated[int, key("of one, or of one kg or lb", "money")]
    per: Annotated[Literal["", "kg", "lb"], key("the unit of a price by weight")] = ""
    breaks: Annotated[tuple[Break, ...], key("prices for several")] = ()
    last_day_price: Annotated[int | None, key("the price on the last day of a lot", "money")] = None
    tax: Annotated[str, key("its tax class", "known", kind="tax class")] = ""
    toppings: Annotated[tuple[str, ...], key("keys of what may go on it", "known_list")] = ()
    off: Annotated[bool, key("whether it is not sold for the time being")] = False


class Topping(msgspec.Struct, frozen=True):
    """What goes on a cup; ``price`` is in minor units, 0 when it is free."""

    key: str
    name: Annotated[str, key("what it is called at the counter")]
    price: Annotated[int, key("of one; free where none is written", "money")] = 0
    ingredient: Annotated[str, key("the ingredient that is in it", "known")] = ""


class Range(msgspec.Struct, frozen=True):
    """The usual range of a figure of the log; outside of it the log warns."""

    least: Decimal
    most: Decimal


class Cooking(msgspec.Struct, frozen=True):
    """What counts as cooked for this product. 95 °C for 5 minutes: common practice, no source."""

    celsius: Annotated[Decimal, key("the least temperature", "temperature", file="temperature",
        always=True)] = Decimal(95)
    minutes: Annotated[int, key("for so long", always=True)] = 5


class Pack(msgspec.Struct, frozen=True):
    """What its label needs beside the batch. ``shape`` and ``panel_mm`` give the package's
    principal display panel; see ``labels.facts.Panel``. ``beverage``: California Public Resources
    Code 14504."""

    net: Annotated[str, key("net quantity", "quantity")] = ""
    drained: Annotated[str, key("drained weight", "quantity")] = ""
    blank: Annotated[str, key("the blank it is printed on; else the shop's")] = ""
    symbols: Annotated[Symbols, key("which bar codes stand on it")] = ("lot",)
    number: Annotated[str, key("the GTIN of the product")] = ""
    item: Annotated[str, key("the product in the number of the symbol weighed")] = ""
    shape: Annotated[Shape, key("shape of the face it is read on")] = "rectangle"
    panel_mm: Annotated[tuple[Decimal, ...],
        key("width and height of a rectangle, height and circumference of a cylinder")] = ()
    storage: Annotated[str, key("its own storage words, - for none")] = ""
    handling: Annotated[str, key("words on handling")] = ""
    e_mark: Annotated[bool, key("the e mark of the EU (76/211/EEC)")] = False
    percent_clause: Annotated[Literal["", "2", "1.5", "1", "0.5"],
        key("threshold of the ending of a US list (21 CFR 101.4(a)(2))")] = ""
    sub_ingredients: Annotated[SubIngredients,
        key("how the list says what a compound is made of")] = "brackets"
    low_bars: Annotated[bool, key("bars lower than the standard where there is no room")] = False
    beverage: Annotated[bool, key("a beverage in California: its date may be a short BB")] = False


class Product(msgspec.Struct, frozen=True):
    """What is made and sold. Stock is kept in whole ``unit``: pieces, millilitres or grams.

    ``recipe`` is for ``recipe_makes`` of the unit. ``cook`` is None for what is made from food
    that is already cooked (smoked blocks). ``cost`` is in minor units, for waste in money and the
    plan.
    """

    key: str
    name: Annotated[str, key("its name on labels")]
    unit: Annotated[Unit, key("what it is counted in", usual="piece")]
    keeps: Annotated[int, key("how many days it keeps")]
    second_name: Annotated[str, key("its name in the labels' second language")] = ""
    day_one: Annotated[DayOne, key("the day that is counted as the first")] = "made"
    date: Annotated[DateKind, key("the kind of its date; needed in market eu", "date",
        always=True)] = "best-by"
    held: Annotated[Held, key("how it is kept")] = "cold"
    study: Annotated[str, key("the study or reason for a longer time")] = ""
    tub: Annotated[bool, key("whether it is sold from a tub")] = False
    cook: Annotated[Cooking | None, key("what counts as cooked; false for what is not cooked",
        always=True)] = Cooking()
    cooled: Annotated[bool, key("whether its cooling is noted")] = True
    mould: Annotated[int, key("how much one mould or tub makes", "amount", always=True)] = 1
    cost: Annotated[int, key("of one mould", "money")] = 0
    recipe: Annotated[tuple[Part, ...], key("ingredients and how much", "recipe")] = ()
    recipe_makes: Annotated[int, key("what the recipe makes; else one mould", "makes",
        always=True)] = 1
    usual: Annotated[dict[str, Range], key("usual figures of the log, from less to more",
        "usual")] = {}
    pack: Annotated[Pack, key("what its label needs beside the batch", file="label")] = Pack()
    allergens_none: Annotated[dict[str, str],
        key("sources that its name says and that are not in it", "none")] = {}
    may_contain: Annotated[tuple[str, ...], key("source keys of what may get into it",
        "sources")] = ()
    place: Annotated[str, key("where a new batch lies; else the first cold place")] = ""

    @property
    def unwrapped(self) -> bool:
        """Whether it lies there without a label: of what has one, net weight or face are known."""
        return not (self.tub or self.pack.net or self.pack.panel_mm)

    @property
    def keeping(self) -> Keeping:
        return Keeping(self.keeps, self.day_one, self.date, self.held, self.study)

# fmt: on


class Person(msgspec.Struct, frozen=True):
    """Somebody who works here. ``pin`` is a salted slow hash, never the PIN itself."""

    key: str
    name: Annotated[str, key("as it stands in records")]
    role: Annotated[Role, key("what this person may do")] = "counter"
    pin: str = ""


class Catalogue(msgspec.Struct, frozen=True):
    """The whole catalogue as it stood at one time. A new one never changes what was sold.

    ``may_contain``: source keys of what is about in the kitchen and may get into all of it.
    ``since`` is the calendar date from which it holds; None: from when it was put to use. ``by``
    is who put it to use.
    """

    products: Annotated[dict[str, Product], key("what is made and sold")] = {}
    portions: Annotated[dict[str, Portion], key("how it is sold")] = {}
    toppings: Annotated[dict[str, Topping], key("what goes on a cup")] = {}
    ingredients: Annotated[dict[str, Ingredient], key("what goes into a batch")] = {}
    staff: Annotated[dict[str, Person], key("who works here")] = {}
    may_contain: Annotated[
        tuple[str, ...], key("what holds of the whole kitchen", "kitchen", file="kitchen")
    ] = ()
    since: date | None = None
    by: str = ""

    def product(self, key: str, tried: Said = NOTHING) -> Product:
        return _look_up(self.products, "product", key, tried)

    def portion(self, key: str, tried: Said = NOTHING) -> Portion:
        return _look_up(self.portions, "portion", key, tried)

    def portion_named(self, name: str) -> Portion | None:
        """The portion that is called so, whatever its capital letters; None for no such name."""
        wanted = name.strip().casefold()
        return next((p for p in self.portions.values() if p.name.casefold() == wanted), None)

    def topping(self, key: str, tried: Said = NOTHING) -> Topping:
        return _look_up(self.toppings, "topping", key, tried)

    def ingredient(self, key: str, tried: Said = NOTHING) -> Ingredient:
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


def _look_up(table: dict[str, _T], kind: str, key: str, tried: Said) -> _T:
    if key in table:
        return table[key]
    raise NotFound(tried or say("use {what} '{text}'", what=term(kind), text=key), kind, key, table)
