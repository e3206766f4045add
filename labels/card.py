"""The counter card: what is in the food that is scooped to order and carries no label.

Food Code 3-602.12(C) (2022, from memory): the customer is told in writing of the major allergens
in unpackaged food. Regulation (EU) 1169/2011 Art. 44: allergens of loose food, and what national
law adds. Neither sets a type size; the card is set to be read across a counter.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from labels.allergens import us_names
from labels.blanks import PAPERS
from labels.boxes import Box, stack
from labels.compose import lines
from labels.errors import BadValue, DoesNotFit
from labels.facts import Facts
from labels.files import write_whole
from labels.fonts import FONT_LOCK, MM, Faces, house_faces, register
from labels.pdf import open_canvas
from labels.rules import Run, Statement, eu_list, us
from labels.rules.statement import plain
from labels.say import figure, say
from labels.words import eu_words
from labels.wrap import atoms_of

CARD_PAPERS = {"a6": (105.0, 148.0), "a5": (148.0, 210.0), **PAPERS}
_BASE = {"a6": 9.5, "a5": 11.5, "a4": 14.0, "letter": 14.0}  # points
_HEADING = {
    "en": "Ingredients and allergens",
    "de": "Zutaten und Allergene",
    "fr": "Ingrédients et allergènes",
}
# With the nine of 21 USC 321(qq), and the fourteen of 1169/2011 Annex II. All but English from
# memory: a native reader should check before print.
_NONE = {
    "en": ("None of the {n} allergens that the law names is an ingredient.", "nine", "fourteen"),
    "de": ("Keines der {n} Allergene, die das Gesetz nennt, ist eine Zutat.", "neun", "vierzehn"),
    "fr": ("Aucun des {n} allergènes que la loi nomme n’est un ingrédient.", "neuf", "quatorze"),
    "es": ("Ninguno de los {n} alérgenos que nombra la ley es ingrediente.", "nueve", "catorce"),
    "zh": ("配料不含法律列明的{n}种过敏原。", "九", "十四"),
    "vi": (
        "Không có nguyên liệu nào là một trong {n} chất gây dị ứng mà luật nêu.",
        "chín",
        "mười bốn",
    ),
}


def write_card(
    path: str | Path,
    foods: Sequence[Facts],
    *,
    market: str,
    paper: str = "a5",
    language: str = "en",
    second_face: str | Path | None = None,
) -> int:
    """Write a card of every food in ``foods``, in their order, and return its number of pages.

    Name, ingredients, allergens of each; a food is not broken over two pages. Raises MissingFact,
    BadValue, NoGlyph, DoesNotFit (one food is longer than a page) and NotWritten.
    """
    if not foods:
        tried = say("write a counter card")
        raise BadValue(tried, say("there is no food on it"), say("Name what is scooped"))
    if paper not in CARD_PAPERS:
        do = say("Use {names}", names=", ".join(CARD_PAPERS))
        tried = say("write a counter card on {paper}", paper=paper)
        raise BadValue(tried, say("it is not known"), do)
    faces = house_faces(second_face)
    width, height = (side * MM for side in CARD_PAPERS[paper])
    margin, base = width * 0.09, _BASE[paper]
    heading = _paragraph(
        "heading",
        (Run(_HEADING.get(language.split("-")[0], _HEADING["en"])),),
        faces,
        width - 2 * margin,
        base * 0.9,
    )
    entries = [
        _entry(facts, card_statements(facts, market, language), faces, width - 2 * margin, base)
        for facts in foods
    ]
    room = height - 2 * margin - heading.height - base
    pages = _paged(foods, entries, room, base * 1.4, paper)
    data = _draw(pages, heading, (width, height), margin, language)
    write_whole(path, data)
    return len(pages)


def card_statements(facts: Facts, market: str, language: str = "en") -> list[Statement]:
    """Ingredients, allergens or that there are none, and the same in the second language, as the
    market words them. Nothing is said of a food that is its only ingredient, without a weight."""
    if market not in ("us", "eu"):
        tried = say("write a counter card for market '{market}'", market=market)
        raise BadValue(tried, say("there are no rules for it"))
    short = language.split("-")[0]
    if market == "us":
        spoken = us.second(facts) is not None
        first = [*us.ingredients(facts), us.contains(facts)]
        second = [us.may_contain(facts), *us.second_list(facts)]
    else:
        words, other = eu_words(language), eu_list.second_of(facts)
        spoken = other is not None
        listed = [s for s in eu_list.listing(facts, words, short) if s.key == "ingredients"]
        first = [*listed, eu_list.contains(facts, words, short)]
        second = [
            eu_list.may_contain(facts, words, short),
            *eu_list.second_list(facts, other, words.point),
        ]
    found = [*first, *_none(facts, market, short), *second]
    if spoken:
        found += _none(facts, market, facts.second_language)
    return [statement for statement in found if statement.present]


def _none(facts: Facts, market: str, language: str) -> list[Statement]:
    """That none of the sources of the market's law is in it, where that is known: of what has no
    weight nothing is."""
    if not any(item.grams for item in facts.ingredients):
        return []
    if us_names(facts.sources()) if market == "us" else facts.sources():
        return []
    text, nine, fourteen = _NONE.get(language, _NONE["en"])
    runs = plain(text.format(n=nine if market == "us" else fourteen))
    return [Statement(key="contains-none", clause="none: said by the maker", runs=runs)]


def _paragraph(key: str, runs: tuple[Run, ...], faces: Faces, width: float, size: float) -> Box:
    return lines(key, atoms_of(runs, faces, key), width, size)


def _entry(facts: Facts, said: list[Statement], faces: Faces, width: float, base: float) -> Box:
    name = _paragraph("name", (Run(facts.name, bold=True),), faces, width, base * 1.7)
    names = [name]
    if facts.second_name:
        second = (Run(facts.second_name),)
        names.append(_paragraph("second-name", second, faces, width, base * 1.15))
    text = [_paragraph(s.key, s.runs, faces, width, base) for s in said]
    return stack([stack(names, 0), stack(text, base * 0.1)], base * 0.25)


def _paged(
    foods: Sequence[Facts], entries: list[Box], room: float, gap: float, paper: str
) -> list[Box]:
    """Entries in stacks that are no higher than ``room``."""
    pages: list[list[Box]] = [[]]
    for facts, entry in zip(foods, entries, strict=True):
        if entry.height > room:
            missing = (entry.height - room) / MM
            tried = say("write '{name}' on a card of {paper}", name=facts.name, paper=paper)
            why = say("{missing} mm of height are missing", missing=figure(f"{missing:.1f}"))
            do = say("Use a larger paper")
            raise DoesNotFit(tried, why, do, statement="ingredients", missing_mm=round(missing, 2))
        if pages[-1] and stack([*pages[-1], entry], gap).height > room:
            pages.append([])
        pages[-1].append(entry)
    return [stack(page, gap) for page in pages]


def _draw(
    pages: list[Box], heading: Box, size: tuple[float, float], margin: float, language: str
) -> bytes:
    width, height = size
    with FONT_LOCK:
        canvas, buffer = open_canvas((width / MM, height / MM), "Counter card", language)
        for page in pages:
            below = margin + heading.height + heading.marks[0].size
            for box in (heading.moved(margin, margin), page.moved(margin, below)):
                for mark in box.marks:
                    canvas.setFont(register(mark.face), mark.size)
                    canvas.drawString(mark.x, height - mark.y, mark.text)
            canvas.showPage()
        canvas.save()
    return buffer.getvalue()
