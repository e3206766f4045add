"""What is in a batch in the end: what was put in, and what came in with older stock.

The list of ingredients and the allergens of a pack come from what went in (21 CFR 101.4(a), 21 USC
343(w), Regulation (EU) 1169/2011 Art. 9(1)(b) and (c)). Older stock brings its own along: what a
recipe has not, and a mixed-in lot has, must be said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from counter.trade.catalogue import Catalogue, Part
from counter.trade.production import Batch

BatchOf = Callable[[str], Batch]
"""Finds a batch by its lot."""


def told_of(batch: Batch, catalogue: Catalogue, batch_of: BatchOf) -> list[str]:
    """Sentences about what its label names otherwise than the recipe does."""
    mixed = [p for m in batch.mixed for p in parts_within(batch_of(m.lot), batch_of)]
    return left_out(batch.ingredients, catalogue, mixed) + brought(batch, catalogue, batch_of)


def left_out(parts: Sequence[Part], catalogue: Catalogue, mixed: Sequence[Part] = ()) -> list[str]:
    """Sentences about what was left out of a batch, and the allergens its label loses by that.

    ``mixed`` is what came in with older stock: its allergens are not lost.
    """
    there = _allergens([*parts, *mixed], catalogue)
    warnings: list[str] = []
    for part in (p for p in parts if not p.grams):
        item = catalogue.ingredients.get(part.ingredient)
        name = item.name if item else part.ingredient
        lost = sorted(set(catalogue.allergens_of(part.ingredient)) - there)
        if not lost:
            warnings.append(f"{name} was left out: the label does not name it")
            continue
        names = _named(lost)
        warnings.append(
            f"{name} was left out: the label does not name it, nor {names} as an allergen. "
            "Make sure that none went in"
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
    found = []
    for mixed in batch.mixed:
        source = batch_of(mixed.lot)
        if not _ends(parts_within(source, batch_of), catalogue) <= known:
            found.append((source, mixed.amount))
    return found


def parts_within(
    batch: Batch, batch_of: BatchOf, seen: frozenset[str] = frozenset()
) -> Iterator[Part]:
    """What went into a batch and, generation after generation, into the lots mixed into it."""
    yield from batch.ingredients
    seen |= {batch.lot}  # two lots may each have been corrected to hold the other
    for mixed in (m for m in batch.mixed if m.lot not in seen):
        yield from parts_within(batch_of(mixed.lot), batch_of, seen)


def brought(batch: Batch, catalogue: Catalogue, batch_of: BatchOf) -> list[str]:
    """Sentences about the allergens that came into a batch only with older stock."""
    own = _allergens(batch.ingredients, catalogue)
    warnings = []
    for source, _ in bringing(batch, catalogue, batch_of):
        new = _allergens(parts_within(source, batch_of), catalogue) - own
        if new:
            warnings.append(
                f"lot {source.lot} brings {_named(sorted(new))} into it: the label names it as an "
                "allergen"
            )
    return warnings


def _ends(parts: Iterable[Part], catalogue: Catalogue) -> frozenset[str]:
    return frozenset().union(*(ends_of(p.ingredient, catalogue) for p in parts if p.grams))


def _allergens(parts: Iterable[Part], catalogue: Catalogue) -> set[str]:
    return {a for p in parts if p.grams for a in catalogue.allergens_of(p.ingredient)}


def _named(allergens: Sequence[str]) -> str:
    """Source keys as words: ``wheat``, ``tree-nut:almond`` as almond."""
    return " and ".join(key.rpartition(":")[2].replace("-", " ") for key in allergens)
