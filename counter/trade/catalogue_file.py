"""The catalogue as a TOML file: read and checked whole, and written so that it reads back equal.

Amounts stand in it as people write them ("12 oz", "3.50"). One wrong entry refuses the file and
names the entry and its line; the catalogue in use stays as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from decimal import Decimal
from graphlib import CycleError, TopologicalSorter
from typing import Annotated, Any, ClassVar, Literal

import msgspec

from counter.trade.allergens import unsaid_in, why_unsaid
from counter.trade.catalogue import (
    Break,
    Catalogue,
    Cooking,
    Ingredient,
    Pack,
    Part,
    Portion,
    Product,
    Range,
    Unit,
)
from counter.trade.dates import DateKind, keeps_fault
from counter.trade.production import COLDEST_COOK, HOTTEST_COOK
from counter.trade.schema import At, Form, Format, Writer, key, toml_table
from counter.trade.settings import Market
from counter.trade.units import parse_number, parse_pressure, parse_temperature
from counter.trade.weighed import layouts_for, weighing_layouts
from labels.allergens import SOURCES, check_source
from labels.checks import check_digit
from labels.errors import LabelError
from labels.facts import MOST_DEEP, NetQuantity, Panel
from labels.restricted import Layout, is_restricted
from labels.say import NOTHING, Said, any_of, join, say, small, term
from labels.units import Measure, parse_measure

HEAD = "# What the shop makes and sells, as it was in use. Change it and load it again."
KEY_LETTERS = set("abcdefghijklmnopqrstuvwxyz0123456789-")
TABLES = ("ingredients", "products", "portions", "toppings", "staff")  # in the order of the file


class Kitchen(msgspec.Struct, frozen=True):
    """``[kitchen]``: what holds of all that is made there."""

    may_contain: Annotated[
        tuple[str, ...], key("source keys of what may get into all of it", "sources")
    ] = ()


def finite(text: str) -> Decimal:
    return parse_number(text, "number")


USUAL: dict[str, tuple[Callable[[str], Decimal], str]] = {  # how it is read, its unit when written
    "brix": (finite, ""),
    "yield": (finite, ""),
    "press": (parse_pressure, " kPa"),
    "cook": (parse_temperature, " C"),
}
_AMOUNT = Form('an amount, as "12", "8 fl oz" or "2 kg"')


class CatalogueFormat(Format):
    """The file by the shop's money, tax classes, market and layouts of restricted numbers."""

    forms: ClassVar = {
        **Format.forms,
        "amount": _AMOUNT,
        "makes": _AMOUNT,
        "draws": _AMOUNT,
        "quantity": Form('an amount, as "14 oz"'),
        "temperature": Form('a temperature, as "95C" or "203F"'),
        "density": Form("a number", Decimal),
        "recipe": Form('a table, as { soybeans = "1 kg", water = "7 l" }', dict[str, str]),
        "usual": Form(
            f'of {", ".join(USUAL)}, as {{ brix = ["10", "13"] }}', dict[str, tuple[str, str]]
        ),
        "sources": Form("a list of sources", tuple[str, ...]),
        "none": Form('each with a word why, as { milk = "a plant" }', dict[str, str]),
        "date": Form('"best-by" or "use-by"', DateKind),
        "known": Form("a key"),
        "known_list": Form("a list of keys", tuple[str, ...]),
        "kitchen": Form("a table", Kitchen),
    }

    def __init__(
        self,
        places: int,
        tax_classes: Collection[str] = (),
        market: Market = "us",
        layouts: Sequence[Layout] | None = None,
        text: str = "",
        file: str = "",
    ) -> None:
        super().__init__(places, text, file)
        self.tables = toml_table(text, file)
        self.tax_classes, self.market, self.layouts = tax_classes, market, layouts

    # -- amounts

    def amount(self, told: str, unit: str, path: str) -> int:
        """A whole amount of a product's unit, from "12", "8 fl oz" or "2 kg"."""
        if unit == "piece":
            whole = told.strip()
            if not (whole.isascii() and whole.isdigit() and 0 < int(whole) < 10**6):
                raise self.bad(path, say("'{text}' is not a number of pieces", text=told))
            return int(whole)
        kind: Literal["mass", "volume"] = "volume" if unit == "ml" else "mass"
        measure: Measure = self.read(path, lambda v: parse_measure(v, kind), told)
        if measure.whole < 1:
            raise self.bad(path, say("'{text}' is nothing", text=told))
        return measure.whole

    def read_amount(self, told: str | None, at: At) -> int:
        unit = at.table.get("unit", "piece")
        one = told in (None, "1") and unit != "piece"
        return self.amount(f"1 {unit}" if one else told or "1", unit, at.path)

    def read_makes(self, told: str | None, at: At) -> int:
        return self.read_amount(told or at.table.get("mould"), at)

    def read_draws(self, told: str | None, at: At) -> int:
        if at.table.get("per"):
            return 0
        product = self.tables["products"][at.table["product"]]
        if product.get("tub") and not told:
            raise self.bad(at.path, say("a cup needs the volume it draws"))
        return self.amount(told or "1", product.get("unit", "piece"), at.path)

    def read_quantity(self, told: str, at: At) -> str:
        if told:
            self.read(at.path, NetQuantity.of, told)
        return told

    def read_temperature(self, told: str | None, at: At) -> Decimal:
        celsius = self.read(at.path, parse_temperature, told or "95C")
        if not COLDEST_COOK <= celsius <= HOTTEST_COOK:
            why = say(
                "nothing is cooked at {amount}: {least} to {most} °C",
                amount=told,
                least=COLDEST_COOK,
                most=HOTTEST_COOK,
            )
            raise self.bad(at.path, why)
        return celsius

    def read_usual(self, told: dict[str, tuple[str, str]], at: At) -> dict[str, Range]:
        found = {}
        for what, ends in told.items():
            if what not in USUAL:
                why = say("'{text}' is none of {names}", text=what, names=", ".join(USUAL))
                raise self.bad(at.path, why)
            low, high = (self.read(at.path, USUAL[what][0], end) for end in ends)
            if low > high:
                why = say("the usual {what} runs from less to more", what=term(what))
                raise self.bad(at.path, why)
            found[what] = Range(low, high)
        return found

    # -- what is in it

    def known(self, path: str, kind: str, name: str) -> dict[str, Any]:
        """The entry of a key that another entry names."""
        entries: dict[str, Any] = {name: {} for name in self.tax_classes}
        if kind != "tax class":
            entries = self.plain(dict[str, Any], self.tables.get(f"{kind}s", {}), f"{kind}s")
        if name not in entries:
            raise self.bad(path, say("there is no {kind} '{text}'", kind=term(kind), text=name))
        entry: dict[str, Any] = self.plain(dict[str, Any], entries[name], f"{kind}s.{name}")
        return entry

    def read_known(self, told: str, at: At) -> str:
        if told:
            self.known(at.path, at.key.how.get("kind", at.key.file), told)
        return told

    def read_known_list(self, told: tuple[str, ...], at: At) -> tuple[str, ...]:
        for name in told:
            self.known(at.path, at.key.file.removesuffix("s"), name)
        return told

    def density_of(self, entry: dict[str, Any], path: str) -> Decimal | None:
        """Grams a millilitre; water is 1 without being told."""
        told: Decimal | None = self.plain(Decimal | None, entry.get("density"), path)
        if told is not None and not (told.is_finite() and Decimal("0.1") <= told <= 25):
            why = say("a density of {amount} grams a millilitre is none", amount=told)
            raise self.bad(path, why)
        return told or (Decimal(1) if entry.get("water") else None)

    def read_density(self, _: Decimal | None, at: At) -> Decimal | None:
        return self.density_of(at.table, at.path)

    def read_recipe(self, told: dict[str, str], at: At) -> tuple[Part, ...]:
        found = []
        for name, value in told.items():
            path = f"{at.path}.{name}"
            entry = self.known(path, "ingredient", name)
            measure: Measure = self.read(path, parse_measure, value)
            density = self.density_of(entry, f"ingredients.{name}.density")
            if measure.kind == "volume" and density is None:
                why = say("'{text}' is a volume: say the ingredient's density", text=value)
                raise self.bad(path, why)
            grams = measure.base if measure.kind == "mass" else measure.base * (density or 1)
            if not grams:  # no label would name it, nor its allergens
                raise self.bad(path, say("'{text}' is nothing", text=value))
            found.append(Part(name, grams, value))
        return tuple(found)

    def read_sources(self, told: Sequence[str], at: At) -> tuple[str, ...]:
        """Source keys of allergens, each of them known: a slip would be missing on every label."""
        for source in told:
            try:
                check_source(source, at.path)
            except LabelError as error:
                why = join("; ", (error.why, small(error.do)))
                raise self.bad(at.path, say("'{path}': {why}", path=source, why=why)) from None
        return tuple(dict.fromkeys(told))

    def read_none(self, told: dict[str, str], at: At) -> dict[str, str]:
        """Sources that a name says and that are not in it, each with a word why."""
        for source, why in told.items():
            if source not in SOURCES:
                raise self.bad(at.path, say("'{text}' is none of the sources", text=source))
            if len(why.strip()) < 2:
                raise self.bad(at.path, say("say in a word why no {text} is in it", text=source))
        return told

    def read_kitchen(self, told: Kitchen, _: At) -> tuple[str, ...]:
        return told.may_contain

    def read_date(self, told: DateKind | None, at: At) -> DateKind:
        if told is None and self.market == "eu":  # Art. 24: which of them, the maker decides
            path = at.path.rpartition(".")[0]
            raise self.bad(path, say('say date = "best-by" or "use-by" (EU 1169/2011 Art. 24)'))
        return told or "best-by"

    # -- what cannot stand beside one another

    def faults(self, made: Any, path: str) -> Iterator[tuple[str, Said]]:
        if path.count(".") == 1 and path.startswith(TABLES):
            if not made.key or not set(made.key) <= KEY_LETTERS:
                yield path, say("a key is of small letters, digits and hyphens")
            if not made.name.strip():
                yield f"{path}.name", say("there is nothing to read in it")
        match made:
            case Product():
                yield f"{path}.keeps", keeps_fault(made.keeps, made.held, made.study, self.market)
            case Portion() if made.per and self.tables["products"][made.product].get("unit") != "g":
                yield f"{path}.per", say("only a product kept in grams is sold by weight")
            case Break() if not 2 <= made.quantity <= 1000:
                yield path, say("a price break is for 2 to 1000")
            case Cooking() if not 1 <= made.minutes <= 1440:
                yield path, say("a cook takes from 1 to 1440 minutes")
            case Pack():
                yield from self._pack_faults(made, path)
            case Catalogue():
                yield from self._label_faults(made)
                yield from _recipe_faults(made)
                yield from ((one.path, why_unsaid(one)) for one in unsaid_in(made, self.market))

    def _pack_faults(self, pack: Pack, path: str) -> Iterator[tuple[str, Said]]:
        if not all(side.is_finite() and side > 0 for side in pack.panel_mm):
            yield f"{path}.panel_mm", say("a side is a number of millimetres above 0")
        try:
            _ = pack.panel_mm and Panel(pack.shape, pack.panel_mm)
        except LabelError as error:
            yield f"{path}.panel_mm", say("'{path}': {why}", path=pack.shape, why=error.why)
        yield from _number_faults(pack, path)
        if self.market == "eu" and pack.percent_clause:
            why = say("percent_clause is of the US list (21 CFR 101.4(a)(2)), and the market is eu")
            yield path, why
        if self.market == "eu" and pack.sub_ingredients == "dispersed":
            why = say(
                "in the EU a compound ingredient is named, its own behind it"
                " (1169/2011 Annex VII E)"
            )
            yield path, why
        if self.market == "us" and pack.e_mark:
            yield path, say("e_mark is of the EU (76/211/EEC), and the market is us")

    def _label_faults(self, made: Catalogue) -> Iterator[tuple[str, Said]]:
        """Numbers and items that two products have, and ``weighed`` where it cannot be."""
        numbers: dict[str, str] = {}
        items: dict[str, str] = {}
        by_weight = {portion.product for portion in made.portions.values() if portion.per}
        for name, product in made.products.items():
            path, pack = f"products.{name}.label", product.pack
            first = numbers.setdefault(pack.number.lstrip("0"), name)
            if pack.number and first != name:
                why = say("number '{text}' is that of {name} already", text=pack.number, name=first)
                yield f"{path}.number", why
            if pack.item and (first := items.setdefault(pack.item, name)) != name:
                why = say("item '{text}' is that of {name} already", text=pack.item, name=first)
                yield path, why
            yield path, weighed_fault(pack, product.unit, name in by_weight, self.layouts)


def _number_faults(pack: Pack, path: str) -> Iterator[tuple[str, Said]]:
    """Where number and symbols do not agree."""
    number, of_number = pack.number, {"item", "gs1", "link"} & set(pack.symbols)
    if number:
        good = number.isascii() and number.isdigit() and len(number) in (8, 12, 13)
        if not good or str(check_digit(number[:-1])) != number[-1]:
            why = say(
                "'{text}' is no number of 8, 12 or 13 digits with a right check digit", text=number
            )
            yield f"{path}.number", why
        if is_restricted(number) and of_number - {"item"}:
            why = say(
                "'{text}' is for this shop only: 'gs1' and 'link' need a number of your own",
                text=number,
            )
            yield f"{path}.symbols", why
    elif of_number:
        yield f"{path}.symbols", say("an item symbol needs the product's number")


def weighed_fault(
    pack: Pack, unit: Unit, by_weight: bool, layouts: Sequence[Layout] | None
) -> Said:
    """Why the symbol ``weighed`` cannot be made; ``layouts`` None where they are not known."""
    item = pack.item
    if "weighed" not in pack.symbols:
        why = say("item '{text}' is for the symbol 'weighed', which is not asked for", text=item)
        return why if item else NOTHING
    if not (item.isascii() and item.isdigit()):
        return say(
            "the symbol 'weighed' needs item, the digits that name the product in its number"
        )
    if unit != "g" or not by_weight:
        return say(
            "the symbol 'weighed' is for a product kept in grams with a portion per lb or kg"
        )
    if layouts is None or layouts_for(item, layouts):
        return NOTHING
    rooms = sorted({layout.pattern.count("I") for layout in weighing_layouts(layouts)})
    if not rooms:
        return say(
            "the symbol 'weighed' needs a layout with price or weight in it: name one in "
            'shop.toml, such as restricted = ["us"] under [labels]'
        )
    return say(
        "item '{text}' has {n} digits, and the layouts in shop.toml take {names}",
        text=item,
        n=len(item),
        names=any_of(map(str, rooms)),
    )


def _recipe_faults(made: Catalogue) -> Iterator[tuple[str, Said]]:
    """Where a recipe goes in a circle or lies deeper than a label can list."""
    inside = {k: [p.ingredient for p in i.parts] for k, i in made.ingredients.items()}
    deep: dict[str, int] = {}
    try:
        for key in TopologicalSorter(inside).static_order():
            deep[key] = max((1 + deep[part] for part in inside[key]), default=0)
            if deep[key] > MOST_DEEP:
                why = say(
                    "its recipe holds recipes, one in another, more than {n} deep", n=MOST_DEEP
                )
                yield f"ingredients.{key}.recipe", why
    except CycleError as error:
        circle = error.args[1][:0:-1]  # from what holds to what is held, each once
        first = circle.index(next(key for key in inside if key in circle))
        names = " > ".join((*circle[first:], *circle[:first], circle[first]))
        why = say("the recipe goes in a circle: {names}", names=names)
        yield f"ingredients.{circle[first]}.recipe", why


class CatalogueWriter(Writer):
    """The file of a catalogue whose products have these ``units``, by key."""

    def __init__(self, places: int, units: dict[str, Unit]) -> None:
        super().__init__(places)
        self.units = units

    def write_amount(self, value: int, product: Product) -> str:
        return str(value) if product.unit == "piece" else f"{value} {product.unit}"

    write_makes = write_amount

    def write_draws(self, value: int, portion: Portion) -> str | None:
        unit = self.units[portion.product]
        return None if portion.per else str(value) if unit == "piece" else f"{value} {unit}"

    def write_temperature(self, value: Decimal, _: Any) -> str:
        return f"{value.normalize():f} C"

    def write_usual(self, value: dict[str, Range], _: Any) -> dict[str, list[str]]:
        return {k: [f"{end:f}{USUAL[k][1]}" for end in (r.least, r.most)] for k, r in value.items()}

    def write_density(self, value: Decimal | None, item: Ingredient) -> str | None:
        return None if value is None or (item.water and value == 1) else f"{value:f}"

    def write_recipe(self, parts: Sequence[Part], _: Any) -> dict[str, str]:
        return {part.ingredient: part.written or f"{part.grams:f} g" for part in parts}

    def write_kitchen(self, value: tuple[str, ...], _: Any) -> dict[str, Any]:
        return {"may_contain": list(value)}


def parse_catalogue(
    text: str,
    places: int,
    tax_classes: set[str],
    file: str = "catalogue.toml",
    market: Market = "us",
    layouts: Sequence[Layout] | None = None,
) -> Catalogue:
    """A checked catalogue from TOML text, or BadInput naming the entry and its line.

    ``layouts`` are those of the shop's restricted numbers; None where they are not known here.
    """
    form = CatalogueFormat(places, tax_classes, market, layouts, text, file)
    made: Catalogue = form.made(Catalogue, form.tables)
    return made


def tables_of(catalogue: Catalogue, places: int) -> dict[str, dict[str, Any]]:
    """What the file of a catalogue says."""
    units = {name: product.unit for name, product in catalogue.products.items()}
    tables = CatalogueWriter(places, units).told(catalogue)
    return {name: tables[name] for name in (*TABLES, "kitchen") if name in tables}


def write_catalogue(catalogue: Catalogue, places: int) -> str:
    """The catalogue as TOML. Hashed PINs are never in it; they stand in a record of their own."""
    lines = [HEAD]
    for name, table in tables_of(catalogue, places).items():
        things = {"": table} if name == "kitchen" else table
        for one, entry in things.items():
            lines += ["", f"[{name}.{one}]".replace(".]", "]")]
            lines += [f"{part} = {_inline(value)}" for part, value in entry.items()]
    return "\n".join(lines) + "\n"


def _inline(value: Any) -> str:
    """A value on one line of TOML."""
    import tomlkit

    if isinstance(value, dict):
        return f"{{ {', '.join(f'{name} = {_inline(one)}' for name, one in value.items())} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_inline, value))}]"
    return str(tomlkit.item(value).as_string())
