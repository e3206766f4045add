"""The catalogue written as the TOML file it is read from: what is read back is equal.

People take it away, change it in any editor and load it again; and a change made on the page is
checked by reading what would be written, so that both ways obey the same rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from counter.trade.catalogue import (
    Catalogue,
    Ingredient,
    Pack,
    Part,
    Person,
    Portion,
    Product,
    Topping,
    Unit,
)
from counter.trade.money import plain_money

HEAD = "# What the shop makes and sells, as it was in use. Change it and load it again."


def quoted(text: str) -> str:
    """A text as a basic string of TOML 1.0: quotes, backslashes and control characters escaped.

    >>> print(quoted('a "b"'))
    "a \\"b\\""
    """
    made = []
    for char in text:
        if char in '"\\':
            made.append("\\" + char)
        elif ord(char) < 32 or ord(char) == 127:
            made.append(f"\\u{ord(char):04X}")
        else:
            made.append(char)
    return f'"{"".join(made)}"'


def listed(texts: Iterable[str]) -> str:
    return f"[{', '.join(quoted(text) for text in texts)}]"


def plain(number: Decimal) -> str:
    """A number without an exponent."""
    return f"{number:f}"


def amount(value: int, unit: Unit) -> str:
    return quoted(str(value) if unit == "piece" else f"{value} {unit}")


def recipe(parts: Sequence[Part]) -> str:
    """The amounts as somebody wrote them."""
    cells = (f"{p.ingredient} = {quoted(p.written or f'{plain(p.grams)} g')}" for p in parts)
    return f"{{ {', '.join(cells)} }}"


class _Writer:
    """Gathers the lines; only what differs from the entry's default is written."""

    def __init__(self, places: int) -> None:
        self.places = places
        self.lines = [HEAD]

    def table(self, name: str, *pairs: tuple[str, str | None]) -> None:
        self.lines += ["", f"[{name}]"]
        self.lines += [f"{key} = {value}" for key, value in pairs if value is not None]

    def money(self, minor: int) -> str:
        return quoted(plain_money(minor, self.places))

    def ingredient(self, item: Ingredient) -> None:
        own = item.density is not None and not (item.water and item.density == 1)
        self.table(
            f"ingredients.{item.key}",
            ("name", quoted(item.name)),
            ("second_name", text_or_none(item.second_name)),
            ("allergens", listed(item.allergens) if item.allergens else None),
            ("water", true(item.water)),
            ("coagulant", true(item.coagulant)),
            ("processing_aid", true(item.processing_aid)),
            ("density", quoted(plain(item.density)) if own and item.density else None),
            ("quid", true(item.quid)),
            ("recipe", recipe(item.parts) if item.parts else None),
            ("allergens_none", none(item.allergens_none)),
        )

    def product(self, item: Product) -> None:
        usual = [f"{k} = {listed(usual_range(k, r.least, r.most))}" for k, r in item.usual.items()]
        self.table(
            f"products.{item.key}",
            ("name", quoted(item.name)),
            ("second_name", text_or_none(item.second_name)),
            ("unit", quoted(item.unit) if item.unit != "piece" else None),
            ("keeps", str(item.keeps)),
            ("day_one", quoted(item.day_one) if item.day_one != "made" else None),
            ("date", quoted(item.date)),  # in a market eu it must be said
            ("held", quoted(item.held) if item.held != "cold" else None),
            ("study", text_or_none(item.study)),
            ("tub", true(item.tub)),
            ("cook", cook_of(item)),
            ("cooled", None if item.cooled else "false"),
            ("mould", amount(item.mould, item.unit)),
            ("cost", self.money(item.cost) if item.cost else None),
            ("recipe", recipe(item.recipe) if item.recipe else None),
            ("recipe_makes", amount(item.recipe_makes, item.unit)),
            ("usual", f"{{ {', '.join(usual)} }}" if usual else None),
            ("place", text_or_none(item.place)),
            ("label", label_of(item.pack)),
            ("allergens_none", none(item.allergens_none)),
            ("may_contain", listed(item.may_contain) if item.may_contain else None),
        )

    def portion(self, item: Portion, unit: Unit) -> None:
        breaks = ", ".join(
            f"{{ quantity = {b.quantity}, price = {self.money(b.price)} }}" for b in item.breaks
        )
        last = item.last_day_price
        self.table(
            f"portions.{item.key}",
            ("product", quoted(item.product)),
            ("name", quoted(item.name)),
            ("draws", None if item.per else amount(item.draws, unit)),
            ("price", self.money(item.price)),
            ("per", text_or_none(item.per)),
            ("breaks", f"[{breaks}]" if breaks else None),
            ("last_day_price", None if last is None else self.money(last)),
            ("tax", text_or_none(item.tax)),
            ("toppings", listed(item.toppings) if item.toppings else None),
            ("off", true(item.off)),
        )

    def topping(self, item: Topping) -> None:
        self.table(
            f"toppings.{item.key}",
            ("name", quoted(item.name)),
            ("price", self.money(item.price) if item.price else None),
            ("ingredient", text_or_none(item.ingredient)),
        )

    def person(self, item: Person) -> None:
        role = quoted(item.role) if item.role != "counter" else None
        self.table(f"staff.{item.key}", ("name", quoted(item.name)), ("role", role))


def text_or_none(text: str) -> str | None:
    return quoted(text) if text else None


def true(holds: bool) -> str | None:
    return "true" if holds else None


def none(whys: dict[str, str]) -> str | None:
    cells = ", ".join(f"{source} = {quoted(why)}" for source, why in whys.items())
    return f"{{ {cells} }}" if cells else None


def cook_of(item: Product) -> str:
    if item.cook is None:
        return "false"
    heat = quoted(f"{plain(item.cook.celsius)} C")
    return f"{{ temperature = {heat}, minutes = {item.cook.minutes} }}"


def usual_range(what: str, least: Decimal, most: Decimal) -> list[str]:
    unit = {"press": " kPa", "cook": " C"}.get(what, "")
    return [plain(least) + unit, plain(most) + unit]


def label_of(pack: Pack) -> str | None:
    """What differs from an empty pack; None where nothing does."""
    usual = Pack()
    cells = [
        f"{key} = {quoted(getattr(pack, key))}"
        for key in (
            "net",
            "drained",
            "blank",
            "number",
            "item",
            "shape",
            "storage",
            "handling",
            "percent_clause",
            "sub_ingredients",
        )
        if getattr(pack, key) != getattr(usual, key)
    ]
    if pack.symbols != usual.symbols:
        cells.append(f"symbols = {listed(pack.symbols)}")
    if pack.panel_mm:
        cells.append(f"panel_mm = {listed(plain(side) for side in pack.panel_mm)}")
    cells += [f"{key} = true" for key in ("e_mark", "low_bars", "beverage") if getattr(pack, key)]
    return f"{{ {', '.join(cells)} }}" if cells else None


def write_catalogue(catalogue: Catalogue, places: int) -> str:
    """The catalogue as TOML. Hashed PINs are never in it; they stand in a record of their own."""
    writer = _Writer(places)
    for ingredient in catalogue.ingredients.values():
        writer.ingredient(ingredient)
    for product in catalogue.products.values():
        writer.product(product)
    for portion in catalogue.portions.values():
        writer.portion(portion, catalogue.products[portion.product].unit)
    for topping in catalogue.toppings.values():
        writer.topping(topping)
    for person in catalogue.staff.values():
        writer.person(person)
    if catalogue.may_contain:
        writer.table("kitchen", ("may_contain", listed(catalogue.may_contain)))
    return "\n".join(writer.lines) + "\n"
