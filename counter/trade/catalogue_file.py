"""The catalogue as a TOML file: read, checked whole, and turned into a :class:`Catalogue`.

Amounts stand in it as people write them ("12 oz", "3.50"). One wrong entry refuses the file and
names the entry and its line; the catalogue in use stays as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any, Literal, TypeVar

import msgspec

from counter.errors import BadInput
from counter.trade.allergens import unsaid_in, why_unsaid
from counter.trade.catalogue import (
    Break,
    Catalogue,
    Cooking,
    Ingredient,
    Pack,
    Part,
    Person,
    Portion,
    Product,
    Range,
    Topping,
    Unit,
)
from counter.trade.catalogue_labels import (
    PackEntry,
    market_fault,
    number_fault,
    recipe_fault,
    weighed_fault,
)
from counter.trade.dates import DateKind, DayOne, Held, keeps_fault
from counter.trade.money import parse_money
from counter.trade.production import COLDEST_COOK, HOTTEST_COOK
from counter.trade.settings import Market, bad_entry, read_toml
from counter.trade.units import parse_pressure, parse_temperature
from labels.allergens import SOURCES, check_source
from labels.errors import LabelError
from labels.facts import NetQuantity, Panel
from labels.restricted import Layout
from labels.units import Measure, parse_measure


class _Strict(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    pass


class IngredientEntry(_Strict, frozen=True):
    name: str
    second_name: str = ""
    allergens: tuple[str, ...] = ()
    water: bool = False
    coagulant: bool = False
    processing_aid: bool = False
    density: Decimal | None = None
    quid: bool = False
    recipe: dict[str, str] = {}
    allergens_none: dict[str, str] = {}


class BreakEntry(_Strict, frozen=True):
    quantity: int
    price: str


class PortionEntry(_Strict, frozen=True):
    product: str
    name: str
    price: str
    draws: str = ""
    per: Literal["", "kg", "lb"] = ""
    breaks: tuple[BreakEntry, ...] = ()
    last_day_price: str = ""
    tax: str = ""
    toppings: tuple[str, ...] = ()
    off: bool = False


class ToppingEntry(_Strict, frozen=True):
    name: str
    price: str = "0"
    ingredient: str = ""


class CookEntry(_Strict, frozen=True):
    temperature: str = "95C"
    minutes: int = 5


class ProductEntry(_Strict, frozen=True):
    name: str
    keeps: int
    unit: Unit = "piece"
    second_name: str = ""
    day_one: DayOne = "made"
    date: DateKind | None = None
    held: Held = "cold"
    study: str = ""
    tub: bool = False
    cook: CookEntry | Literal[False] = CookEntry()
    cooled: bool = True
    mould: str = "1"
    cost: str = "0"
    recipe: dict[str, str] = {}
    recipe_makes: str = ""
    usual: dict[str, tuple[str, str]] = {}
    label: PackEntry = PackEntry()
    allergens_none: dict[str, str] = {}
    may_contain: tuple[str, ...] = ()
    place: str = ""


class PersonEntry(_Strict, frozen=True):
    name: str
    role: Literal["counter", "maker", "owner"] = "counter"


class KitchenEntry(_Strict, frozen=True):
    may_contain: tuple[str, ...] = ()


class CatalogueEntries(_Strict, frozen=True):
    ingredients: dict[str, IngredientEntry] = {}
    products: dict[str, ProductEntry] = {}
    portions: dict[str, PortionEntry] = {}
    toppings: dict[str, ToppingEntry] = {}
    staff: dict[str, PersonEntry] = {}
    kitchen: KitchenEntry = KitchenEntry()


_T = TypeVar("_T")

KEY_LETTERS = set("abcdefghijklmnopqrstuvwxyz0123456789-")


def finite(text: str) -> Decimal:
    """A plain number; ``NaN`` and ``Infinity`` are none."""
    number = Decimal(text)
    if not number.is_finite():
        raise InvalidOperation
    return number


USUAL: dict[str, Callable[[str], Decimal]] = {
    "brix": finite,
    "yield": finite,
    "press": parse_pressure,
    "cook": parse_temperature,
}


class _Reader:
    """Turns entries into records; every error is told with the entry's path and line."""

    def __init__(
        self, text: str, file: str, places: int, tax_classes: set[str], market: Market,
        layouts: Sequence[Layout] | None,
    ) -> None:  # fmt: skip
        self.text, self.file, self.places = text, file, places
        self.tax_classes, self.market, self.layouts = tax_classes, market, layouts
        self.entries = read_toml(text, file, CatalogueEntries)
        numbered = [*reversed(self.entries.products.items())]
        self.first_with_item = {p.label.item: key for key, p in numbered}
        self.first_with_number = {p.label.number.lstrip("0"): key for key, p in numbered}

    def bad(self, path: str, why: str) -> BadInput:
        return bad_entry(self.text, self.file, path, why)

    def read(self, path: str, read: Callable[[str], _T], value: str) -> _T:
        try:
            return read(value)
        except (BadInput, LabelError) as error:
            raise self.bad(path, f"'{value}': {error.why}") from None
        except InvalidOperation:
            raise self.bad(path, f"'{value}' is not a number") from None

    def money(self, path: str, value: str) -> int:
        return self.read(path, lambda v: parse_money(v, self.places), value)

    def known(self, path: str, kind: str, key: str, table: dict[str, Any]) -> str:
        if key not in table:
            raise self.bad(path, f"there is no {kind} '{key}'")
        return key

    def amount(self, path: str, value: str, unit: Unit) -> int:
        """A whole amount of a product's unit, from "12", "8 fl oz" or "2 kg"."""
        if unit == "piece":
            whole = value.strip()
            if not (whole.isascii() and whole.isdigit() and 0 < int(whole) < 10**6):
                raise self.bad(path, f"'{value}' is not a number of pieces")
            return int(whole)
        kind: Literal["mass", "volume"] = "volume" if unit == "ml" else "mass"
        measure: Measure = self.read(path, lambda v: parse_measure(v, kind), value)
        if measure.whole < 1:
            raise self.bad(path, f"'{value}' is nothing")
        return measure.whole

    def sources(self, path: str, keys: Sequence[str]) -> tuple[str, ...]:
        """Source keys of allergens, each of them known: a slip would be missing on every label."""
        for key in keys:
            try:
                check_source(key, path)
            except LabelError as error:
                why = f"'{key}': {error.why}; {error.do[0].lower()}{error.do[1:]}"
                raise self.bad(path, why) from None
        return tuple(dict.fromkeys(keys))

    def none(self, path: str, whys: dict[str, str]) -> dict[str, str]:
        """Sources that a name says and that are not in it, each with a word why."""
        for source, why in whys.items():
            if source not in SOURCES:
                raise self.bad(f"{path}.allergens_none", f"'{source}' is none of the sources")
            if len(why.strip()) < 2:
                raise self.bad(f"{path}.allergens_none", f"say in a word why no {source} is in it")
        return whys

    def parts(self, path: str, recipe: dict[str, str]) -> tuple[Part, ...]:
        found = []
        for key, value in recipe.items():
            here = f"{path}.{key}"
            self.known(here, "ingredient", key, self.entries.ingredients)
            measure: Measure = self.read(here, parse_measure, value)
            density = density_of(self.entries.ingredients[key])
            if measure.kind == "volume" and density is None:
                raise self.bad(here, f"'{value}' is a volume: say the ingredient's density")
            grams = measure.base if measure.kind == "mass" else measure.base * (density or 1)
            if not grams:  # no label would name it, nor its allergens
                raise self.bad(here, f"'{value}' is nothing")
            found.append(Part(key, grams, value))
        return tuple(found)

    def ingredient(self, key: str, entry: IngredientEntry) -> Ingredient:
        path = f"ingredients.{key}"
        if entry.density is not None and not (
            entry.density.is_finite() and Decimal("0.1") <= entry.density <= 25
        ):
            why = f"a density of {entry.density} grams a millilitre is none"
            raise self.bad(f"{path}.density", why)
        return Ingredient(
            key, entry.name, entry.second_name, self.sources(f"{path}.allergens", entry.allergens),
            entry.water, entry.coagulant,
            entry.processing_aid, density_of(entry), self.parts(f"{path}.recipe", entry.recipe),
            entry.quid, self.none(path, entry.allergens_none),
        )  # fmt: skip

    def product(self, key: str, entry: ProductEntry) -> Product:
        path = f"products.{key}"
        if why := keeps_fault(entry.keeps, entry.held, entry.study, self.market):
            raise self.bad(f"{path}.keeps", why)
        usual = {}
        for what, (least, most) in entry.usual.items():
            if what not in USUAL:
                raise self.bad(f"{path}.usual", f"'{what}' is none of {', '.join(USUAL)}")
            low, high = (self.read(f"{path}.usual", USUAL[what], v) for v in (least, most))
            if low > high:
                raise self.bad(f"{path}.usual", f"the usual {what} runs from less to more")
            usual[what] = Range(low, high)
        cook = self.cook(f"{path}.cook", entry.cook) if entry.cook else None
        date = entry.date or ("best-by" if self.market == "us" else None)
        if date is None:  # Art. 24: which of them, the maker decides
            raise self.bad(path, 'say date = "best-by" or "use-by" (EU 1169/2011 Art. 24)')
        mould = entry.mould if entry.unit == "piece" or entry.mould != "1" else f"1 {entry.unit}"
        makes = entry.recipe_makes or mould
        return Product(
            key=key, name=entry.name, unit=entry.unit, keeps=entry.keeps,
            second_name=entry.second_name, day_one=entry.day_one, date=date,
            held=entry.held, study=entry.study, tub=entry.tub, cook=cook, cooled=entry.cooled,
            mould=self.amount(f"{path}.mould", mould, entry.unit),
            cost=self.money(f"{path}.cost", entry.cost),
            recipe=self.parts(f"{path}.recipe", entry.recipe),
            recipe_makes=self.amount(f"{path}.recipe_makes", makes, entry.unit),
            usual=usual, pack=self.pack(key, entry.unit, entry.label), place=entry.place,
            allergens_none=self.none(path, entry.allergens_none),
            may_contain=self.sources(f"{path}.may_contain", entry.may_contain),
        )  # fmt: skip

    def cook(self, path: str, entry: CookEntry) -> Cooking:
        celsius = self.read(path, parse_temperature, entry.temperature)
        if not COLDEST_COOK <= celsius <= HOTTEST_COOK:
            why = f"nothing is cooked at {entry.temperature}: {COLDEST_COOK} to {HOTTEST_COOK} °C"
            raise self.bad(path, why)
        if not 1 <= entry.minutes <= 1440:
            raise self.bad(path, "a cook takes from 1 to 1440 minutes")
        return Cooking(celsius, entry.minutes)

    def pack(self, key: str, unit: Unit, entry: PackEntry) -> Pack:
        path = f"products.{key}.label"
        if not all(side.is_finite() and side > 0 for side in entry.panel_mm):
            raise self.bad(f"{path}.panel_mm", "a side is a number of millimetres above 0")
        for what, value in (("net", entry.net), ("drained", entry.drained)):
            if value:
                self.read(f"{path}.{what}", NetQuantity.of, value)
        if entry.panel_mm:
            self.read(f"{path}.panel_mm", lambda _: Panel(entry.shape, entry.panel_mm), entry.shape)
        field, why = number_fault(entry)
        if why:
            raise self.bad(f"{path}.{field}", why)
        first = self.first_with_number[entry.number.lstrip("0")]
        if entry.number and first != key:
            raise self.bad(f"{path}.number", f"number '{entry.number}' is that of {first} already")
        if why := market_fault(entry, self.market):
            raise self.bad(path, why)
        if entry.item and self.first_with_item[entry.item] != key:
            why = f"item '{entry.item}' is that of {self.first_with_item[entry.item]} already"
            raise self.bad(path, why)
        by_weight = any(p.product == key and p.per for p in self.entries.portions.values())
        if why := weighed_fault(entry, unit, by_weight, self.layouts):
            raise self.bad(path, why)
        return Pack(**msgspec.structs.asdict(entry))

    def portion(self, key: str, entry: PortionEntry) -> Portion:
        path = f"portions.{key}"
        self.known(f"{path}.product", "product", entry.product, self.entries.products)
        product = self.entries.products[entry.product]
        if entry.tax:
            self.known(f"{path}.tax", "tax class", entry.tax, dict.fromkeys(self.tax_classes))
        for topping in entry.toppings:
            self.known(f"{path}.toppings", "topping", topping, self.entries.toppings)
        if entry.per and product.unit != "g":
            raise self.bad(f"{path}.per", "only a product kept in grams is sold by weight")
        if product.tub and not entry.draws:
            raise self.bad(f"{path}.draws", "a cup needs the volume it draws")
        draws = 0 if entry.per else self.amount(
            f"{path}.draws", entry.draws or "1", product.unit
        )  # fmt: skip
        breaks = []
        for item in entry.breaks:
            price = self.money(f"{path}.breaks", item.price)
            if not 2 <= item.quantity <= 1000:
                raise self.bad(f"{path}.breaks", "a price break is for 2 to 1000")
            breaks.append(Break(item.quantity, price))
        last = entry.last_day_price
        return Portion(
            key, entry.product, entry.name, draws, self.money(f"{path}.price", entry.price),
            entry.per, tuple(breaks),
            self.money(f"{path}.last_day_price", last) if last else None,
            entry.tax, entry.toppings, entry.off,
        )  # fmt: skip

    def topping(self, key: str, entry: ToppingEntry) -> Topping:
        path = f"toppings.{key}"
        if entry.ingredient:
            self.known(
                f"{path}.ingredient", "ingredient", entry.ingredient, self.entries.ingredients
            )
        price = self.money(f"{path}.price", entry.price)
        return Topping(key, entry.name, price, entry.ingredient)

    def catalogue(self) -> Catalogue:
        e = self.entries
        for kind in ("ingredients", "products", "portions", "toppings", "staff"):
            for key, entry in getattr(e, kind).items():
                if not key or not set(key) <= KEY_LETTERS:
                    raise self.bad(f"{kind}.{key}", "a key is of small letters, digits and hyphens")
                if not entry.name.strip():
                    raise self.bad(f"{kind}.{key}.name", "there is nothing to read in it")
        made = Catalogue(
            products={k: self.product(k, v) for k, v in e.products.items()},
            portions={k: self.portion(k, v) for k, v in e.portions.items()},
            toppings={k: self.topping(k, v) for k, v in e.toppings.items()},
            ingredients={k: self.ingredient(k, v) for k, v in e.ingredients.items()},
            staff={k: Person(k, v.name, v.role) for k, v in e.staff.items()},
            may_contain=self.sources("kitchen.may_contain", e.kitchen.may_contain),
        )
        key, why = recipe_fault(made)
        if why:
            raise self.bad(f"ingredients.{key}.recipe", why)
        for one in unsaid_in(made, self.market):
            raise self.bad(one.path, why_unsaid(one))
        return made


def density_of(entry: IngredientEntry) -> Decimal | None:
    """Grams a millilitre; water is 1 without being told."""
    return entry.density or (Decimal(1) if entry.water else None)


def parse_catalogue(
    text: str, places: int, tax_classes: set[str], file: str = "catalogue.toml",
    market: Market = "us", layouts: Sequence[Layout] | None = None,
) -> Catalogue:  # fmt: skip
    """A checked catalogue from TOML text, or BadInput naming the entry and its line.

    ``layouts`` are those of the shop's restricted numbers; None where they are not known here.
    """
    return _Reader(text, file, places, tax_classes, market, layouts).catalogue()
