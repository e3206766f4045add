"""What the names in a catalogue say of allergens, and whether the catalogue says so too.

21 USC 343(w) and Regulation (EU) 1169/2011 Art. 9(1)(c): a label names every source that is in the
food, whatever its ingredients are called. A name that says one is no proof, so a person may say
that it is not in there, with a word why (``allergens_none``): highly refined oil (21 USC 321(qq)),
a glaze called "butterscotch" without milk.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from counter.errors import Refused
from counter.trade.catalogue import Catalogue, Ingredient, Product
from counter.trade.contents import named
from labels.naming import unsaid
from labels.say import Said, say


class Unsaid(msgspec.Struct, frozen=True, kw_only=True):
    """A name in a catalogue, at ``path`` of its file, that says ``sources`` of allergens which
    nothing in it names."""

    path: str
    name: str
    sources: tuple[str, ...]


def why_unsaid(one: Unsaid) -> Said:
    """What is wrong with it, and what to write."""
    return say(
        "the name '{name}' says {names}: put it under allergens of what is in it, or say in "
        "allergens_none why not",
        name=one.name,
        names=named(one.sources),
    )


def unsaid_in(catalogue: Catalogue, market: str) -> Iterator[Unsaid]:
    """Every name of a catalogue that says an allergen which nothing in it names: of ingredients,
    of products by their recipe, and of toppings."""
    for key, item in catalogue.ingredients.items():
        known = catalogue.allergens_of(key)
        yield from _of(item, f"ingredients.{key}", known, catalogue, market)
    for key, product in catalogue.products.items():
        if product.recipe:
            known = _within((p.ingredient for p in product.recipe if p.grams), catalogue)
            yield from _of(product, f"products.{key}", known, catalogue, market)
    for key, topping in catalogue.toppings.items():
        known = _within([topping.ingredient], catalogue)
        if found := unsaid([topping.name], known, market):
            yield Unsaid(path=f"toppings.{key}", name=topping.name, sources=found)


def refuse_unsaid(
    tried: Said, product: Product, keys: Iterable[str], catalogue: Catalogue, market: str
) -> None:
    """Refuse a batch of ``product`` with the ingredients ``keys`` in it while one of their names,
    or its own, says an allergen that nothing names."""
    keys = list(dict.fromkeys(keys))
    known = _within(keys, catalogue)
    found = [*_of(product, "", known, catalogue, market)] if keys else []  # else no label either
    for key in (k for first in keys for k in catalogue.with_parts(first)):
        item, own = catalogue.ingredients[key], catalogue.allergens_of(key)
        found += _of(item, "", own, catalogue, market)
    if found:
        raise Refused(tried, why_unsaid(found[0]), say("Load the catalogue with that"))


def none_of(catalogue: Catalogue, keys: Iterable[str]) -> dict[str, str]:
    """What somebody said of these ingredients and all in them: source to the word why."""
    return {
        source: why
        for first in keys
        for key in catalogue.with_parts(first)
        for source, why in catalogue.ingredients[key].allergens_none.items()
    }


def _within(keys: Iterable[str], catalogue: Catalogue) -> tuple[str, ...]:
    """The allergens of ingredients, and those of which somebody said that they are in none."""
    keys = list(keys)
    return (*(a for key in keys for a in catalogue.allergens_of(key)), *none_of(catalogue, keys))


def _of(
    one: Ingredient | Product, path: str, known: Iterable[str], catalogue: Catalogue, market: str
) -> Iterator[Unsaid]:
    by_hand = [*one.allergens_none]
    if isinstance(one, Ingredient):
        by_hand += none_of(catalogue, [one.key])
    for name in (one.name, one.second_name):
        if name and (found := unsaid([name], [*known, *by_hand], market)):
            yield Unsaid(path=path, name=name, sources=found)
