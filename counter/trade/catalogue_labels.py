"""What may not stand in the label of a product, nor in a recipe: each check answers with why it is
wrong, or an empty text; the reader of the catalogue file adds its line.
"""

from __future__ import annotations

from collections.abc import Sequence
from graphlib import CycleError, TopologicalSorter

from counter.trade.catalogue import Catalogue, Pack, Unit
from counter.trade.weighed import layouts_for, weighing_layouts
from labels.facts import MOST_DEEP
from labels.gs1 import check_digit, is_restricted
from labels.restricted import Layout


def number_fault(pack: Pack) -> tuple[str, str]:
    """The field at fault and why, where number and symbols do not agree; else two empty texts."""
    number, of_number = pack.number, {"item", "gs1", "link"} & set(pack.symbols)
    if number:
        good = number.isascii() and number.isdigit() and len(number) in (8, 12, 13)
        if not good or str(check_digit(number[:-1])) != number[-1]:
            return "number", (
                f"'{number}' is no number of 8, 12 or 13 digits with a right check digit"
            )
    if not number and of_number:
        return "symbols", "an item symbol needs the product's number"
    if number and is_restricted(number) and of_number - {"item"}:
        why = f"'{number}' is for this shop only: 'gs1' and 'link' need a number of your own"
        return "symbols", why
    return "", ""


def weighed_fault(pack: Pack, unit: Unit, by_weight: bool, layouts: Sequence[Layout] | None) -> str:
    """Why the symbol ``weighed`` cannot be made; ``layouts`` None where they are not known."""
    item = pack.item
    if "weighed" not in pack.symbols:
        return f"item '{item}' is for the symbol 'weighed', which is not asked for" if item else ""
    if not (item.isascii() and item.isdigit()):
        return "the symbol 'weighed' needs item, the digits that name the product in its number"
    if unit != "g" or not by_weight:
        return "the symbol 'weighed' is for a product kept in grams with a portion per lb or kg"
    if layouts is None or layouts_for(item, layouts):
        return ""
    rooms = sorted({layout.pattern.count("I") for layout in weighing_layouts(layouts)})
    if not rooms:
        return (
            "the symbol 'weighed' needs a layout with price or weight in it: "
            'name one in shop.toml, such as restricted = ["us"] under [labels]'
        )
    room = " or ".join(map(str, rooms))
    return f"item '{item}' has {len(item)} digits, and the layouts in shop.toml take {room}"


def recipe_fault(catalogue: Catalogue) -> tuple[str, str]:
    """The ingredient at fault and why, where a recipe goes in a circle or lies deeper than a label
    can list; else two empty texts."""
    inside = {k: [p.ingredient for p in i.parts] for k, i in catalogue.ingredients.items()}
    deep: dict[str, int] = {}
    try:
        for key in TopologicalSorter(inside).static_order():
            deep[key] = max((1 + deep[part] for part in inside[key]), default=0)
            if deep[key] > MOST_DEEP:
                return key, f"its recipe holds recipes, one in another, more than {MOST_DEEP} deep"
    except CycleError as error:
        circle = error.args[1][:0:-1]  # from what holds to what is held, each once
        first = circle.index(next(key for key in inside if key in circle))
        names = " > ".join((*circle[first:], *circle[:first], circle[first]))
        return circle[first], f"the recipe goes in a circle: {names}"
    return "", ""


def market_fault(pack: Pack, market: str) -> str:
    """Why the law of the shop's market does not know a field of the pack."""
    if market == "eu" and pack.percent_clause:
        return "percent_clause is of the US list (21 CFR 101.4(a)(2)), and the market is eu"
    if market == "eu" and pack.sub_ingredients == "dispersed":
        return "in the EU a compound ingredient is named, its own behind it (1169/2011 Annex VII E)"
    if market == "us" and pack.e_mark:
        return "e_mark is of the EU (76/211/EEC), and the market is us"
    return ""
