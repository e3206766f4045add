"""The tables of an export that do not speak of a day: catalogues one after the other, with their
prices, recipes, allergens and people; and who changed what."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from counter.reports.schema import CLOSED, HELD, Kind, Revised
from counter.trade.catalogue import Catalogue

VERSION = Revised("catalogues", "")


class Within(NamedTuple):
    product: str
    allergen: str
    ingredient: str


def allergens(catalogue: Catalogue) -> Iterator[Within]:
    """What is in each product by its recipe, through which ingredient; and what may get into it,
    through none. Sources that a product's name says and that are not in it are left out."""
    for product in catalogue.products.values():
        for part in product.recipe:
            for allergen in catalogue.allergens_of(part.ingredient):
                yield Within(product.key, allergen, part.ingredient)
        for allergen in catalogue.may_contain_of(product.key):
            yield Within(product.key, allergen, "")


def _of(name: str, says: str, own: str, over: object) -> Kind:
    return Kind(name, "catalogues", says, own, over=over, lead=HELD, revised=VERSION)  # type: ignore[arg-type]


# fmt: off
# One column a line, and its table around it.
CATALOGUE = (
    _of("catalogues", "The catalogues that held one after the other.", """
person text by who put it to use
waited_for day since the day it waited for; empty where it held at once
""", ""),
    _of("products", "Products of each catalogue.", """
product text products.key key of the product
name text products.name on its labels
second_name text products.second_name in the second language
unit text products.unit what it is counted in: piece, ml or g
keeps whole products.keeps days
day_one text products.day_one the day that is counted as the first: made or after
date_kind text products.date best-by or use-by
held text products.held how it is kept: cold, frozen or room
mould whole products.mould how much one mould or tub makes, in its unit
cost money products.cost of one mould
net_quantity text products.pack.net as its label says it
gtin text products.pack.number number of its bar code
""", "products"),
    _of("recipes", "Recipes of the products of each catalogue.", """
product text products.key key of the product
recipe_makes whole products.recipe_makes what the recipe is for, in the product's unit
ingredient text products.recipe.ingredient key of the ingredient
grams number products.recipe.grams of it
""", "products.recipe"),
    _of("product_allergens", "What is in each product, or may be in it.", """
product text *.product key of the product
allergen text *.allergen source key, as soy or tree-nut:almond
ingredient text *.ingredient through which it comes; empty for what may get into it
""", allergens),
    _of("pantry", "Ingredients of each catalogue.", """
ingredient text ingredients.key key of the ingredient
name text ingredients.name on labels
allergens text ingredients.allergens source keys joined with +
coagulant flag ingredients.coagulant whether it curdles the milk
density number ingredients.density grams a millilitre
""", "ingredients"),
    _of("ingredient_parts", "What ingredients that are made of others are made of.", """
ingredient text ingredients.key key of the ingredient
part text ingredients.parts.ingredient key of what is in it
grams number ingredients.parts.grams of it
""", "ingredients.parts"),
    _of("prices", "What each portion cost.", """
portion_key text portions.key key of the portion
product text portions.product key of the product
name text portions.name what it was called
draws whole portions.draws pieces, ml or g that one takes of a lot
price money portions.price for one, or by weight
priced_per text portions.per unit of a price by weight: kg, lb
last_day_price money portions.last_day_price on the last day of a lot; empty where it is the same
tax_class text portions.tax what it is taxed as
toppings text portions.toppings those that go on it, joined with +
off flag portions.off not sold for the time being
""", "portions"),
    _of("price_breaks", "Prices for several of a portion.", """
portion_key text portions.key key of the portion
quantity whole portions.breaks.quantity for so many
price money portions.breaks.price for all of them together
""", "portions.breaks"),
    _of("topping_prices", "What toppings cost.", """
topping text toppings.key key of the topping
name text toppings.name what it was called
price money toppings.price 0 when it is free
ingredient text toppings.ingredient what is in it
""", "toppings"),
    _of("staff", "People who work here, and what each may do.", """
person_key text staff.key key of the person
name text staff.name as it stands in records
rights text staff.role owner, maker or counter: each may do what the next may, and more
""", "staff"),
    Kind("changes", "changes", "Who changed what of settings, catalogue, people and PINs.", """
moment moment at when it was changed, or came to hold
person text by who did it; empty where nobody was named
about text = settings, catalogue, pin or answer
kind text = of catalogue: product, portion, topping, ingredient or person
thing text = what was changed, by key
what text = of it; empty where it came or went as a whole
was text old before
became text new after
""", lead=CLOSED),
)
