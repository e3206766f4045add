"""The ingredient list of an EU label, its allergens, and the same in a second language.

Regulation (EU) 1169/2011 Art. 9(1)(b), (c), 18 to 22, 36, Annex VII.
"""

from __future__ import annotations

import re
from decimal import ROUND_DOWN, Decimal

from msgspec.structs import replace

from labels.allergens import eu_names, said_by_name
from labels.errors import BadValue, MissingFact
from labels.facts import Facts, Ingredient
from labels.rules.listing import aids_of, in_order, parts_of
from labels.rules.second import NO_SECOND_NAME, second_words
from labels.rules.statement import Run, Statement, absent, bold, plain
from labels.say import Said, say
from labels.words import EuWords, Words

TINY_CM2 = 10  # Art. 16(2)
ALLERGENS = "EU 1169/2011 Art. 9(1)(c), 21(1)"
SECOND = "EU 1169/2011 Art. 15(3)"


def why_tiny() -> Said:
    return say("the largest surface is under {n} cm² (Art. 16(2))", n=TINY_CM2)


def _listed(facts: Facts) -> list[Ingredient]:
    """Ingredients heaviest first; added water by difference; aids only for their allergens.

    Annex VII A 1: added water is what the finished food weighs beyond its other ingredients, and
    up to 5 % of the finished food it need not be listed.
    """
    items = in_order(facts.ingredients)
    added = [item for item in items if item.water and not item.all_allergens()]
    if facts.finished and added:
        kept = [item for item in items if item not in added]
        water = facts.finished - sum((item.grams for item in kept), Decimal(0))
        if water > facts.finished * 5 / 100:
            kept.append(replace(added[0], grams=water))
        items = in_order(kept)
    return [*items, *aids_of(facts.ingredients)]


def unlisted_water(facts: Facts) -> list[str]:
    """The added water that stands in no list, being too little of the finished food."""
    listed = {item.name for item in _listed(facts)}
    return [i.name for i in facts.ingredients if i.water and not i.aid and i.name not in listed]


def listing(facts: Facts, words: EuWords, language: str, *, tiny: bool = False) -> list[Statement]:
    """The ingredient list with its allergens emphasised, or what stands in its place."""
    clause = "EU 1169/2011 Art. 9(1)(b), 18, 21, 22"
    items = _listed(facts)
    if facts.disperse:
        why = say("a compound ingredient is named, with its own behind it (Annex VII E)")
        do = say("List its parts in brackets")
        tried = say("spread the parts of compounds in '{name}' over the list", name=facts.name)
        raise BadValue(tried, why, do)
    if not items:
        do = say("Give what went in, with its weight")
        tried = say("list the ingredients of '{name}'", name=facts.name)
        raise MissingFact(tried, say("none are given"), do)
    if not listing_stands(facts, tiny=tiny):
        why = why_tiny() if tiny else say("one ingredient, which the name says (Art. 19(1)(e))")
        return [absent("ingredients", clause, why), contains(facts, words, language)]
    runs = [Run(words.common.ingredients, bold=True)]
    for number, item in enumerate(items):
        runs += [Run(", ")] * bool(number) + _item_runs(item, facts, language, words.point)
    why = say("the list itself emphasises them (Art. 21(1)(b))")
    if not facts.sources():
        why = say("none of the sources of Annex II is in it")
    return [
        Statement(key="ingredients", clause=clause, runs=(*runs, Run("."))),
        absent("contains", ALLERGENS, why),
    ]


def listing_stands(facts: Facts, *, tiny: bool) -> bool:
    """Whether there is a list: not on a tiny pack (Art. 16(2)), nor of the one ingredient that the
    name says (Art. 19(1)(e))."""
    [first, *rest] = _listed(facts)
    alone = not rest and not first.parts
    named = re.search(rf"\b{re.escape(first.name)}\b", facts.name, re.IGNORECASE)
    return not tiny and not (alone and named)


def contains(facts: Facts, words: EuWords, language: str) -> Statement:
    """The sources by name, where there is no list, or the food is not packed (Art. 44).

    Whoever names one names all: a list of some would read as if the others were not in it.
    """
    if all(said_by_name(key, facts.name) for key in facts.sources()):
        return absent(
            "contains", ALLERGENS, say("the name says them, or there are none (Art. 21(1))")
        )
    names = ", ".join(eu_names(facts.sources(), language))
    return Statement(key="contains", clause=ALLERGENS, runs=bold(f"{words.contains} {names}."))


def may_contain(facts: Facts, words: EuWords, language: str) -> Statement:
    """What may have got into it: voluntary, and never in place of the list (Art. 36)."""
    clause = "EU 1169/2011 Art. 36(3)(a)"
    keys = facts.may_contain_too()
    if not keys:
        return absent("may-contain", clause, say("nothing else is said to get into it"))
    text = words.may_contain.format(names=", ".join(eu_names(keys, language)))
    return Statement(key="may-contain", clause=clause, runs=plain(text))


def second_of(facts: Facts) -> Words | None:
    """The words of the second language where the label speaks it. Raises MissingFact."""
    keys = (*facts.sources(), *facts.may_contain_too())
    nuts = (key for key in keys if key.startswith("tree-nut:"))
    return second_words(facts, _listed(facts), nuts, SECOND)


def second_list(
    facts: Facts, words: Words | None, point: str, *, tiny: bool = False
) -> list[Statement]:
    """The list in the second language, its allergens emphasised as in the first."""
    if words is None:
        why = say("'tofu' alone is no second language")
        return [absent("second-ingredients", SECOND, why if facts.second_name else NO_SECOND_NAME)]
    found, language = [], facts.second_language
    if listing_stands(facts, tiny=tiny):
        runs = [Run(words.ingredients, bold=True)]
        for number, item in enumerate(_listed(facts)):
            runs += [Run(words.comma)] * bool(number)
            runs += _item_runs(item, facts, language, point, second=True)
        found.append(optional("second-ingredients", (*runs, Run(words.end))))
    elif not all(said_by_name(key, facts.second_name) for key in facts.sources()):
        text = f"{words.contains}{words.comma.join(eu_names(facts.sources(), language))}{words.end}"
        found.append(optional("second-contains", bold(text)))
    if doubtful := eu_names(facts.may_contain_too(), language):
        text = f"{words.may_contain}{words.comma.join(doubtful)}{words.end}"
        found.append(optional("second-may-contain", plain(text)))
    return found


def optional(key: str, runs: tuple[Run, ...]) -> Statement:
    return Statement(key=key, clause=SECOND, runs=runs, optional=True)


def _item_runs(
    item: Ingredient, facts: Facts, language: str, point: str, *, second: bool = False
) -> list[Run]:
    """One ingredient: allergens in bold, percentage and parts in brackets behind it."""
    name = item.second if second else item.name
    inside = [key for part in item.parts for key in part.all_allergens()]
    own = [key for key in item.allergens if key not in inside]
    unsaid = [key for key in own if not said_by_name(key, name)]
    runs = [Run(name, bold=bool(own) and len(unsaid) < len(own))]
    if unsaid:
        names = ", ".join(eu_names(unsaid, language))
        runs += [Run(" ("), Run(names, bold=True), Run(")")]
    if item.quid:
        runs.append(Run(f" ({_percentage(item, facts, point)})"))
    listed = [*in_order(parts_of(item)), *aids_of(item.parts)]
    if listed:
        runs.append(Run(" ("))
        for number, part in enumerate(listed):
            runs += [Run(", ")] * bool(number) + _item_runs(
                part, facts, language, point, second=second
            )
        runs.append(Run(")"))
    return runs


def _percentage(item: Ingredient, facts: Facts, point: str) -> str:
    """Quantity of an ingredient when it went in, of the finished food (Art. 22, Annex VIII).

    Rounded down, so that no more is promised than is there; over 100 % as grams per 100 g.
    """
    whole = facts.finished or sum((i.grams for i in in_order(facts.ingredients)), Decimal(0))
    if not whole or not item.grams:
        do = say("Give its weight and the finished weight")
        tried = say("state the percentage of '{name}'", name=item.name)
        raise MissingFact(tried, say("a weight is missing"), do)
    share = item.grams * 100 / whole
    places = Decimal(1) if share >= 5 else Decimal("0.1")
    figure = str(share.quantize(places, ROUND_DOWN)).replace(".", point)
    return f"{figure} g / 100 g" if share > 100 else f"{figure} %"
