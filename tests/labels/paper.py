"""What really stands on a printed page, measured with other libraries than those that drew it.

pdfplumber says which character stands where and in what size; fontTools says how high its outline
is. Lengths in millimetres from the top left of the page.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import fontpkg_fira_sans_condensed as fira
import pdfplumber
from fontTools.ttLib import TTFont

from labels import Label

MM = 72 / 25.4
_FILES = Path(fira.__file__).parent / "files"
_OTHERS = {"DroidSansFallback": Path("/usr/share/fonts/truetype/droid/DroidSansFallbackFull.ttf")}


class Ink(NamedTuple):
    """One character: its size in points, its baseline and the box of its outline."""

    character: str
    font: str
    size: float
    baseline: float
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Ink, slack: float = 0.02) -> bool:
        return (
            self.left < other.right - slack
            and other.left < self.right - slack
            and self.top < other.bottom - slack
            and other.top < self.bottom - slack
        )


@lru_cache
def font_file(name: str) -> TTFont:
    """The font behind a name such as ``ABCDEF+FiraSansCondensed-Bold``."""
    name = name.partition("+")[2]
    path = next((p for key, p in _OTHERS.items() if name.startswith(key)), _FILES / f"{name}.ttf")
    return TTFont(path)


@lru_cache(maxsize=5000)
def outline(font: str, character: str) -> tuple[float, float, float, float]:
    """Left, bottom, right, top of an outline for a size of 1; a space has none."""
    file = font_file(font)
    glyph = file["glyf"][file.getBestCmap()[ord(character)]]
    if not glyph.numberOfContours:
        return (0.0, 0.0, 0.0, 0.0)
    em = file["head"].unitsPerEm
    return (glyph.xMin / em, glyph.yMin / em, glyph.xMax / em, glyph.yMax / em)


def glyph_height_mm(ink: Ink, glyph: str) -> float:
    """How high ``glyph`` is, in mm, in the font and size of a printed character."""
    _, bottom, _, top = outline(ink.font, glyph)
    return (top - bottom) * ink.size / MM


def inks(path: Path, page: int = 0) -> list[Ink]:
    """Every visible character of a page, in the order in which it was written."""
    with pdfplumber.open(path) as pdf:
        sheet = pdf.pages[page]
        return [ink for char in sheet.chars if (ink := _ink(char, float(sheet.height)))]


def _ink(char: dict[str, Any], height: float) -> Ink | None:
    left, bottom, right, top = outline(char["fontname"], char["text"])
    if left == right:
        return None
    size, x, baseline = char["size"], char["matrix"][4], height - char["matrix"][5]
    return Ink(
        char["text"], char["fontname"], size, baseline / MM,
        (x + left * size) / MM, (baseline - top * size) / MM,
        (x + right * size) / MM, (baseline - bottom * size) / MM,
    )  # fmt: skip


def by_statement(path: Path, label: Label) -> Iterator[tuple[str, str, list[Ink]]]:
    """Key, wording and printed characters of each statement, found by its wording on the page.

    Fails where a wording is not found whole, letter by letter.
    """
    printed = inks(path)
    page = "".join(ink.character for ink in printed)
    at = {}
    for statement in label.statements:
        if statement.present:
            wording = "".join(statement.text.split())
            place = page.find(wording, at.get(wording, 0))
            assert place >= 0, f"{statement.key}: '{statement.text}' is not whole on the page"
            at[wording] = place + 1
            yield statement.key, statement.text, printed[place : place + len(wording)]
