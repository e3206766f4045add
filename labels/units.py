"""Mass and volume as people write them, kept exactly.

Factors are exact by definition: the pound is 0.45359237 kg (international yard and pound
agreement, 1959), the US gallon 231 cubic inches, the inch 25.4 mm. ``tests/standards`` checks
them against the pint library.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Literal

import msgspec

from labels.checks import shown
from labels.errors import BadValue
from labels.say import figure, say, term

Kind = Literal["mass", "volume"]

GRAMS = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "oz": Decimal("28.349523125"),
    "lb": Decimal("453.59237"),
}
MILLILITRES = {
    "ml": Decimal(1),
    "l": Decimal(1000),
    "fl oz": Decimal("29.5735295625"),
    "pt": Decimal("473.176473"),
    "qt": Decimal("946.352946"),
    "gal": Decimal("3785.411784"),
}
_SPELLINGS = {
    "gr": "g",
    "gram": "g",
    "grams": "g",
    "kilo": "kg",
    "kilos": "kg",
    "kgs": "kg",
    "ounce": "oz",
    "ounces": "oz",
    "lbs": "lb",
    "pound": "lb",
    "pounds": "lb",
    "litre": "l",
    "litres": "l",
    "liter": "l",
    "liters": "l",
    "floz": "fl oz",
    "pint": "pt",
    "pints": "pt",
    "quart": "qt",
    "quarts": "qt",
    "qts": "qt",
    "gallon": "gal",
    "gallons": "gal",
}
_NUMBER = r"\s*([+-]?[0-9]+(?:\.[0-9]+)?|\.[0-9]+)\s*([^\W\d_][^\d]*)?\s*"


MOST = Decimal(10) ** 9  # of any unit: more is a slip of the finger


class Measure(msgspec.Struct, frozen=True):
    """An amount with its unit, as it was written: ``Measure(Decimal("14"), "oz")``."""

    amount: Decimal
    unit: str

    @property
    def kind(self) -> Kind:
        return "mass" if self.unit in GRAMS else "volume"

    @property
    def base(self) -> Decimal:
        """Exact grams of a mass, exact millilitres of a volume."""
        return self.amount * (GRAMS.get(self.unit) or MILLILITRES[self.unit])

    @property
    def whole(self) -> int:
        """``base`` rounded half up to a whole gram or millilitre, the unit stock is kept in."""
        return int(self.base.quantize(Decimal(1), ROUND_HALF_UP))

    def to(self, unit: str) -> Decimal:
        """The same amount in another unit of its kind, exact to Decimal's 28 digits."""
        table = GRAMS if self.kind == "mass" else MILLILITRES
        if unit not in table:
            tried = say("give {amount} in '{unit}'", amount=figure(self), unit=unit)
            raise BadValue(tried, say("use one of {names}", names=", ".join(table)))
        return self.base / table[unit]

    def __str__(self) -> str:
        return f"{self.amount.normalize():f} {self.unit}"


def split_number(text: str) -> tuple[Decimal, str] | None:
    """The number and the word behind it, or None where the text is not a number with a word.

    >>> split_number("12.5kg")
    (Decimal('12.5'), 'kg')
    """
    match = re.fullmatch(_NUMBER, text)
    if match is None or len(text) > 40:
        return None
    try:
        number = Decimal(match[1])
    except InvalidOperation:  # pragma: no cover - the pattern admits only numbers
        return None
    return number, (match[2] or "").strip()


def parse_measure(text: str, kind: Kind | None = None) -> Measure:
    """Read a mass or a volume. Raises BadValue for anything else, or for a negative amount.

    >>> parse_measure("12kg").whole
    12000
    >>> parse_measure("1 fl oz", "volume").whole
    30
    """
    tables = {"mass": GRAMS, "volume": MILLILITRES}
    known = [u for k, table in tables.items() if kind in (None, k) for u in table]
    tried = say("read {what} '{text}'", what=term(kind or "amount"), text=shown(text))
    expected = say("write a number and one of {names}", names=", ".join(known))
    parts = split_number(text)
    if parts is None:
        raise BadValue(tried, say("it is not a number with a unit"), expected)
    number, written = parts
    unit = " ".join(written.lower().rstrip(".").split())
    unit = _SPELLINGS.get(unit, unit)
    if unit not in known:
        why = say("the unit is missing")
        if written:
            why = say("the unit '{unit}' is not known here", unit=written)
        raise BadValue(tried, why, expected)
    if number < 0:
        raise BadValue(tried, say("it is below zero"), expected)
    if number >= MOST:
        raise BadValue(tried, say("no such amount is weighed or measured"), expected)
    return Measure(number, unit)
