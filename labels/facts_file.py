"""Facts from a TOML file, for ``python -m labels`` and for whoever keeps them as text.

    name = "Firm Tofu"
    net = "14 oz"
    lot = "26328-01"
    date_mark = { kind = "best-by", day = 2026-11-30 }
    panel = { shape = "rectangle", mm = [110, 75] }
    symbols = [{ kind = "code128", data = "26328-01" }]
    [[ingredients]]
    name = "water"
    grams = 9000

An ingredient says its ``allergens = ["soy"]``, or ``allergens_none`` where its name alone says one.
``net`` may be a table with the fields of NetQuantity. A symbol's ``kind`` is one of code128,
ean-13, ean-8, upc-a, gs1-128 (``data`` in brackets: "(01)…(10)…") and qr.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec

from labels.elements import parse_brackets
from labels.errors import BadValue, answer_of
from labels.facts import Facts, Ingredient, NetQuantity
from labels.naming import unsaid
from labels.plain import parse_toml
from labels.say import Said, say
from labels.symbols import Symbol, code128, ean8, ean13, gs1_128, qr, upca

_PLAIN = {"code128": code128, "ean-13": ean13, "ean-8": ean8, "upc-a": upca, "qr": qr}


def read_facts(path: str | Path) -> list[Facts]:
    """The facts of one file: one food, or several as ``[[food]]``.

    Raises BadValue for a file that is not there or no TOML, and for a field that is unknown, has
    the wrong type, or says what cannot be.
    """
    path = Path(path)
    tried = say("read the facts in {name}", name=path.name)
    try:
        told = parse_toml(path.read_text("utf-8"), parse_float=Decimal)
    except OSError as error:
        raise BadValue(tried, answer_of(error)) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadValue(tried, say("it is no TOML: {why}", why=error)) from error
    except RecursionError:
        why = say("its tables lie in one another without end")
        raise BadValue(tried, why, say("Write the parts flatter")) from None
    foods = told.get("food", [told])
    if not isinstance(foods, list) or not all(isinstance(food, dict) for food in foods):
        raise BadValue(tried, say("'food' is no list of tables"), say("Write [[food]] above each"))
    return [facts_from(food, tried) for food in foods]


_TRIED = say("read the facts")


def facts_from(told: dict[str, Any], tried: Said = _TRIED) -> Facts:
    """Facts from a plain mapping. Raises BadValue."""
    rest = dict(told)
    wanted = rest.pop("symbols", [])
    if not isinstance(wanted, list) or not all(isinstance(one, dict) for one in wanted):
        do = say('Write symbols = [{ kind = "code128", data = "26328-01" }]')
        raise BadValue(tried, say("'symbols' is no list of tables"), do)
    symbols = tuple(_symbol(one) for one in wanted)
    if isinstance(rest.get("net"), str):
        rest["net"] = msgspec.structs.asdict(NetQuantity.of(rest["net"]))
    try:
        facts = msgspec.convert(rest, Facts)
    except msgspec.ValidationError as error:
        why = str(error).replace(" - at ", " at ")
        raise BadValue(tried, Said(why[0].lower() + why[1:])) from error
    return msgspec.structs.replace(facts, symbols=symbols)


def refuse_unsaid(facts: Facts, market: str) -> None:
    """Refuse facts of which a name says an allergen that nothing in them names (21 USC 343(w);
    Regulation (EU) 1169/2011 Art. 9(1)(c)), unless ``allergens_none`` says that there is none."""
    known = _known(facts.ingredients, facts.allergens_none)
    own = [(facts.name, known), (facts.second_name, known)]
    for name, there in [*own, *_names(facts.ingredients)]:
        if found := unsaid([name], there, market):
            tried = say("label '{name}'", name=facts.name)
            why = say(
                "the name '{name}' says {allergens}, and nothing in it names that",
                name=name,
                allergens=", ".join(found),
            )
            raise BadValue(tried, why, say("Put it under allergens, or under allergens_none"))


def _names(items: Iterable[Ingredient]) -> Iterator[tuple[str, list[str]]]:
    """The names of each ingredient and of all within it, and what is named there."""
    for item in items:
        known = _known([item], ())
        yield from ((item.name, known), (item.second, known))
        yield from _names(item.parts)


def _known(items: Iterable[Ingredient], by_hand: Iterable[str]) -> list[str]:
    found = list(by_hand)
    for item in items:
        found += _known(item.parts, (*item.allergens, *item.allergens_none))
    return found


def _symbol(told: dict[str, Any]) -> Symbol:
    kind, data = str(told.get("kind", "")), str(told.get("data", ""))
    if kind == "gs1-128":
        return gs1_128(parse_brackets(data))
    if kind not in _PLAIN:
        tried = say("make a symbol of kind '{kind}'", kind=kind)
        do = say("Use one of {names}", names=", ".join([*_PLAIN, "gs1-128"]))
        raise BadValue(tried, say("it is not known"), do)
    return _PLAIN[kind](data)
