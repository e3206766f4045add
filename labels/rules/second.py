"""The second language of a label: all of it or none of it.

21 CFR 101.15(c)(2): where a label says anything in another language, every word that the law asks
for stands in that language too. FDA CPG 562.400: a foreign word that is the one common name of the
food does not bring this about. In the EU several languages may stand (1169/2011 Art. 15(3)); that
half of one misleads (Art. 7(1)) is our own reading.
"""

from __future__ import annotations

from collections.abc import Iterable

from labels.allergens import kind_named
from labels.errors import MissingFact
from labels.facts import Facts, Ingredient
from labels.say import say
from labels.words import WORDS, Words

MOST_NAMED = 8  # in one sentence
NO_SECOND_NAME = say("no second name is given, and half a language does not stand")
_COMMON_NAMES = ("tofu",)  # CPG 562.400; that tofu is one of these is our own reading


def second_words(
    facts: Facts, items: Iterable[Ingredient], keys: Iterable[str], law: str
) -> Words | None:
    """The words of the second language, or None where the label does not speak it.

    ``items`` are the listed ingredients, ``keys`` the allergen keys whose kinds are named. Raises
    MissingFact with everything that has no name in that language; not for ``tofu``, which stands as
    it is.
    """
    if not facts.second_name:
        return None
    second, language = facts.second_name, facts.second_language
    if language not in WORDS:
        why = say("there are no wordings in '{language}'", language=language)
        do = say("Use one of {names}", names=", ".join(WORDS))
    elif lacking := [
        *_unnamed(items),
        *(k for k in keys if ":" in k and not kind_named(k, language)),
    ]:
        different = list(dict.fromkeys(lacking))
        names = ", ".join(different[:MOST_NAMED]) + ", …" * (len(different) > MOST_NAMED)
        why = say(
            "half a language does not stand ({law}), and these have no name in it: {names}",
            law=law,
            names=names,
        )
        do = say("Give their second names, or take that of the product away")
    else:
        return WORDS[language]
    if second.strip().casefold() in _COMMON_NAMES:
        return None
    tried = say("print the second name '{second}' of '{name}'", second=second, name=facts.name)
    raise MissingFact(tried, why, do)


def _unnamed(items: Iterable[Ingredient]) -> Iterable[str]:
    """The ingredients, and parts of them, that have no name in the second language."""
    for item in items:
        if not item.aid or item.all_allergens():
            if not item.second:
                yield item.name
            yield from _unnamed(item.parts)
