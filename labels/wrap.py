"""Text into lines: at words, at hyphens between letters, and between CJK characters.

Never between a number and its unit, a short word and its number ("OR 97099"), inside a code with a
hyphen ("26328-01"), or before a dot or dash that parts two things; and between words that belong
together ("NET WT 14 oz (396 g)") only if no line holds them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from labels.fonts import Face, Faces
from labels.rules.statement import Run

_UNITS = r"(?:fl oz|oz|lbs?|pt|qt|gal|k?g|mg|ml|l|cm|mm|°[cf]?|%|pieces?)"
_GLUED = re.compile(
    rf"(?<=[0-9]) (?={_UNITS}(?![a-z]))"  # 14 oz, 41 °F
    r"|(?<=\bfl) (?=oz\b)"
    r"|(?<=\bNET) (?=WT\b)"
    r"|(?<!\bNET WT)(?<![^\W\d_]{5}) (?=[0-9])(?<=\w )"  # OR 97099, Nov 30, Lot 26328-01
    r"|(?<=[0-9],) (?=[0-9]{4}\b)"  # 30, 2026
    r"| (?=[:;!?»])"  # French punctuation
    r"| (?=[·–—])",  # a separator ends a line rather than begin one
    re.IGNORECASE,
)
# Words held together while a line holds them, the weakest bond first: it is the first to break.
_BONDS = (
    # 14 oz (396 g); 16 oz (1 lb) 453 g; OR 97099 · 555-0142; Mill, 14 Sluice Street; five-spice
    re.compile(
        r"(?<=\w) (?=\([0-9])|(?<=\)) (?=[0-9])|(?<=·) |, [0-9]+ (?=[^\W\d_])"
        r"|(?<=[^\W\d_])[-\u2010](?=[^\W\d_])"
    ),
    re.compile(r"(?<=\bNET WT) (?=[0-9])", re.IGNORECASE),
)
_HAIR = 1e-6
_NOT_FIRST = "、。，．：；？！）」』】〕％ー々・)]}.,;:!?"
_NOT_LAST = "（「『【〔([{"


class Atom(NamedTuple):
    """What is never broken. ``gap`` is the width of the space before it, if it does not begin a
    line; widths are for a font size of 1. ``bond`` is how firmly it is held to the atom before it:
    0 not at all, else 1 + its place in ``_BONDS``."""

    pieces: tuple[tuple[Face, str], ...]
    width: float
    gap: float
    gap_face: Face | None
    bond: int = 0


class SetLine(NamedTuple):
    """Stretches of one face each, with their offset, and the whole width; for a size of 1."""

    pieces: tuple[tuple[Face, str, float], ...]
    width: float


def atoms_of(runs: Iterable[Run], faces: Faces, statement: str) -> list[Atom]:
    """Cut the runs of a statement where lines may break. Raises NoGlyph."""
    letters: list[tuple[str, Face]] = []
    for run in runs:
        text = " ".join(re.split(r"[ \t\r\n]+", run.text))
        for face, part in faces.split(text, bold=run.bold, statement=statement):
            letters.extend((character, face) for character in part)
    text = "".join(character for character, _ in letters)
    glued = {match.start() for match in _GLUED.finditer(text)}
    bonds = {
        match.end() - 1: firm
        for firm, held in enumerate(_BONDS, 1)
        for match in held.finditer(text)
    }
    atoms: list[Atom] = []
    start, gap, gap_face = 0, 0.0, None
    for at in range(len(text) + 1):
        breaks = at == len(text) or _breaks_before(text, at, glued)
        if not breaks:
            continue
        piece = letters[start:at]
        if piece and any(character != " " for character, _ in piece):
            atoms.append(_atom(piece, gap, gap_face)._replace(bond=bonds.get(start - 1, 0)))
            gap, gap_face = 0.0, None
        elif piece:  # a run of spaces
            gap_face = piece[0][1]
            gap = gap_face.width(" ", 1)
        start = at
    return atoms


def _breaks_before(text: str, at: int, glued: set[int]) -> bool:
    if at == 0:
        return False
    here, before = text[at], text[at - 1]
    if here == " ":
        return at not in glued and before != " "
    if before == " ":
        return at - 1 not in glued
    if before in "-\u2010\u2013" and at > 1:
        return text[at - 2].isalpha() and here.isalpha()
    if _is_cjk(here) or _is_cjk(before):
        return here not in _NOT_FIRST and before not in _NOT_LAST
    return False


def _is_cjk(character: str) -> bool:
    return unicodedata.east_asian_width(character) in ("W", "F")


def _atom(letters: list[tuple[str, Face]], gap: float, gap_face: Face | None) -> Atom:
    pieces: list[tuple[Face, str]] = []
    for character, face in letters:
        shown = " " if character in "\u00a0\u202f" else character
        if pieces and pieces[-1][0] == face:
            pieces[-1] = (face, pieces[-1][1] + shown)
        else:
            pieces.append((face, shown))
    width = sum(face.width(text, 1) for face, text in pieces)
    return Atom(tuple(pieces), width, gap, gap_face)


def wrap(atoms: list[Atom], width: float) -> list[SetLine]:
    """Lines no wider than ``width`` (for a font size of 1), unless one atom alone is wider."""
    lines: list[SetLine] = []
    current: list[Atom] = []
    filled = 0.0
    for part in _held(atoms, width):
        if current and filled + part[0].gap + _width(part) > width + _HAIR:
            lines.append(_line(current))
            current, filled = [], 0.0
        filled += _width(part) + (part[0].gap if current else 0)
        current += part
    if current:
        lines.append(_line(current))
    return lines


def _held(atoms: list[Atom], width: float, broken: int = 0) -> Iterator[list[Atom]]:
    """The atoms in parts that stay on one line: where ``width`` holds no part, its weakest bonds
    are broken. Bonds up to ``broken`` are already."""
    start = 0
    for at in range(1, len(atoms) + 1):
        if at < len(atoms) and atoms[at].bond > broken:
            continue
        part = atoms[start:at]
        if len(part) == 1 or _width(part) <= width + _HAIR:
            yield part
        else:
            yield from _held(part, width, broken + 1)
        start = at


def _width(atoms: list[Atom]) -> float:
    return sum(atom.width + atom.gap for atom in atoms) - atoms[0].gap


def _widest(atoms: list[Atom], width: float) -> float:
    """A narrower line than this would break what ``width`` holds together."""
    return max((_width(part) for part in _held(atoms, width)), default=0.0)


def wrap_evenly(atoms: list[Atom], width: float) -> list[SetLine]:
    """The same number of lines as ``wrap``, as equal in length as they can be: for names."""
    lines = wrap(atoms, width)
    if len(lines) < 2:
        return lines
    low, high = _widest(atoms, width), width
    for _ in range(12):
        middle = (low + high) / 2
        if len(wrap(atoms, middle)) > len(lines):
            low = middle
        else:
            high = middle
    return wrap(atoms, high)


def wrap_without_widow(atoms: list[Atom], width: float) -> list[SetLine]:
    """``wrap``, but the last line is not left with one short word if the others can spare one."""
    lines = wrap(atoms, width)
    for _ in range(4):
        if len(lines) < 2 or lines[-1].width >= width / 4:
            break
        narrower = lines[-2].width - 1e-3
        shorter = wrap(atoms, narrower)
        if len(shorter) > len(lines) or narrower < _widest(atoms, width):
            break
        lines = shorter
    return lines


def _line(atoms: list[Atom]) -> SetLine:
    pieces: list[tuple[Face, str, float]] = []
    at = 0.0
    for place, atom in enumerate(atoms):
        if place and atom.gap:
            at += atom.gap
            # The space is written where its face goes on, so that a reader finds words apart.
            if pieces[-1][0] == atom.gap_face:
                pieces[-1] = (pieces[-1][0], pieces[-1][1] + " ", pieces[-1][2])
        for face, text in atom.pieces:
            if pieces and pieces[-1][0] == face:
                pieces[-1] = (face, pieces[-1][1] + text, pieces[-1][2])
            else:
                pieces.append((face, text, at))
            at += face.width(text, 1)
    return SetLine(tuple(pieces), at)
