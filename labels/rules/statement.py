"""What a rule set answers: statements, each with its wording, its least height and its source."""

from __future__ import annotations

from typing import Literal

import msgspec

from labels.say import NOTHING, Said, term

INCH = 25.4
SIXTEENTH_INCH = INCH / 16  # 21 CFR 101.2(c): the least height of all required text

BEHIND_DATE = "behind the date"  # a placement: EU 1169/2011 Annex X 1(b), 2(b)

Glyph = Literal["o", "x", "H", "1", "℮"]


class Run(msgspec.Struct, frozen=True):
    """A stretch of text in one weight. ``big`` runs of a statement stand out (the day itself)."""

    text: str
    bold: bool = False
    big: bool = False


class Statement(msgspec.Struct, frozen=True, kw_only=True):
    """One thing a label says, or does not say and why.

    ``least_mm`` is the height its text must reach at the least, measured on the outline of
    ``glyph``: lower-case ``o`` (US), ``x`` (EU), capitals ``H``, figures ``1``. A height of 0 means
    that no law sets one. ``placement`` says where it must stand. ``optional``: the law does not ask
    for it.
    """

    key: str
    clause: str
    runs: tuple[Run, ...] = ()
    least_mm: float = 0.0
    glyph: Glyph = "o"
    placement: str = ""
    why_absent: Said = NOTHING
    optional: bool = False

    @property
    def text(self) -> str:
        """The whole wording in one line."""
        return " ".join("".join(f"{run.text}" for run in self.runs).split())

    @property
    def present(self) -> bool:
        return bool(self.runs)

    @property
    def title(self) -> Said:
        """Its key as it stands in a sentence: ``net quantity``."""
        return title_of(self.key)


def title_of(key: str) -> Said:
    """A statement's key as people say it.

    >>> title_of("contains"), title_of("net-quantity")
    ('allergen statement', 'net quantity')
    """
    return term(_TITLES.get(key, key.replace("-", " ")), "statement")


_TITLES = {
    "contains": "allergen statement",
    "ingredients": "ingredient list",
    "may-contain": "may contain statement",
}


def absent(key: str, clause: str, why: Said) -> Statement:
    """A statement that is left out, with the reason."""
    return Statement(key=key, clause=clause, why_absent=why)


def unasked(key: str, clause: str, text: str) -> Statement:
    """A statement in regular text that no law asks for."""
    return Statement(key=key, clause=clause, runs=plain(text), optional=True)


def plain(text: str) -> tuple[Run, ...]:
    """One run of regular text."""
    return (Run(text),)


def bold(text: str) -> tuple[Run, ...]:
    """One run of bold text."""
    return (Run(text, bold=True),)
