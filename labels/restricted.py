"""Restricted circulation numbers: numbers that mean something in one region or one shop only.

GS1 General Specifications 2.1.12 and 2.1.13: prefix 2 of a UPC-A (02 of an EAN-13) and 20 to 29 are
laid out by the GS1 office of a region; prefix 4 of a UPC-A (04 of an EAN-13) and EAN-8 numbers that
begin with 0 or 2 are free to any company, inside it only. They are no GTINs.

A layout is a text of as many letters as the number has digits:

    digits  the prefix
    I       item
    P W N   price, weight or number of pieces
    V       check digit of the price, weight or number of pieces (7.9.2 to 7.9.4)
    C       check digit of the whole number
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

import msgspec

from labels.checks import (
    checked,
    is_digits,
    price_check_digit_4,
    price_check_digit_5,
    shown,
    with_check_digit,
)
from labels.errors import BadSymbol
from labels.say import NOTHING, say

_PATTERN = re.compile(r"([0-9]+)(I+)(V?)(P*|W*|N*)C")
_KINDS = {8: "EAN-8", 12: "UPC-A", 13: "EAN-13"}
_PRICE_CHECKS = {4: price_check_digit_4, 5: price_check_digit_5}


class Layout(msgspec.Struct, frozen=True):
    """What stands where in a restricted number.

    ``decimals`` is how many digits of the price or weight stand behind the point; weights are in
    kilograms, prices in the money of the place. Raises BadSymbol for a pattern that is none.

    >>> Layout("2IIIIIVPPPPC", 2).build("12345", 4321)
    '212345543214'
    """

    pattern: str
    decimals: int = 0
    name: str = ""

    def __post_init__(self) -> None:
        parts = _PATTERN.fullmatch(self.pattern)
        do = NOTHING
        if parts is None or len(self.pattern) not in _KINDS:
            why = say("it is not a prefix and I, V, P, W or N, C for 8, 12 or 13 digits")
            do = say("Write it like 2IIIIIVPPPPC")
        elif not is_restricted(self.pattern):
            why = say("numbers that begin with {prefix} are not restricted ones", prefix=parts[1])
            do = say("Begin with 2 or 4 (UPC-A), 02, 04 or 20 to 29 (EAN-13), 0 or 2 (EAN-8)")
        elif parts[3] and len(parts[4]) not in _PRICE_CHECKS:
            why = say("only four or five digits can have a check digit V")
        elif self.decimals not in range(len(parts[4]) + 1):
            n, decimals = len(parts[4]), self.decimals
            why = say("{n} digits cannot have {decimals} decimals", n=n, decimals=decimals)
        else:
            return
        raise BadSymbol(say("use layout '{layout}'", layout=shown(self.pattern)), why, do)

    @property
    def measure(self) -> str:
        """The letter of what is measured: "P" price, "W" weight, "N" pieces, "" nothing."""
        return next((letter for letter in "PWN" if letter in self.pattern), "")

    def build(self, item: str, value: int = 0) -> str:
        """The number of ``item`` (as many digits as the layout has I) with its check digits.

        ``value`` is the price, weight or count in units of its last decimal: 4321 for 43.21.
        Raises BadSymbol where either does not fit.
        """
        tried = say("write item '{item}' as {layout}", item=shown(item), layout=self.pattern)
        room, places = self.pattern.count("I"), self.pattern.count(self.measure or "-")
        if not is_digits(item) or len(item) != room:
            raise BadSymbol(tried, say("the item is not exactly {n} digits", n=room))
        if not 0 <= value < 10**places:
            why = say("the value {value} does not fit {digits} digits", value=value, digits=places)
            do = say("Sell it in smaller packs, or choose a layout with more room")
            raise BadSymbol(tried, why, do)
        digits = str(value).zfill(places) if places else ""
        check = str(_PRICE_CHECKS[places](digits)) if "V" in self.pattern else ""
        return with_check_digit(self.pattern.partition("I")[0] + item + check + digits)

    def parse(self, number: str) -> Restricted | None:
        """What ``number`` (8, 12 or 13 digits, check digit right) says, or None where it is of
        another prefix or length. Raises BadSymbol where the check digit of the value is wrong."""
        own = _same_length(number, self.pattern)
        prefix = self.pattern.partition("I")[0]
        if own is None or not own.startswith(prefix):
            return None
        field = dict.fromkeys("IVPWN", "")
        for letter, digit in zip(self.pattern, own, strict=True):
            if letter in field:
                field[letter] += digit
        digits = field[self.measure] if self.measure else ""
        if field["V"]:
            right = _PRICE_CHECKS[len(digits)](digits)
            if int(field["V"]) != right:
                tried = say(
                    "read restricted number '{number}' as {layout}",
                    number=number,
                    layout=self.pattern,
                )
                why = say(
                    "the check digit of its value is {digit}, but {value} asks for {wanted}",
                    digit=field["V"],
                    value=digits,
                    wanted=right,
                )
                do = say("Scan it again, or look at the layout in the shop's settings")
                raise BadSymbol(tried, why, do)
        zero = self.build(field["I"])
        key = zero if len(zero) == 8 else zero.zfill(13)
        return Restricted(self, field["I"], int(digits or 0), key)


class Restricted(msgspec.Struct, frozen=True):
    """A restricted number taken apart.

    ``value`` is in units of the layout's last decimal; ``key`` is the number with its value set to
    zero, check digits worked out anew: the same for every pack of the item, so a key to look up.
    It has 8 or 13 digits, however the scanner typed the number.
    """

    layout: Layout
    item: str
    value: int
    key: str


def is_restricted(number: str) -> bool:
    """Whether a number (or layout) of 8, 12 or 13 digits circulates in one region or shop only."""
    if len(number) == 8:
        return number[0] in "02"
    if len(number) == 12:
        return number[0] in "24"
    return number.startswith(("02", "04", "2"))


def read_restricted(number: str, layouts: Iterable[Layout]) -> Restricted | None:
    """``number`` by the first of ``layouts`` that fits, or None where none is for its prefix.

    Raises BadSymbol for a wrong check digit, and where a layout is for the prefix but none agrees
    with the check digit of the value.

    >>> read_restricted("2811111068708", REGIONS["de"]).value
    6870
    """
    checked(number, len(number) if len(number) in _KINDS else 13, "restricted number")
    refusal: BadSymbol | None = None
    for layout in layouts:
        try:
            found = layout.parse(number)
        except BadSymbol as wrong:
            refusal = refusal or wrong
            continue
        if found is not None:
            return found
    if refusal is not None:
        raise refusal
    return None


def _same_length(number: str, pattern: str) -> str | None:
    """A scanner types a UPC-A as 13 digits with a zero in front, or as 12."""
    if len(number) == len(pattern):
        return number
    if (len(number), len(pattern)) == (13, 12) and number[0] == "0":
        return number[1:]
    if (len(number), len(pattern)) == (12, 13):
        return "0" + number
    return None


def _table(rows: Sequence[tuple[str, int]], name: str) -> tuple[Layout, ...]:
    return tuple(Layout(pattern, decimals, name) for pattern, decimals in rows)


# EAN-13 in Sweden and Norway; Finland and the Baltic states use the weights alone.
_NORDIC_WEIGHTS = [("23IIIIIIWWWWC", 3), ("24IIIIIIWWWWC", 2), ("25IIIIIIWWWWC", 1)]
_NORDIC_PRICES = [("20IIIIIIPPPPC", 2), ("21IIIIIIPPPPC", 1), ("22IIIIIIPPPPC", 0)]
# US layouts: GS1 General Specifications' examples; no office fixes one for the whole country, so
# a shop chooses its own. The regional ones as listed in the documentation of biip.
REGIONS: dict[str, tuple[Layout, ...]] = {
    "us": _table([("2IIIIIVPPPPC", 2)], "United States"),
    "us-plain": _table([("2IIIIIIPPPPC", 2)], "United States, no price check digit"),
    "gb": _table([("20IIIIIVPPPPC", 2)], "Great Britain"),
    "de": _table(
        [
            ("22IIIIVPPPPPC", 2),
            ("23IIIIVPPPPPC", 2),
            ("25IIIIVNNNNNC", 0),
            ("26IIIIVNNNNNC", 0),
            ("28IIIIVWWWWWC", 3),
            ("29IIIIVWWWWWC", 3),
        ],
        "Germany",
    ),
    "dk": _table(
        [
            *((f"{p}IIIIPPPPPPC", 2) for p in (21, 22, 23, 24)),
            ("26IIIIWWWWWWC", 3),
            ("27IIIIIWWWWWC", 3),
            ("28IIIIWWWWWWC", 3),
        ],
        "Denmark",
    ),
    "se": _table(_NORDIC_PRICES + _NORDIC_WEIGHTS, "Sweden"),
    "no": _table(_NORDIC_PRICES + _NORDIC_WEIGHTS, "Norway"),
    "fi": _table(_NORDIC_WEIGHTS, "Finland"),
    "ee": _table(_NORDIC_WEIGHTS, "Estonia"),
    "lv": _table(_NORDIC_WEIGHTS, "Latvia"),
    "lt": _table(_NORDIC_WEIGHTS, "Lithuania"),
}
