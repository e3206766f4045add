"""The ingredient list: order, brackets, what is named and what may be left out.

Shared by both rule sets, for both ask for descending weight: 21 CFR 101.4(a)(1) and EU 1169/2011
Art. 18. Weights are those that went in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from msgspec.structs import replace

from labels.allergens import said_by_name
from labels.errors import BadValue, MissingFact
from labels.facts import Facts, Ingredient
from labels.say import say
from labels.words import WORDS, Words

SULPHITES = "sulphites"
PERCENT_CLAUSES = tuple(Decimal(p) for p in ("2", "1.5", "1", "0.5"))  # 21 CFR 101.4(a)(2)


def in_order(ingredients: Iterable[Ingredient]) -> list[Ingredient]:
    """Without processing aids, like with like added up, heaviest first.

    Equal weights keep the order in which they came. Raises MissingFact where an order is needed
    and a weight is missing.
    """
    merged: dict[tuple[object, ...], Ingredient] = {}
    for item in ingredients:
        if item.aid:
            continue
        same = (item.name.casefold(), item.parts, item.allergens, item.water)
        seen = merged.get(same)
        grams = item.grams + (seen.grams if seen else 0)
        merged[same] = replace(
            seen or item, grams=grams, quid=item.quid or bool(seen and seen.quid)
        )
    items = list(merged.values())
    unweighed = [item.name for item in items if not item.grams]
    if unweighed and len(items) > 1:
        tried = say("put the ingredients in order")
        why = say("the weight of '{name}' is not known", name=unweighed[0])
        raise MissingFact(tried, why, say("Give the grams of every ingredient that went in"))
    return sorted(items, key=lambda item: -item.grams)


def listed_of(facts: Facts) -> list[Ingredient]:
    """The ingredients in order, compounds with their parts or, if asked for, dispersed."""
    items = [_with_sulfites(item) for item in facts.ingredients]
    return in_order(disperse(items) if facts.disperse else items)


def _with_sulfites(item: Ingredient) -> Ingredient:
    """A processing aid that leaves 10 mg/kg of sulfites is an ingredient (21 CFR 101.100(a)(4))."""
    aid = item.aid and SULPHITES not in item.all_allergens()
    return replace(item, aid=aid, parts=tuple(_with_sulfites(part) for part in item.parts))


def disperse(ingredients: Iterable[Ingredient]) -> list[Ingredient]:
    """Every component of every compound in its share of the weight, the compound not named.

    21 CFR 101.4(b)(2)(ii). What bears the same name is one ingredient. Raises MissingFact where a
    compound or one of its parts has no weight.
    """
    merged: dict[str, Ingredient] = {}
    for item in _components(ingredients):
        seen = merged.get(item.name.casefold())
        merged[item.name.casefold()] = (
            item
            if seen is None
            else replace(
                seen,
                grams=seen.grams + item.grams,
                second=seen.second or item.second,
                allergens=tuple(dict.fromkeys((*seen.allergens, *item.allergens))),
                water=seen.water or item.water,
                quid=seen.quid or item.quid,
            )
        )
    return list(merged.values())


def parts_of(item: Ingredient) -> tuple[Ingredient, ...]:
    """Its parts with the weight each has in this food: their recipe may be for another amount.

    Unweighed ones stay as they are.
    """
    whole = sum((part.grams for part in item.parts if not part.aid), Decimal(0))
    if not whole or not item.grams:
        return item.parts
    return tuple(replace(part, grams=part.grams * item.grams / whole) for part in item.parts)


def aids_of(ingredients: Iterable[Ingredient]) -> list[Ingredient]:
    """The processing aids that bring an allergen, as if they were ingredients."""
    return [replace(i, aid=False) for i in ingredients if i.aid and i.all_allergens()]


def unlisted_aids(ingredients: Iterable[Ingredient], market: str) -> list[str]:
    """The processing aids that stand in no list, those of compounds too.

    The US list has those that leave sulfites (21 CFR 101.100(a)(4)), that of the EU those of any
    allergen (1169/2011 Art. 20(b)).
    """
    found: list[str] = []
    for item in ingredients:
        keys = item.all_allergens()
        if item.aid and not (SULPHITES in keys if market == "us" else keys):
            found.append(item.name)
        else:
            found += unlisted_aids(item.parts, market)
    return found


def _components(ingredients: Iterable[Ingredient]) -> Iterator[Ingredient]:
    for item in ingredients:
        if item.aid:
            continue
        parts = in_order(item.parts)
        if not parts:
            yield item
            continue
        if SULPHITES in item.allergens:
            tried = say("spread '{name}' through the ingredient list", name=item.name)
            why = say("which of its parts brings the sulphites is not known")
            do = say("Note them at that part, or list the parts in brackets")
            raise MissingFact(tried, why, do)
        if not item.grams or not any(part.grams for part in parts):
            name = parts[0].name if item.grams else item.name
            tried = say("spread '{name}' through the ingredient list", name=item.name)
            why = say("the weight of '{name}' is not known", name=name)
            raise MissingFact(tried, why, say("Give its grams, or list the parts in brackets"))
        yield from _components(parts_of(item))


def name_with_parts(item: Ingredient, words: Words | None = None) -> str:
    """``soy sauce (water, soybeans, wheat, salt)``: parts in brackets, heaviest first.

    21 CFR 101.4(b)(2)(i). Sulfites stand there too where the name does not say them (21 CFR
    101.100(a)(4), 130.9; the collective "sulfiting agents" from memory). ``words``: names and
    wording of the second language.
    """
    name = item.second if words else item.name
    inside = [name_with_parts(part, words) for part in in_order(item.parts)]
    if SULPHITES in item.allergens and not said_by_name(SULPHITES, name):
        inside.append((words or WORDS["en"]).sulfites)
    return f"{name} ({', '.join(inside)})" if inside else name


def split_by_percent(
    items: list[Ingredient], facts: Facts
) -> tuple[list[Ingredient], list[Ingredient]]:
    """Ingredients above the threshold of the percentage clause, and those at or below it.

    21 CFR 101.4(a)(2): the threshold is 2, 1.5, 1 or 0.5 percent, and none of the second group
    exceeds it. Percentages are of the finished food or of all that went in, whichever makes them
    larger.
    """
    percent = facts.percent_clause
    if percent is None:
        return items, []
    if percent not in PERCENT_CLAUSES:
        tried = say("use a clause of {amount}% or less", amount=percent)
        why = say("21 CFR 101.4(a)(2) knows four thresholds")
        raise BadValue(tried, why, say("Use 2, 1.5, 1 or 0.5"))
    whole = sum((item.grams for item in items), Decimal(0))
    if facts.finished:
        whole = min(whole, facts.finished)
    small = [item for item in items if item.grams * 100 <= percent * whole]
    return [item for item in items if item not in small], small
