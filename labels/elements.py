"""GS1 element strings: an application identifier and its value, one behind the other.

GS1 General Specifications 7.8: a value of predefined length ends by itself; any other is followed
by a separator, ``\\x1d`` in what a scanner types and FNC1 in the bars, unless it is the last. The
leading FNC1 of a symbol is not part of the text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import reduce

from labels.century import read_date, read_minute
from labels.checks import checked, is_digits, shown
from labels.errors import BadSymbol
from labels.identifiers import Identifier, ai_at, find_identifier
from labels.restricted import is_restricted
from labels.say import NOTHING, all_of, figure, say

Element = tuple[str, str]
GS = "\x1d"
# GS1 General Specifications 7.11, character set 82 (from memory).
CSET_82 = frozenset(
    "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
)
KEYS = ("00", "01", "02")
_BRACKET = re.compile(r"\(([0-9]{2,4})\)")


def check_value(row: Identifier, value: str, *, reading: bool = False) -> None:
    """Raise BadSymbol unless ``value`` may stand behind this identifier.

    Reading lets two things through that are never written: day ``00`` of a date, and a restricted
    number in place of a GTIN (GS1 General Specifications 2.1.12 and 2.1.13).
    """
    name, text = f"({row.ai}) {row.title}".rstrip(), shown(value)
    tried = say("write {name} '{value}'", name=name, value=text)
    if reading:
        tried = say("read {name} '{value}'", name=name, value=text)
    if not row.least <= len(value) <= row.most:
        wanted = say("{first} to {last}", first=row.least, last=row.most)
        if row.least == row.most:
            wanted = figure(row.least)
        why = say("it has {n} characters instead of {wanted}", n=len(value), wanted=wanted)
        raise BadSymbol(tried, why)
    if row.form in ("text", "unknown"):
        strange = next((c for c in value if c not in CSET_82), None)
        if strange is not None:
            why = say(
                "'{character}' is not in GS1's set of 82 characters", character=shown(strange)
            )
            do = NOTHING if reading else say("Use letters A to Z, digits and - . / _")
            raise BadSymbol(tried, why, do)
        return
    if not is_digits(value):
        raise BadSymbol(tried, say("it is not made of the digits 0 to 9 alone"))
    if row.form == "key":
        checked(value, row.least, row.title)
        if not reading and row.most == 14 and value[0] == "0" and is_restricted(value[1:]):
            why = say("it is a restricted number, which stands in EAN and UPC symbols alone")
            raise BadSymbol(tried, why, say("Use the GTIN of the item"))
    elif row.form == "date":
        read_date(value, day_00=reading)
    elif row.form in ("minute", "hour"):
        read_minute(value)


def check_together(elements: Iterable[Element]) -> None:
    """Raise BadSymbol where identifiers may not stand, or stand alone, on one label.

    GS1 General Specifications 4.14 (mandatory and invalid associations).
    """
    ais = [ai for ai, _ in elements]
    for ai in ais:
        row = find_identifier(ai, say("write a GS1 element string"))
        tried = say("write ({ai}) {title}", ai=ai, title=row.title)
        if ais.count(ai) > 1:
            raise BadSymbol(tried, say("it stands twice on one label"))
        barred = next((o for o in ais if o != ai and o.startswith(row.bars)), None)
        if row.bars and barred:
            raise BadSymbol(tried, say("it may not stand with ({ai}) on one label", ai=barred))
        if row.needs and not any(_all_there(need, ais) for need in row.needs):
            choices = (all_of(f"({n})" for n in need.split("+")) for need in row.needs)
            choice = reduce(lambda a, b: say("{one}, or {more}", one=a, more=b), choices)
            why = say("it says nothing alone")
            raise BadSymbol(tried, why, say("Put one of these with it: {names}", names=choice))


def _all_there(need: str, ais: Sequence[str]) -> bool:
    return all(any(ai.startswith(part) for ai in ais) for part in need.split("+"))


def order_elements(elements: Iterable[Element]) -> list[Element]:
    """The same in the order that needs the fewest separators: key, predefined lengths, the rest.

    >>> order_elements([("10", "26328-01"), ("15", "261129"), ("01", "09521234000013")])
    [('01', '09521234000013'), ('15', '261129'), ('10', '26328-01')]
    """

    def place(element: Element) -> int:
        ai = element[0]
        if ai in KEYS:
            return 0
        return 1 if find_identifier(ai, say("order an element string")).predefined else 2

    return sorted(elements, key=place)


def join_elements(elements: Iterable[Element]) -> str:
    """The element string in the order given, ``\\x1d`` where a separator is needed.

    Each value is checked by itself. Raises BadSymbol.

    >>> join_elements([("10", "12345"), ("11", "991225")])
    '1012345\\x1d11991225'
    """
    text, open_end = "", False
    for ai, value in elements:
        row = find_identifier(ai, say("write a GS1 element string"))
        check_value(row, value)
        text += (GS if open_end else "") + ai + value
        open_end = not row.predefined
    if not text:
        raise BadSymbol(say("write a GS1 element string"), say("nothing is given to put in it"))
    return text


def build_elements(elements: Iterable[Element]) -> str:
    """The element string of one label: ordered, complete, every value checked. Raises BadSymbol.

    >>> build_elements([("10", "26328-01"), ("01", "09521234000013"), ("15", "261129")])
    '0109521234000013152611291026328-01'
    """
    given = list(elements)
    text = join_elements(order_elements(given))
    check_together(given)
    return text


def parse_elements(text: str) -> tuple[Element, ...]:
    """The elements of what a scanner typed, without symbology identifier. Raises BadSymbol.

    A needless separator behind a predefined length is passed over (GS1 General Specifications
    7.8.4); day 00 is let through. Identifiers that the table does not know are kept as text.

    >>> parse_elements("010703206980498815210526100329")
    (('01', '07032069804988'), ('15', '210526'), ('10', '0329'))
    """
    tried = say("read GS1 data '{data}'", data=shown(text))
    found: dict[str, str] = {}
    rest = text.removeprefix(GS)
    while rest:
        row = ai_at(rest, tried)
        rest = rest[len(row.ai) :]
        if row.predefined:
            value, rest = rest[: row.most], rest[row.most :].removeprefix(GS)
        else:
            value, _, rest = rest.partition(GS)
        check_value(row, value, reading=True)
        if found.get(row.ai, value) != value:
            why = say("({ai}) stands in it twice, with different values", ai=row.ai)
            raise BadSymbol(tried, why)
        found[row.ai] = value
    if not found:
        raise BadSymbol(tried, say("there is nothing in it"))
    return tuple(found.items())


def parse_brackets(text: str) -> tuple[Element, ...]:
    """The elements of a human-readable line, as somebody may type it off a label.

    >>> parse_brackets("(01) 09521234000013 (10) 26328-01")
    (('01', '09521234000013'), ('10', '26328-01'))
    """
    tried = say("read '{text}'", text=shown(text))
    parts = _BRACKET.split(text)
    if parts[0].strip(" ") or len(parts) < 3:
        raise BadSymbol(tried, say("it does not begin with an application identifier in brackets"))
    found: dict[str, str] = {}
    for ai, value in zip(parts[1::2], (v.strip(" ") for v in parts[2::2]), strict=True):
        row = ai_at(ai, tried)
        if row.ai != ai:
            raise BadSymbol(tried, say("({ai}) is not an application identifier", ai=ai))
        check_value(row, value, reading=True)
        if found.get(ai, value) != value:
            raise BadSymbol(tried, say("({ai}) stands in it twice, with different values", ai=ai))
        found[ai] = value
    return tuple(found.items())


def human_readable(elements: Iterable[Element]) -> str:
    """The line under the bars: identifiers in brackets, which are never in the data.

    GS1 General Specifications 4.15 (from memory).

    >>> human_readable([("01", "09521234000013"), ("10", "26328-01")])
    '(01)09521234000013(10)26328-01'
    """
    return "".join(f"({ai}){value}" for ai, value in elements)
