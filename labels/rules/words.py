"""Wordings by language. Data, no rule: what is asked for by law stands in ``us`` and ``eu``.

EU wordings: Regulation 1169/2011 Annex X (date marks) and Annex IX (drained weight) in the three
languages; the others are common practice, no source.
"""

from __future__ import annotations

from datetime import date

import msgspec

from labels.errors import MissingFact

NO_BREAK = "\u00a0"


class Words(msgspec.Struct, frozen=True, kw_only=True):
    """The fixed wordings of one language. ``{c}`` is a temperature, ``colon`` includes spaces."""

    ingredients: str
    contains: str
    best_by: str
    use_by: str
    packed: str
    storage: str
    net_weight: str
    drained: str
    point: str
    pieces: tuple[str, str]  # one of them, several
    colon: str = ": "


EU_WORDS = {
    "en": Words(
        ingredients="Ingredients",
        contains="Contains",
        best_by="Best before",
        use_by="Use by",
        packed="Packed on",
        storage="Keep refrigerated at {c} °C or below.",
        net_weight="Net weight",
        drained="Drained net weight",
        point=".",
        pieces=("piece", "pieces"),
    ),
    "de": Words(
        ingredients="Zutaten",
        contains="Enthält",
        best_by="Mindestens haltbar bis",
        use_by="Zu verbrauchen bis",
        packed="Verpackt am",
        storage="Gekühlt bei höchstens {c} °C lagern.",
        net_weight="Nettogewicht",
        drained="Abtropfgewicht",
        point=",",
        pieces=("Stück", "Stück"),
    ),
    "fr": Words(
        ingredients="Ingrédients",
        contains="Contient",
        best_by="À consommer de préférence avant le",
        use_by="À consommer jusqu’au",
        packed="Emballé le",
        storage="À conserver au réfrigérateur, à {c} °C au maximum.",
        net_weight="Poids net",
        drained="Poids net égoutté",
        point=",",
        pieces=("pièce", "pièces"),
        colon=" : ",  # French sets a space before the colon; wrapping never breaks there
    ),
}

# Heading and "contains" of a second language on a US label (21 CFR 101.15(c)(2), from memory:
# what is said in English is then said in the other language too), with the nine sources.
SECOND_WORDS: dict[str, dict[str, str]] = {
    "es": {
        "ingredients": "Ingredientes: ", "contains": "Contiene: ", "and": ", ", "end": ".",
        "milk": "leche", "egg": "huevo", "fish": "pescado", "crustacean": "crustáceos",
        "tree-nut": "nueces de árbol", "wheat": "trigo", "peanut": "cacahuates", "soy": "soya",
        "sesame": "sésamo",
    },
    "zh": {
        "ingredients": "成分：", "contains": "含有：", "and": "、", "end": "。",
        "milk": "牛奶", "egg": "鸡蛋", "fish": "鱼", "crustacean": "甲壳类", "tree-nut": "坚果",
        "wheat": "小麦", "peanut": "花生", "soy": "大豆", "sesame": "芝麻",
    },
    "vi": {
        "ingredients": "Thành phần: ", "contains": "Chứa: ", "and": ", ", "end": ".",
        "milk": "sữa", "egg": "trứng", "fish": "cá", "crustacean": "giáp xác",
        "tree-nut": "các loại hạt", "wheat": "lúa mì", "peanut": "đậu phộng", "soy": "đậu nành",
        "sesame": "mè",
    },
    "fr": {
        "ingredients": "Ingrédients : ", "contains": "Contient : ", "and": ", ", "end": ".",
        "milk": "lait", "egg": "œuf", "fish": "poisson", "crustacean": "crustacés",
        "tree-nut": "noix", "wheat": "blé", "peanut": "arachides", "soy": "soya",
        "sesame": "sésame",
    },
}  # fmt: skip


def eu_words(language: str) -> Words:
    """The wordings of ``language``. Raises MissingFact where the table has none."""
    words = EU_WORDS.get(language.split("-")[0])
    if words is None:
        known = ", ".join(EU_WORDS)
        why = f"there are no wordings in '{language}'"
        raise MissingFact(f"write an EU label in '{language}'", why, f"Use one of {known}")
    return words


def long_date(day: date, language: str) -> str:
    """Day, month in letters, year, in that order, uncoded (EU 1169/2011 Annex X).

    Its spaces are no-break spaces: a date stays on one line.

    >>> long_date(date(2026, 11, 30), "de").split()
    ['30.', 'November', '2026']
    """
    from babel.dates import format_date  # babel costs 30 ms, which `import labels` shall not

    locale = {"en": "en_GB"}.get(language, language)
    text = format_date(day, "long", locale=locale).replace(" ", NO_BREAK)
    return f"1er{text[1:]}" if language == "fr" and day.day == 1 else text


def us_date(day: date) -> str:
    """``Nov 30, 2026``: the month in letters, so that nobody takes the month for the day."""
    from babel.dates import format_date

    return format_date(day, "medium", locale="en_US").replace(" ", NO_BREAK)
