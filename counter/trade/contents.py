"""What is in a batch in the end: what was put in, and what came in with older stock.

The list of ingredients and the allergens of a pack come from what went in (21 CFR 101.4(a), 21 USC
343(w), Regulation (EU) 1169/2011 Art. 9(1)(b) and (c)). Older stock brings its own along: what a
recipe has not, and a mixed-in lot has, must be said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

import msgspec

from counter.trade.catalogue import Catalogue, Ingredient, Part
from counter.trade.production import Batch
from labels.say import Said, all_of, say, term

BatchOf = Callable[[str], Batch]
"""Finds a batch by its lot."""


def told_of(batch: Batch, catalogue: Catalogue, batch_of: BatchOf) -> list[Said]:
    """Sentences about what its label names otherwise than the recipe does."""
    mixed = [p for m in batch.mixed for p in parts_within(batch_of(m.lot), batch_of)]
    return left_out(batch.ingredients, catalogue, mixed) + brought(batch, catalogue, batch_of)


def left_out(parts: Sequence[Part], catalogue: Catalogue, mixed: Sequence[Part] = ()) -> list[Said]:
    """Sentences about what was left out of a batch, and the allergens its label loses by that.

    ``mixed`` is what came in with older stock: its allergens are not lost.
    """
    there = _allergens([*parts, *mixed], catalogue)
    warnings: list[Said] = []
    for part in (p for p in parts if not p.grams):
        item = catalogue.ingredients.get(part.ingredient)
        name = item.name if item else part.ingredient
        lost = sorted(set(catalogue.allergens_of(part.ingredient)) - there)
        if not lost:
            warnings.append(say("{name} was left out: the label does not name it", name=name))
            continue
        warnings.append(
            say(
                "{name} was left out: the label does not name it, nor {names} as an allergen."
                " Make sure that none went in",
                name=name,
                names=named(lost),
            )
        )
    return warnings


def ends_of(key: str, catalogue: Catalogue) -> frozenset[str]:
    """The ingredients that an ingredient comes down to: itself, or those in it."""
    item = catalogue.ingredients.get(key)
    if item is None or not item.parts:
        return frozenset({key})
    return frozenset().union(*(ends_of(part.ingredient, catalogue) for part in item.parts))


def bringing(batch: Batch, catalogue: Catalogue, batch_of: BatchOf) -> list[tuple[Batch, int]]:
    """The lots mixed into a batch, and how much of each, that hold what it does not name itself.

    Blocks of the morning in a smoked tofu whose recipe says tofu bring nothing new; fried puffs in
    a firm tofu bring the wheat they were dredged in.
    """
    known = _ends(batch.ingredients, catalogue)
    declared = _allergens(batch.ingredients, catalogue)  # some stand on a compound, not on a part
    found = []
    for mixed in batch.mixed:
        source = batch_of(mixed.lot)
        parts = list(parts_within(source, batch_of))
        if not (_ends(parts, catalogue) <= known and _allergens(parts, catalogue) <= declared):
            found.append((source, mixed.amount))
    return found


def generations(
    batch: Batch, batch_of: BatchOf, seen: frozenset[str] = frozenset()
) -> Iterator[Batch]:
    """A batch and, generation after generation, the lots mixed into it."""
    yield batch
    seen |= {batch.lot}  # two lots may each have been corrected to hold the other
    for mixed in (m for m in batch.mixed if m.lot not in seen):
        yield from generations(batch_of(mixed.lot), batch_of, seen)


def parts_within(batch: Batch, batch_of: BatchOf) -> Iterator[Part]:
    """What went into a batch and into all the lots within it."""
    for one in generations(batch, batch_of):
        yield from one.ingredients


def allergens_within(batch: Batch, catalogue: Catalogue, batch_of: BatchOf) -> set[str]:
    """Source keys of everything in a batch."""
    return _allergens(parts_within(batch, batch_of), catalogue)


def may_contain_within(
    batches: Iterable[Batch], product: str, catalogue: Catalogue, batch_of: BatchOf
) -> tuple[str, ...]:
    """Source keys of what may get into a product and into every lot within its batches."""
    within = (one.product for batch in batches for one in generations(batch, batch_of))
    keys = (key for one in (product, *within) for key in catalogue.may_contain_of(one))
    return tuple(dict.fromkeys(keys))


def listed_of(batch: Batch) -> list[str]:
    """What its label lists, in the order of weight, and the lots within it."""
    parts = sorted((p for p in batch.ingredients if p.grams), key=lambda p: -p.grams)
    return [p.ingredient for p in parts] + [m.lot for m in batch.mixed]


def taken_back(old: Batch, batch: Batch, catalogue: Catalogue, batch_of: BatchOf) -> list[Said]:
    """A sentence about the allergens that a correction takes off the label, where there are any.

    What is noted as left out has its own: see :func:`left_out`.
    """
    lost = allergens_within(old, catalogue, batch_of) - allergens_within(batch, catalogue, batch_of)
    for part in (p for p in batch.ingredients if not p.grams):
        lost -= set(catalogue.allergens_of(part.ingredient))
    warnings: list[Said] = []
    if lost:
        warnings.append(
            say(
                "the label does not name {names} as an allergen any more."
                " Make sure that none went in",
                names=named(sorted(lost)),
            )
        )
    return warnings


def join_catalogues(catalogues: Sequence[Catalogue]) -> Catalogue:
    """The last of some catalogues that were in use one after the other, for food that was made
    under the first.

    What an ingredient is made of does not change in food that is made: the first catalogue that
    knows it says so. Its allergens, and what it may contain, are those that any of them names,
    since a later one may be a correction: one too many is a nuisance, one too few is a danger.
    """
    if len(catalogues) == 1:
        return catalogues[0]
    first: dict[str, Ingredient] = {}
    for catalogue in catalogues:
        first = {**catalogue.ingredients, **first}
    last, products = catalogues[-1], dict(catalogues[0].products)
    for key, product in (pair for c in catalogues[1:] for pair in c.products.items()):
        had = products[key].may_contain if key in products else ()
        all_of = tuple(dict.fromkeys((*had, *product.may_contain)))
        products[key] = msgspec.structs.replace(product, may_contain=all_of)
    joined = msgspec.structs.replace(
        last,
        ingredients=first,
        products=products,
        may_contain=tuple(dict.fromkeys(a for c in catalogues for a in c.may_contain)),
    )
    for key, item in first.items():
        known = [a for c in catalogues for a in c.allergens_of(key)]
        new = [a for a in dict.fromkeys(known) if a not in joined.allergens_of(key)]
        now = last.ingredients.get(key)
        same = now and (now.parts, now.allergens) == (item.parts, item.allergens)
        item = now if now and same else item  # its names may have been corrected
        first[key] = msgspec.structs.replace(item, allergens=(*item.allergens, *new))
    return joined


def brought(batch: Batch, catalogue: Catalogue, batch_of: BatchOf) -> list[Said]:
    """Sentences about the allergens that came into a batch only with older stock."""
    own = _allergens(batch.ingredients, catalogue)
    warnings = []
    for source, _ in bringing(batch, catalogue, batch_of):
        new = _allergens(parts_within(source, batch_of), catalogue) - own
        if new:
            warnings.append(
                say(
                    "lot {lot} brings {names} into it: the label names it as an allergen",
                    lot=source.lot,
                    names=named(sorted(new)),
                )
            )
    return warnings


def _ends(parts: Iterable[Part], catalogue: Catalogue) -> frozenset[str]:
    return frozenset().union(*(ends_of(p.ingredient, catalogue) for p in parts if p.grams))


def _allergens(parts: Iterable[Part], catalogue: Catalogue) -> set[str]:
    return {a for p in parts if p.grams for a in catalogue.allergens_of(p.ingredient)}


def named(allergens: Sequence[str]) -> Said:
    """Source keys as words: ``wheat``, ``tree-nut:almond`` as almond."""
    return all_of(term(key.rpartition(":")[2].replace("-", " ")) for key in allergens)
