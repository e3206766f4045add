"""Wordings by language. Data, no rule: what is asked for by law stands in ``us`` and ``eu``.

EU wordings: Regulation 1169/2011 Annex X (date marks; "frozen on" in French there, else from
memory), Annex VI A 2 ("defrosted", from memory) and Annex IX (drained weight) in the three
languages; the others are common practice, no source.
"""

from __future__ import annotations

from datetime import date

import msgspec

from labels.errors import MissingFact
from labels.say import say

NO_BREAK = "\u00a0"


class Words(msgspec.Struct, frozen=True, kw_only=True):
    """What a label says in one language, whatever the market. ``net`` is for a mass and for
    anything else; ``{at}`` is a temperature as the market writes it; ``sulfites`` is what US law
    calls them where nobody knows which they are."""

    ingredients: str
    contains: str
    may_contain: str
    storage: str
    frozen: str
    defrosted: str
    net: tuple[str, str]
    pieces: tuple[str, str]
    sulfites: str
    comma: str = ", "
    end: str = "."


# From memory; a native reader should check before print.
WORDS = {
    "es": Words(
        ingredients="Ingredientes: ",
        contains="Contiene: ",
        may_contain="Puede contener: ",
        storage="Manténgase refrigerado a {at} o menos.",
        frozen="Manténgase congelado a {at} o menos.",
        defrosted="descongelado",
        net=("PESO NETO", "CONT. NETO"),
        pieces=("pieza", "piezas"),
        sulfites="agentes sulfitantes",
    ),
    "zh": Words(
        ingredients="成分：",
        contains="含有：",
        may_contain="可能含有：",
        storage="请于{at}或以下冷藏。",
        frozen="请于{at}或以下冷冻保存。",
        defrosted="解冻",
        net=("净重", "净含量"),
        pieces=("件", "件"),
        sulfites="亚硫酸盐",
        comma="、",
        end="。",
    ),
    "vi": Words(
        ingredients="Thành phần: ",
        contains="Chứa: ",
        may_contain="Có thể chứa: ",
        storage="Bảo quản lạnh ở {at} trở xuống.",
        frozen="Bảo quản đông lạnh ở {at} trở xuống.",
        defrosted="đã rã đông",
        net=("KHỐI LƯỢNG TỊNH", "THỂ TÍCH THỰC"),
        pieces=("miếng", "miếng"),
        sulfites="chất sulfit",
    ),
    "fr": Words(
        ingredients="Ingrédients : ",
        contains="Contient : ",
        may_contain="Peut contenir : ",
        storage="À conserver au réfrigérateur, à {at} au maximum.",
        frozen="À conserver congelé, à {at} au maximum.",
        defrosted="décongelé",
        net=("POIDS NET", "CONTENU NET"),
        pieces=("pièce", "pièces"),
        sulfites="agents de sulfitage",
    ),
    "de": Words(
        ingredients="Zutaten: ",
        contains="Enthält: ",
        may_contain="Kann enthalten: ",
        storage="Gekühlt bei höchstens {at} lagern.",
        frozen="Tiefgekühlt bei höchstens {at} lagern.",
        defrosted="aufgetaut",
        net=("NETTOGEWICHT", "NETTOFÜLLMENGE"),
        pieces=("Stück", "Stück"),
        sulfites="Sulfite",
    ),
    "en": Words(
        ingredients="Ingredients: ",
        contains="Contains: ",
        may_contain="May contain: ",
        storage="Keep refrigerated at {at} or below.",
        frozen="Keep frozen at {at} or below.",
        defrosted="defrosted",
        net=("NET WT", "NET"),
        pieces=("piece", "pieces"),
        sulfites="sulfiting agents",
    ),
}


class EuWords(msgspec.Struct, frozen=True, kw_only=True):
    """What EU law asks for beside the words of the language. ``{names}`` are sources of allergy,
    ``colon`` includes spaces."""

    common: Words
    contains: str
    may_contain: str
    best_by: str
    use_by: str
    packed: str
    frozen_on: str
    net_weight: str
    drained: str
    point: str
    colon: str = ": "


EU_WORDS = {
    "en": EuWords(
        common=WORDS["en"],
        contains="Contains",
        may_contain="May contain {names}.",
        best_by="Best before",
        use_by="Use by",
        packed="Packed on",
        frozen_on="Frozen on",
        net_weight="Net weight",
        drained="Drained net weight",
        point=".",
    ),
    "de": EuWords(
        common=WORDS["de"],
        contains="Enthält",
        may_contain="Kann Spuren enthalten: {names}.",
        best_by="Mindestens haltbar bis",
        use_by="Zu verbrauchen bis",
        packed="Verpackt am",
        frozen_on="Eingefroren am",
        net_weight="Nettogewicht",
        drained="Abtropfgewicht",
        point=",",
    ),
    "fr": EuWords(
        common=WORDS["fr"],
        contains="Contient",
        may_contain="Peut contenir des traces de : {names}.",
        best_by="À consommer de préférence avant le",
        use_by="À consommer jusqu’au",
        packed="Emballé le",
        frozen_on="Produit congelé le",
        net_weight="Poids net",
        drained="Poids net égoutté",
        point=",",
        colon=" : ",  # French sets a space before the colon; wrapping never breaks there
    ),
}


def eu_words(language: str) -> EuWords:
    """The wordings of ``language``. Raises MissingFact where the table has none."""
    words = EU_WORDS.get(language.split("-")[0])
    if words is None:
        why = say("there are no wordings in '{language}'", language=language)
        do = say("Use one of {names}", names=", ".join(EU_WORDS))
        raise MissingFact(say("write an EU label in '{language}'", language=language), why, do)
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
