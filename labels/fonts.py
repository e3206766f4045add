"""Faces: which characters they have, how wide a text is, how high a letter really is.

Heights are those of the outline itself, read from the TrueType file, because the law measures
letters and not font sizes: the round ``o`` is higher than the flat ``x``. A character that no
face has is refused before anything is drawn; a drawing library may drop it, and the text around
it, without a word.
"""

from __future__ import annotations

import threading
import unicodedata
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec

from labels.errors import BadValue, NoGlyph
from labels.rules.statement import title_of
from labels.say import Said, say

MM = 72 / 25.4  # points in a millimetre

# One lock around every use of reportlab's fonts: a font object serves one document at a time.
FONT_LOCK = threading.RLock()

# Scripts whose letters change shape or place beside others, which is not built here.
_INDIC = ((0x0900, 0x0DFF), (0x0E00, 0x0EFF), (0x0F00, 0x0FFF), (0x1000, 0x109F), (0x1780, 0x17FF))
_IDEOGRAPH = "国"


class Face(msgspec.Struct, frozen=True):
    """One TrueType file (``.ttf``, or ``.ttc`` with the ``index`` of the face in it)."""

    name: str
    path: str
    index: int = 0

    def has(self, character: str) -> bool:
        return ord(character) in _loaded(self).charToGlyph

    def width(self, text: str, size: float) -> float:
        """Width of ``text`` in points at ``size`` points. Letters are not kerned."""
        return _width_1000(self, text) * size / 1000

    def height(self, glyph: str) -> float:
        """Height of the outline of ``glyph`` for a font size of 1.

        A face for another script that lacks the glyph is measured on an ideograph.
        """
        _, bottom, _, top = _outline(self, glyph)
        return (top - bottom) / int(_loaded(self).unitsPerEm)

    def size_for(self, glyph: str, height_mm: float) -> float:
        """The font size in points at which ``glyph`` is ``height_mm`` high."""
        return height_mm * MM / self.height(glyph)

    def reach(self, text: str) -> tuple[float, float]:
        """How far the outlines of ``text`` reach below and above the baseline, for a size of 1.

        Below is negative where a letter hangs. Accents count.
        """
        em = int(_loaded(self).unitsPerEm)
        outlines = [_outline(self, character) for character in text if character != " "]
        bottom = min((low for _, low, _, _ in outlines), default=0)
        return bottom / em, max((high for _, _, _, high in outlines), default=0) / em

    def breadth(self, glyph: str) -> float:
        """Width of the outline of ``glyph`` for a size of 1, without the light at its sides."""
        left, _, right, _ = _outline(self, glyph)
        return (right - left) / int(_loaded(self).unitsPerEm)

    def overhang(self, character: str) -> float:
        """How far an outline reaches to the left of its place, for a size of 1: a j does."""
        left, _, _, _ = _outline(self, character)
        return max(0.0, -left / int(_loaded(self).unitsPerEm))

    @property
    def ascent(self) -> float:
        """Height of the line above the baseline for a font size of 1."""
        return float(_loaded(self).ascent) / 1000

    @property
    def descent(self) -> float:
        """Depth of the line below the baseline for a font size of 1, as a positive number."""
        return -float(_loaded(self).descent) / 1000


class Faces(msgspec.Struct, frozen=True):
    """The faces of one label: two weights of one family, and another for what these lack."""

    regular: Face
    bold: Face
    second: Face | None = None
    second_bold: Face | None = None

    def split(self, text: str, *, bold: bool, statement: str) -> list[tuple[Face, str]]:
        """``text`` in stretches of one face each; the first face that has a character writes it.

        Raises NoGlyph, naming the character and the statement, for what cannot be written.
        """
        text = unicodedata.normalize("NFC", text)
        second = (self.second_bold or self.second) if bold else self.second
        order = [face for face in (self.bold if bold else self.regular, second) if face]
        stretches: list[tuple[Face, str]] = []
        for character in text:
            _refuse_script(character, statement)
            face = next((face for face in order if face.has(character)), None)
            if face is None:
                why = say("no face of this label has it")
                raise _no_glyph(character, statement, why, _MORE_FACES)
            if stretches and (stretches[-1][0] == face or character == " "):
                stretches[-1] = (stretches[-1][0], stretches[-1][1] + character)
            else:
                stretches.append((face, character))
        return stretches


_MORE_FACES = say("Give a TrueType face that has it as second face, or write it otherwise")


def _refuse_script(character: str, statement: str) -> None:
    direction = unicodedata.bidirectional(character)
    if direction in ("R", "AL", "AN", "RLE", "RLO", "RLI"):
        why = say("scripts written from right to left are not set here")
        raise _no_glyph(character, statement, why, say("Write it in another script"))
    if any(first <= ord(character) <= last for first, last in _INDIC):
        why = say("its script joins or stacks letters, which is not set here")
        raise _no_glyph(character, statement, why, say("Write it in another script"))
    if unicodedata.category(character) in ("Mn", "Mc", "Me"):
        why = say("a mark that stands on another letter is not set here")
        do = say("Use the letter that has the mark, if there is one")
        raise _no_glyph(character, statement, why, do)


def _no_glyph(character: str, statement: str, why: Said, do: Said) -> NoGlyph:
    named = f"(U+{ord(character):04X}, {unicodedata.name(character, '?')})"
    if character.isprintable():
        named = f"'{character}' {named}"
    where = title_of(statement)
    tried = say("write {character} in the {statement}", character=named, statement=where)
    return NoGlyph(tried, why, do)


def house_faces(second: Path | str | None = None, index: int = 0) -> Faces:
    """Fira Sans Condensed in two weights, and ``second`` for the characters it lacks.

    Condensed, because at the least legal height a fifth more text fits a line than in a face of
    usual width. Raises BadValue for a file that is no TrueType face.
    """
    import fontpkg_fira_sans_condensed as fira

    folder = Path(str(fira.__file__)).parent / "files"
    regular, bold = (
        Face(f"fira-condensed-{weight.lower()}", str(folder / f"FiraSansCondensed-{weight}.ttf"))
        for weight in ("Regular", "Bold")
    )
    return Faces(regular, bold, face_from(second, index) if second else None)


def face_from(path: Path | str, index: int = 0) -> Face:
    """Any TrueType face. Raises BadValue for a missing file, one without TrueType outlines (the
    ``.otf`` that most CJK downloads are) or a ``.ttc`` without a face of that index."""
    path = Path(path)
    face = Face(f"{path.stem}-{index}".lower(), str(path), index)
    tried = say("use the face {file}", file=path.name)
    if not path.is_file():
        why = say("there is no such file")
        raise BadValue(tried, why, say("Give the path of a .ttf or .ttc file"))
    try:
        _loaded(face)
    except Exception as error:
        why = say("it cannot be read as TrueType ({why})", why=error)
        raise BadValue(tried, why, say("Use a .ttf, or a .ttc with TrueType outlines")) from error
    return face


@lru_cache(maxsize=32)
def _loaded(face: Face) -> Any:
    from reportlab.pdfbase.ttfonts import TTFontFace

    with FONT_LOCK:
        return TTFontFace(face.path, subfontIndex=face.index)


@lru_cache(maxsize=20_000)
def _width_1000(face: Face, text: str) -> float:
    loaded = _loaded(face)
    widths, usual = loaded.charWidths, loaded.defaultWidth
    return float(sum(widths.get(ord(character), usual) for character in text))


@lru_cache(maxsize=4096)
def _outline(face: Face, glyph: str) -> tuple[int, int, int, int]:
    """Left, bottom, right and top of an outline in units of the font, from its header."""
    loaded = _loaded(face)
    if ord(glyph) not in loaded.charToGlyph:
        glyph = _IDEOGRAPH
    number = loaded.charToGlyph.get(ord(glyph))
    start, _ = loaded.get_table_pos("glyf")
    if number is None or loaded.glyphPos[number] == loaded.glyphPos[number + 1]:
        why = say("it has no outline for '{glyph}'", glyph=glyph)
        tried = say("measure the face {face}", face=face.name)
        raise BadValue(tried, why, say("Use a face with letters in it"))
    header = loaded.get_chunk(start + loaded.glyphPos[number] + 2, 8)
    left, bottom, right, top = (
        int.from_bytes(header[at : at + 2], "big", signed=True) for at in range(0, 8, 2)
    )
    return left, bottom, right, top


def register(face: Face) -> str:
    """Make ``face`` known to reportlab, once, and give its name there. Hold ``FONT_LOCK``."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    name = f"labels-{face.name}"
    if name not in pdfmetrics.getRegisteredFontNames():
        font = TTFont(name, face.path, subfontIndex=face.index)
        font.face = _loaded(face)
        pdfmetrics.registerFont(font)
    return name
