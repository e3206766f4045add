"""The sources of food allergy a label must name, and what they are called.

United States: 21 USC 321(qq), nine sources, sesame since 2023-01-01. European Union: Regulation
1169/2011 Annex II, fourteen. A key names one source; where the law asks for the kind, it follows
behind a colon: ``tree-nut:almond``, ``fish:cod``, ``crustacean:shrimp``.
"""

from __future__ import annotations

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

# What in an ingredient's own name already says the source, so that it need not be added.
STEMS = {
    "milk": ("milk", "milch", "lait"),
    "egg": ("egg", "ei", "œuf", "oeuf"),
    "fish": ("fish", "fisch", "poisson"),
    "crustacean": ("crustacean", "krebstier", "crustacé"),
    "tree-nut": ("nut", "nuss", "nüsse", "noix", "noisette"),
    "wheat": ("wheat", "weizen", "blé", "froment"),
    "peanut": ("peanut", "erdnuss", "erdnüsse", "arachide", "cacahuète"),
    "soy": ("soy", "soja"),
    "sesame": ("sesam", "sésame"),
    "rye": ("rye", "roggen", "seigle"),
    "barley": ("barley", "gerste", "orge"),
    "oats": ("oat", "hafer", "avoine"),
    "celery": ("celery", "sellerie", "céleri"),
    "mustard": ("mustard", "senf", "moutarde"),
    "sulphites": ("sulphite", "sulfit"),
    "lupin": ("lupin",),
    "mollusc": ("mollusc", "weichtier", "mollusque"),
}
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


def eu_name(key: str, language: str) -> str:
    """The source as Annex II names it; of nuts, fish and crustaceans the kind itself first.

    >>> eu_name("soy", "en"), eu_name("tree-nut:almond", "de")
    ('soya', 'Schalenfrüchte: almond')
    """
    source, _, kind = key.partition(":")
    name = SOURCES[source][_COLUMN[language]]
    return f"{name}: {kind.strip()}" if kind else name


def said_by_name(key: str, name: str) -> bool:
    """Whether an ingredient's own name already names the source.

    >>> said_by_name("soy", "Soybeans"), said_by_name("wheat", "seitan")
    (True, False)
    """
    source, _, kind = key.partition(":")
    words = name.casefold()
    if kind and kind.strip().casefold() in words:
        return True
    if source == "egg":  # "ei" is part of too many German words to be sought inside them
        return any(word in ("egg", "eggs", "ei", "eier", "œuf", "œufs") for word in words.split())
    return any(stem in words for stem in STEMS[source])
