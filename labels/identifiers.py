"""The application identifiers a workshop meets, and what may stand behind each.

Source of the table: GS1 syntax dictionary (github.com/gs1/gs1-syntax-dictionary, 2026-07-27) and
GS1 General Specifications 3 and 7.8.5. A letter ``n`` at the end of an identifier is one digit: the
number of decimals.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from labels.checks import shown
from labels.errors import BadSymbol
from labels.say import Said, say

Form = Literal["text", "digits", "key", "date", "minute", "hour", "decimal", "money", "unknown"]


class Identifier(msgspec.Struct, frozen=True):
    """One row of the table.

    ``least`` to ``most`` characters stand behind it. ``needs``: at least one of these combinations
    must stand on the same label; ``bars``: none of these may. ``decimals`` is how many digits of
    the value stand behind the point.
    """

    ai: str
    title: str
    form: Form
    least: int
    most: int
    needs: tuple[str, ...] = ()
    bars: tuple[str, ...] = ()
    decimals: int = 0

    @property
    def predefined(self) -> bool:
        """Its length is known to every reader, so that no separator follows it."""
        return self.ai[:2] in PREDEFINED


# GS1 General Specifications 7.8.5: two first digits of the identifier -> characters behind it.
PREDEFINED = {
    "00": 18,
    "01": 14,
    "02": 14,
    "03": 14,
    "04": 16,
    "20": 2,
    "41": 13,
    **{str(ai): 6 for ai in range(11, 20)},
    **{str(ai): 6 for ai in range(31, 37)},
}
# How many digits an identifier has, told by its first two. From memory, checked in the tests
# against the table in python-stdnum.
_AI_LENGTHS = {
    2: (
        "00",
        "01",
        "02",
        "03",
        "10",
        "11",
        "12",
        "13",
        "15",
        "16",
        "17",
        "20",
        "21",
        "22",
        "30",
        "37",
        *(str(ai) for ai in range(90, 100)),
    ),
    3: ("23", "24", "25", "40", "41", "42", "71"),
    4: ("31", "32", "33", "34", "35", "36", "39", "43", "70", "72", "80", "81", "82"),
}
_AI_LENGTH = {first: length for length, firsts in _AI_LENGTHS.items() for first in firsts}

_ITEM = ("01", "02")
_MEASURE = ("30", "31", "32", "35", "36")
# "01+30" asks for both; a shorter entry stands for every identifier that begins with it.
_PRICED = tuple(f"01+{m}" for m in _MEASURE)
# The rule of 02 is from memory; all others as in the syntax dictionary.
_ROWS = (
    Identifier("00", "SSCC", "key", 18, 18),
    Identifier("01", "GTIN", "key", 14, 14, bars=("255", "37")),
    Identifier("02", "CONTENT", "key", 14, 14, needs=("00+37",)),
    Identifier("10", "BATCH/LOT", "text", 1, 20, (*_ITEM, "03", "8006", "8026")),
    Identifier("11", "PROD DATE", "date", 6, 6, (*_ITEM, "03", "8006", "8026")),
    Identifier("13", "PACK DATE", "date", 6, 6, (*_ITEM, "03", "8006", "8026")),
    Identifier("15", "BEST BEFORE or BEST BY", "date", 6, 6, (*_ITEM, "03", "8006", "8026")),
    Identifier("16", "SELL BY", "date", 6, 6, (*_ITEM, "03", "8006", "8026")),
    Identifier("17", "USE BY or EXPIRY", "date", 6, 6, (*_ITEM, "03", "8006", "8026", "255")),
    Identifier("20", "VARIANT", "digits", 2, 2, (*_ITEM, "03", "8006", "8026")),
    Identifier("21", "SERIAL", "text", 1, 20, ("01", "03", "8006"), ("235",)),
    Identifier("22", "CPV", "text", 1, 20, ("01",)),
    Identifier("30", "VAR. COUNT", "digits", 1, 8, _ITEM),
    Identifier("310n", "NET WEIGHT (kg)", "decimal", 6, 6, _ITEM),
    Identifier("320n", "NET WEIGHT (lb)", "decimal", 6, 6, _ITEM),
    Identifier("37", "COUNT", "digits", 1, 8, ("00+02", "00+8026")),
    Identifier("392n", "PRICE", "decimal", 1, 15, _PRICED, ("392", "393")),
    Identifier("393n", "PRICE", "money", 4, 18, _MEASURE, ("392", "393")),
    Identifier("395n", "PRICE/UoM", "decimal", 6, 6, _MEASURE, ("392", "393", "8005")),
    Identifier("7003", "EXPIRY TIME", "minute", 10, 10, (*_ITEM, "03")),
    Identifier("8005", "PRICE PER UNIT", "digits", 6, 6, _ITEM),
    Identifier("8008", "PROD TIME", "hour", 8, 12, (*_ITEM, "03")),
)
_MOST_DECIMALS = {"310n": 5, "320n": 5, "392n": 9, "393n": 9, "395n": 5}


def _spread(row: Identifier) -> list[Identifier]:
    if not row.ai.endswith("n"):
        return [row]
    decimals = range(_MOST_DECIMALS[row.ai] + 1)
    return [msgspec.structs.replace(row, ai=f"{row.ai[:3]}{n}", decimals=n) for n in decimals]


IDENTIFIERS = {each.ai: each for row in _ROWS for each in _spread(row)}


def ai_at(text: str, tried: Said) -> Identifier:
    """The identifier that ``text`` begins with.

    One that is not in the table but belongs to the system comes back with the form ``unknown``: its
    value can be stepped over, not used. Raises BadSymbol where no identifier begins like this.

    >>> ai_at("3103000195", "read it").title, ai_at("400X7", "read it").form
    ('NET WEIGHT (kg)', 'unknown')
    """
    length = _AI_LENGTH.get(text[:2], 0)
    ai = text[:length]
    if not length or len(ai) < length or not (ai.isascii() and ai.isdigit()):
        why = say("no application identifier begins with '{ai}'", ai=shown(text[:4]))
        raise BadSymbol(tried, why)
    known = IDENTIFIERS.get(ai)
    if known is not None:
        return known
    fixed = PREDEFINED.get(ai[:2], 0)
    return Identifier(ai, "", "unknown", fixed or 1, fixed or 90)


def find_identifier(ai: str, tried: Said) -> Identifier:
    """The row of the table for exactly ``ai``. Raises BadSymbol where it has none."""
    row = IDENTIFIERS.get(ai)
    if row is None:
        why = say("application identifier '{ai}' is not in our table", ai=shown(ai))
        raise BadSymbol(tried, why, say("Use {names}", names=", ".join(row.ai for row in _ROWS)))
    return row
