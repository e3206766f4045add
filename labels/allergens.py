"""The sources of food allergy a label must name, and what they are called.

United States: 21 USC 321(qq), nine sources, sesame since 2023-01-01. European Union: Regulation
1169/2011 Annex II, fourteen. A key names one source; where the law asks for the kind, it follows
behind a colon: ``tree-nut:almond``, ``fish:cod``, ``crustacean:shrimp``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from labels.errors import BadValue

# key: (US name or "" where US law does not list it, English, German, French)
SOURCES = {
    "milk": ("milk", "milk", "Milch", "lait"),
    "egg": ("egg", "egg", "Ei", "œuf"),
    "fish": ("fish", "fish", "Fisch", "poisson"),
    "crustacean": ("crustacean shellfish", "crustaceans", "Krebstiere", "crustacés"),
    "tree-nut": ("tree nuts", "nuts", "Schalenfrüchte", "fruits à coque"),
    "wheat": ("wheat", "wheat", "Weizen", "blé"),
    "peanut": ("peanuts", "peanuts", "Erdnüsse", "arachides"),
    "soy": ("soy", "soya", "Soja", "soja"),
    "sesame": ("sesame", "sesame", "Sesam", "sésame"),
    "rye": ("", "rye", "Roggen", "seigle"),
    "barley": ("", "barley", "Gerste", "orge"),
    "oats": ("", "oats", "Hafer", "avoine"),
    "celery": ("", "celery", "Sellerie", "céleri"),
    "mustard": ("", "mustard", "Senf", "moutarde"),
    "sulphites": ("", "sulphites", "Sulfite", "sulfites"),
    "lupin": ("", "lupin", "Lupinen", "lupin"),
    "mollusc": ("", "molluscs", "Weichtiere", "mollusques"),
}
KINDS = ("fish", "crustacean", "tree-nut")  # 21 USC 343(w)(2): the species or nut is named

# What in a name already says the source as Annex II calls it, so that it need not be added. Of nuts
# the annex names each kind, so the kind alone counts; "cod" does not say fish.
_SAYS = {
    "milk": r"milk(?!fish)|milch(?!säure)|\blait\b",
    "egg": r"\beggs?\b|\bei(?:er|gelb|weiß)?\b|\b(?:œ|oe)ufs?\b",
    "fish": r"(?<!shell)(?<!cray)(?<!cuttle)(?<!jelly)fish|(?<!tinten)fisch|poisson",
    "crustacean": r"crustacean|krebstier|crustacé",
    "wheat": r"(?<!buck)wheat|(?<!buch)weizen|\bblé\b(?! noir)|froment",
    "peanut": r"peanut|erdn[uü]ss|arachide|cacahuète",
    "soy": r"soy|soja",
    "sesame": r"sesam|sésame",
    "rye": r"\brye\b|roggen|seigle",
    "barley": r"barley|gerste|\borge\b",
    "oats": r"\boat|hafer|avoine",
    "celery": r"celery|sellerie|céleri",
    "mustard": r"mustard|senf|moutarde",
    "sulphites": r"sulphite|sulfit",
    "lupin": r"lupin",
    "mollusc": r"mollusc|weichtier|mollusque",
}
# Milk in name only: "coconut milk" does not say that there is milk in it, "soy milk" says soy.
_PLANT_MILK = re.compile(
    r"\b(soya?|soja|coconut|kokos(?:nuss)?|almond|mandel|oat|hafer|rice|reis)[ -]?(?:milk|milch)"
    r"|\blait (?=de (?:soja|coco|riz)|d[’'](?:amande|avoine))"
)
_COLUMN = {"us": 0, "en": 1, "de": 2, "fr": 3}


def check_source(key: str, where: str) -> None:
    """Raise BadValue unless ``key`` is a known source, with its kind where one must be named."""
    source, _, kind = key.partition(":")
    tried = f"note allergen '{key}' of ingredient '{where}'"
    if source not in SOURCES:
        raise BadValue(tried, "the source is not known", f"Use one of {', '.join(SOURCES)}")
    if source in KINDS and not kind.strip():
        do = f"Write {source}: and the kind, such as tree-nut:almond, fish:cod, crustacean:shrimp"
        raise BadValue(tried, "the law asks for the kind", do)
    if source not in KINDS and kind:
        raise BadValue(tried, f"'{source}' has no kinds", f"Write {source}")


def us_names(keys: tuple[str, ...]) -> list[str]:
    """Source names in the order of ``keys``; kinds in brackets behind their source.

    >>> us_names(("soy", "tree-nut:almond", "fish:cod", "tree-nut:cashew", "celery"))
    ['soy', 'tree nuts (almond, cashew)', 'fish (cod)']
    """
    kinds: dict[str, list[str]] = {}
    for key in keys:
        source, _, kind = key.partition(":")
        kinds.setdefault(source, []).extend([kind.strip()] if kind else [])
    names = []
    for source, found in kinds.items():
        name = SOURCES[source][_COLUMN["us"]]
        if name:
            names.append(f"{name} ({', '.join(dict.fromkeys(found))})" if found else name)
    return names


def eu_names(keys: Iterable[str], language: str) -> list[str]:
    """The sources as Annex II names them, each once: nuts one by one, fish as fish.

    >>> eu_names(("soy", "tree-nut:almond", "fish:cod", "fish:anchovy"), "en")
    ['soya', 'almond', 'fish']
    """
    names = []
    for key in keys:
        source, _, kind = key.partition(":")
        names.append(kind.strip() if source == "tree-nut" else SOURCES[source][_COLUMN[language]])
    return list(dict.fromkeys(names))


def said_by_name(key: str, name: str) -> bool:
    """Whether the name of an ingredient, or of the food, already names the source.

    EU 1169/2011 Art. 21(1): by a clear reference to what Annex II calls it.

    >>> said_by_name("soy", "Soybeans"), said_by_name("wheat", "seitan")
    (True, False)
    >>> said_by_name("tree-nut:almond", "walnuts"), said_by_name("fish:cod", "cod")
    (False, False)
    >>> said_by_name("milk", "coconut milk powder"), said_by_name("soy", "soy milk")
    (False, True)
    """
    source, _, kind = key.partition(":")
    words = _PLANT_MILK.sub(r"\1", name.casefold())
    if source == "tree-nut":
        return kind.strip().casefold() in words
    return re.search(_SAYS[source], words) is not None
