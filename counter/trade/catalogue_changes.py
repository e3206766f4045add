"""What a new catalogue changes in the one in use, line by line, and what of it is asked first.

The lines are those of the two files: what the file of the catalogue says, a change of it shows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from fractions import Fraction
from typing import Any

import msgspec

from counter.trade.asking import Question
from counter.trade.catalogue import Catalogue, Portion, Product, Topping
from counter.trade.catalogue_file import tables_of
from counter.trade.contents import named
from counter.trade.stock import LotRow
from counter.trade.units import show_amount
from labels.say import NOTHING, Said, figure, join, say, term
from labels.units import parse_measure

KINDS = {
    "ingredients": "ingredient",
    "products": "product",
    "portions": "portion",
    "toppings": "topping",
    "staff": "person",
}
ALLERGEN_LAW = "21 USC 343(w); Regulation (EU) 1169/2011 Art. 9(1)(c)"
Thing = tuple[str, str]  # its table and its key


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """One line: of the ``name``d thing ``what`` was ``old`` and will be ``new``.

    ``what`` is "" for a thing that comes (``old`` "") or goes (``new`` "") as a whole.
    """

    kind: str
    key: str
    name: str
    what: str = ""
    old: str = ""
    new: str = ""


class CatalogueChange(msgspec.Struct, frozen=True, kw_only=True):
    """A catalogue read and checked, and what would change: nothing is in use yet.

    ``after`` are the days of the catalogues that go on waiting and will take its place.
    """

    made: Catalogue
    lines: tuple[Change, ...]
    questions: tuple[Question, ...] = ()
    after: tuple[date, ...] = ()


def changes(old: Catalogue, new: Catalogue, places: int) -> tuple[Change, ...]:
    """Every line in which two catalogues differ. A thing whose key alone changed is one thing."""
    before, after = _things(old, places), _things(new, places)
    moved = renamed(old, new)
    found: list[Change] = []
    for thing, cells in before.items():
        then = moved.get(thing, thing)
        if then != thing:
            found.append(_change(thing, cells, "key", thing[1], then[1]))
        found += _differences(thing, cells, after.get(then, {}))
    for thing in (t for t in after if t not in before and t not in moved.values()):
        found += _differences(thing, {}, after[thing])
    return tuple(found)


def _differences(
    thing: Thing, before: Mapping[str, str], after: Mapping[str, str]
) -> Iterator[Change]:
    if before and after:
        for what in dict.fromkeys((*before, *after)):
            if before.get(what) != after.get(what):
                old, new = before.get(what, "–"), after.get(what, "–")
                yield _change(thing, before, what, old, new)
    elif before or after:
        old, new = (
            join(", ", (join(" ", [term(k)] + [v] * bool(v)) for k, v in cells.items()))
            for cells in (before, after)
        )
        yield _change(thing, before or after, "", old, new)


def _change(thing: Thing, cells: Mapping[str, str], what: str, old: str, new: str) -> Change:
    table, key = thing
    return Change(
        kind=KINDS.get(table, table),
        key=key,
        name=cells.get("name", key),
        what=what,
        old=old,
        new=new,
    )


def _things(catalogue: Catalogue, places: int) -> dict[Thing, dict[str, str]]:
    """What the file says of each thing, each entry as a text."""
    tables = tables_of(catalogue, places).items()
    return {(table, key): dict(_cells(one)) for table, all_ in tables for key, one in all_.items()}


def _cells(entry: Any, above: str = "") -> Iterator[tuple[str, str]]:
    if not isinstance(entry, dict):
        yield above, _cell(entry)
        return
    for key, value in entry.items():
        yield from _cells(value, f"{above} {key}".strip().replace("_", " "))


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return say("yes") if value else say("no")
    if isinstance(value, dict):  # a price for several
        quantity, price = map(_cell, value.values())
        return say("{n} for {money}", n=quantity, money=figure(price))
    return join(", ", map(_cell, value)) if isinstance(value, list) else str(value)


def renamed(old: Catalogue, new: Catalogue) -> dict[Thing, Thing]:
    """Things that left under one key and came under another, with the same name."""
    found: dict[Thing, Thing] = {}
    for table in KINDS:
        before, after = getattr(old, table), getattr(new, table)
        came = {v.name.casefold(): k for k, v in after.items() if k not in before}
        for key, thing in before.items():
            if key not in after and thing.name.casefold() in came:
                found[table, key] = table, came.pop(thing.name.casefold())
    return found


# -- what is asked


def asked_of(
    old: Catalogue,
    new: Catalogue,
    tried: Said,
    money: Callable[[int], str],
    rows: Iterable[LotRow] = (),
) -> tuple[Question, ...]:
    """What a person must say before ``new`` takes the place of ``old``. ``rows`` are the lots
    that may still be on hand then."""
    moved = renamed(old, new)
    return (
        *_lost(old, new, moved, tried),
        *_no_longer_near(old, new, moved, tried),
        *_prices(old, new, moved, money, tried),
        *_not_cooled(old, new, tried),
        *_on_hand(old, new, moved, rows, tried),
    )


def _lost(
    old: Catalogue, new: Catalogue, moved: Mapping[Thing, Thing], tried: Said
) -> Iterator[Question]:
    """Allergens that go from an ingredient, or from a product by its recipe; each is asked where
    it went, not once more for all that the ingredient is in."""

    def within(keys: Iterable[str]) -> set[str]:
        """By what the ingredients were; by what they are where they are new."""
        return {a for k in keys for a in (old if k in old.ingredients else new).allergens_of(k)}

    for table in ("ingredients", "products", "toppings"):
        for key, was in getattr(old, table).items():
            now = getattr(new, table).get(moved.get((table, key), (table, key))[1])
            if now is None:
                continue
            if table == "ingredients":
                about, before = f"allergen.{key}", set(old.allergens_of(key))
                after = set(now.allergens) | within(p.ingredient for p in now.parts)
            elif table == "products":
                about = f"recipe.{key}"
                before, after = (within(p.ingredient for p in one.recipe) for one in (was, now))
            else:
                about = f"topping.{key}.allergen"
                before, after = within([was.ingredient]), within([now.ingredient])
            if lost := sorted(before - after):
                yield Question(
                    about=about,
                    tried=tried,
                    clause=ALLERGEN_LAW,
                    text=say(
                        "{name} loses {names} as an allergen", name=was.name, names=named(lost)
                    ),
                )


def _no_longer_near(
    old: Catalogue, new: Catalogue, moved: Mapping[Thing, Thing], tried: Said
) -> Iterator[Question]:
    """What may get into a product, or into all of the kitchen's, and is not named any more."""
    near = {"kitchen": (term("the kitchen"), set(old.may_contain) - set(new.may_contain))}
    for key, was in old.products.items():
        then = moved.get(("products", key), ("", key))[1]
        if then in new.products:
            near[key] = Said(was.name), set(was.may_contain) - set(new.may_contain_of(then))
    for key, (name, gone) in near.items():
        if gone:
            yield Question(
                about=f"may-contain.{key}",
                tried=tried,
                clause=ALLERGEN_LAW,
                text=say(
                    "{what} may not contain {names} any more", what=name, names=named(sorted(gone))
                ),
            )


def _not_cooled(old: Catalogue, new: Catalogue, tried: Said) -> Iterator[Question]:
    """Products that begin to be kept cold for days without that anybody notes their cooling."""

    def so(one: Product) -> bool:
        return not one.cooled and one.held != "room" and one.keeps > 1

    for key, now in new.products.items():
        if so(now) and not (key in old.products and so(old.products[key])):
            yield Question(
                about=f"cooled.{key}",
                tried=tried,
                clause="Food Code 3-501.14",
                text=say(
                    "{name} keeps for {n} days, and its cooling is not noted",
                    name=now.name,
                    n=now.keeps,
                ),
            )


def _prices(
    old: Catalogue,
    new: Catalogue,
    moved: Mapping[Thing, Thing],
    money: Callable[[int], str],
    tried: Said,
) -> Iterator[Question]:
    """Prices for as much that move by a third or more: common practice, no source."""
    for table, about in (("portions", "price"), ("toppings", "topping")):
        for key, was in getattr(old, table).items():
            now = getattr(new, table).get(moved.get((table, key), (table, key))[1])
            if now is None:
                continue
            before, after = _prices_of(was), _prices_of(now)
            (much, of), (more, then) = _amount_of(was, old), _amount_of(now, new)
            of, then = (of, then) if of != then else (NOTHING, NOTHING)
            for what in (w for w in before if w in after):
                for_one, moved_to = before[what] / much, after[what] / more
                if 3 * abs(moved_to - for_one) >= for_one and moved_to != for_one:
                    text = say(
                        "{name} costs {costs} and not {cost}",
                        name=was.name,
                        costs=join("/", filter(None, (money(after[what]), then))),
                        cost=join("/", filter(None, (money(before[what]), of))),
                    )
                    yield Question(about=f"{about}.{key}{what}", tried=tried, text=text)


def _amount_of(thing: Portion | Topping, catalogue: Catalogue) -> tuple[Fraction, Said]:
    """How much a price is for, as a number and as it stands behind the price."""
    if isinstance(thing, Topping):
        return Fraction(1), NOTHING
    if thing.per:
        return Fraction(parse_measure(f"1 {thing.per}").base), Said(thing.per)
    unit = catalogue.product(thing.product).unit
    return Fraction(thing.draws), show_amount(thing.draws, unit)


def _prices_of(thing: Any) -> dict[str, int]:
    """The prices of a portion or a topping, by what is added to its key."""
    found = {"": thing.price}
    if isinstance(thing, Portion):
        found |= {f".{b.quantity}": b.price for b in thing.breaks}
        found |= {} if thing.last_day_price is None else {".last-day": thing.last_day_price}
    return found


def _on_hand(
    old: Catalogue,
    new: Catalogue,
    moved: Mapping[Thing, Thing],
    rows: Iterable[LotRow],
    tried: Said,
) -> Iterator[Question]:
    there: dict[str, int] = {}
    for row in rows:
        there[row.lot.product] = there.get(row.lot.product, 0) + row.there
    for key, amount in there.items():
        was, now = old.products.get(key), new.products.get(key)
        if was is None or not amount:
            continue
        what: dict[str, Any] = {"name": was.name, "amount": show_amount(amount, was.unit)}
        if ("products", key) in moved:
            text = say(
                "{name} gets another key, and {amount} of it are on hand, to be sold as before",
                **what,
            )
        elif now is None:
            text = say(
                "{name} leaves the catalogue, and {amount} of it are on hand, to be sold still",
                **what,
            )
        elif now.unit != was.unit:
            text = say(
                "{name} has another unit, and {amount} of it on hand could not be sold any more",
                **what,
            )
        else:
            continue
        yield Question(about=f"on-hand.{key}", tried=tried, text=text)
