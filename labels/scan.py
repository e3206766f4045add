"""Whatever a scanner types, and what it says.

A scanner may put a symbology identifier in front (``]E0`` …, GS1 General Specifications 5.1.2 and
7.8.4): then the kind is known. Without one it is told from the form of the text. A keyboard cannot
always type the separator ``\\x1d``; the labels made here need none, for their one field of free
length stands last.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal
from typing import Literal

import msgspec

from labels.century import read_date, read_lot_day, this_year
from labels.checks import GTIN_LENGTHS, checked, is_digits, shown
from labels.elements import GS, Element, parse_brackets, parse_elements
from labels.errors import BadSymbol
from labels.identifiers import IDENTIFIERS
from labels.links import is_link, parse_link
from labels.restricted import Layout, is_restricted, read_restricted
from labels.say import Said, figure, full, join, say, say_n
from labels.units import GRAMS

ScanKind = Literal["lot", "item", "restricted", "gs1", "link"]
_NUMBERS = {8: "EAN-8", 12: "UPC-A", 13: "EAN-13", 14: "GTIN-14"}
_LONGEST = 1000
_READ_WHOLE = say("Scan it again, or type the digits below the bars")


class Price(msgspec.Struct, frozen=True):
    """``amount`` in units of the last of ``decimals`` decimals; ``currency`` is the ISO 4217 number
    ("978") where the symbol carries one."""

    amount: int
    decimals: int
    currency: str = ""

    def __str__(self) -> str:
        return f"{Decimal(self.amount).scaleb(-self.decimals):f}"

    @property
    def said(self) -> Said:
        """The price, as money of what currency the symbol says."""
        if self.currency:
            return say("price {price} in currency {n}", price=figure(str(self)), n=self.currency)
        return say("price {price}", price=figure(str(self)))


class Scan(msgspec.Struct, frozen=True):
    """What was scanned.

    ``kind``: "lot" (own lot code), "item" (a GTIN alone), "restricted" (a number of one region or
    shop), "gs1" (element string) or "link" (Digital Link). ``text``: the data without symbology
    identifier. ``gtin``: 14 digits, zeros in front. ``key``: what to look the item up by: the GTIN,
    or the restricted number with its price or weight set to zero (13 digits, EAN-8: 8).
    ``made``: the day the own lot code names. ``weight_g``: exact grams. ``elements``: all
    identifiers and values of "gs1" and "link".
    """

    kind: ScanKind
    text: str
    gtin: str = ""
    key: str = ""
    item: str = ""
    lot: str = ""
    made: date | None = None
    best_before: date | None = None
    use_by: date | None = None
    weight_g: Decimal | None = None
    price: Price | None = None
    count: int | None = None
    elements: tuple[Element, ...] = ()

    def describe(self) -> Said:
        """One sentence for people.

        >>> parse_scan("26328-01", year=2026).describe()
        'Own lot 26328-01, made 2026-11-24.'
        """
        gs1 = say("GS1 data without item number")
        if self.gtin:
            gs1 = say("GS1 item {gtin}", gtin=self.gtin)
        parts = [
            {
                "lot": say("own lot {lot}", lot=self.lot),
                "item": say("item {gtin}", gtin=self.gtin),
                "restricted": say("restricted number {number}", number=self.text),
                "gs1": gs1,
                "link": say("Digital Link of item {gtin}", gtin=self.gtin),
            }[self.kind]
        ]
        if self.item:
            parts.append(say("item {number}", number=self.item))
        if self.lot and self.kind != "lot":
            parts.append(say("lot {lot}", lot=shown(self.lot)))
        if self.made:
            parts.append(say("made {date}", date=self.made))
        if self.best_before:
            parts.append(say("best before {date}", date=self.best_before))
        if self.use_by:
            parts.append(say("use by {date}", date=self.use_by))
        if self.weight_g is not None:
            parts.append(say("{weight} g", weight=figure(self.weight_g)))
        if self.price is not None:
            parts.append(self.price.said)
        if self.count is not None:
            parts.append(say_n("1 piece", "{n} pieces", n=self.count))
        return full(join(", ", parts))


def parse_scan(text: str, layouts: Iterable[Layout] = (), *, year: int | None = None) -> Scan:
    """What ``text``, as a scanner or a person typed it, says. ``layouts``: the restricted numbers
    of the shop, tried in order. ``year``: the year it is read in, by default this one.

    Raises BadSymbol, and nothing else, for any text that is none of the kinds.

    >>> parse_scan("]C1010952123400001315261129" + "1026328-01", year=2026).describe()
    'GS1 item 09521234000013, lot 26328-01, best before 2026-11-29.'
    """
    data = text.strip(" \t\r\n")
    tried = say("read scan '{data}'", data=shown(data))
    if not data:
        raise BadSymbol(say("read a scan"), say("nothing was typed"), say("Scan again"))
    if len(data) > _LONGEST:
        raise BadSymbol(tried, say("{n} characters are no label of a pack", n=len(data)))
    reading = _Reading(tuple(layouts), this_year() if year is None else year)
    if data[0] != "]":
        return reading.guess(data)
    read = _BY_IDENTIFIER.get(data[:3])
    if read is None:
        do = say("Known are {names}", names=", ".join(_BY_IDENTIFIER))
        why = say("symbology identifier {identifier} is not known here", identifier=shown(data[:3]))
        raise BadSymbol(tried, why, do)
    return read(reading, data[3:])


class _Reading(msgspec.Struct, frozen=True):
    """One way of reading for each kind of symbol, all with the same layouts and year."""

    layouts: tuple[Layout, ...]
    year: int

    def guess(self, data: str) -> Scan:
        """The kind from the form of the text: no two kinds share one."""
        if is_link(data):
            return self.link(data)
        if data.startswith("("):
            return _from_elements("gs1", data, parse_brackets(data), self.year)
        if is_digits(data) and len(data) in GTIN_LENGTHS:
            return self.number(data)
        if len(data) == 8 and data[5] == "-":
            return Scan("lot", data, lot=data, made=read_lot_day(data, self.year))
        if data.startswith(GS) or (len(data) > 15 and is_digits(data[:2])):
            return self.gs1(data)
        why = say("it is no lot code, no item number, no GS1 data and no Digital Link")
        raise BadSymbol(say("read scan '{data}'", data=shown(data)), why, _READ_WHOLE)

    def gs1(self, data: str) -> Scan:
        return _from_elements("gs1", data, parse_elements(data), self.year)

    def link(self, data: str) -> Scan:
        return _from_elements("link", data, parse_link(data), self.year)

    def ean13(self, data: str) -> Scan:
        return self.number(checked(data, 13, "EAN-13"))

    def ean8(self, data: str) -> Scan:
        return self.number(checked(data, 8, "EAN-8"))

    def number(self, data: str) -> Scan:
        checked(data, len(data), _NUMBERS[len(data)])
        # some scanners are set to make 14 digits of every EAN and UPC
        number = data[1:] if len(data) == 14 and data[0] == "0" else data
        if len(number) == 14 or not is_restricted(number):
            gtin = data.zfill(14)
            return Scan("item", data, gtin=gtin, key=gtin)
        found = read_restricted(number, self.layouts)
        if found is None:
            return Scan("restricted", data, key=number if len(number) == 8 else number.zfill(13))
        layout, value = found.layout, found.value
        weight = Decimal(value).scaleb(3 - layout.decimals)
        return Scan(
            "restricted",
            data,
            key=found.key,
            item=found.item,
            weight_g=weight if layout.measure == "W" else None,
            price=Price(value, layout.decimals) if layout.measure == "P" else None,
            count=value if layout.measure == "N" else None,
        )


def _from_elements(kind: ScanKind, data: str, elements: tuple[Element, ...], year: int) -> Scan:
    values = dict(elements)

    def day(ai: str) -> date | None:
        return read_date(values[ai], year) if ai in values else None

    gtin = values.get("01", "")
    use_by = day("17")
    if use_by is None and "7003" in values:
        use_by = read_date(values["7003"][:6], year)
    count = values.get("30") or values.get("37")
    return Scan(
        kind,
        data,
        gtin=gtin,
        key=gtin,
        lot=values.get("10", ""),
        best_before=day("15"),
        use_by=use_by,
        weight_g=_weight(values),
        price=_price(values),
        count=int(count) if count else None,
        elements=elements,
    )


def _weight(values: dict[str, str]) -> Decimal | None:
    for ai, value in values.items():
        if ai.startswith(("310", "320")) and ai in IDENTIFIERS:
            unit = GRAMS["kg" if ai.startswith("310") else "lb"]
            return Decimal(value).scaleb(-IDENTIFIERS[ai].decimals) * unit
    return None


def _price(values: dict[str, str]) -> Price | None:
    for ai, value in values.items():
        if ai in IDENTIFIERS and ai.startswith("392"):
            return Price(int(value), IDENTIFIERS[ai].decimals)
        if ai in IDENTIFIERS and ai.startswith("393"):
            return Price(int(value[3:]), IDENTIFIERS[ai].decimals, value[:3])
    return None


_BY_IDENTIFIER: dict[str, Callable[[_Reading, str], Scan]] = {
    "]E0": _Reading.ean13,  # EAN-13, and UPC-A with a zero in front
    "]E4": _Reading.ean8,
    "]C1": _Reading.gs1,  # GS1-128
    "]e0": _Reading.gs1,  # GS1 DataBar
    "]d2": _Reading.gs1,  # GS1 DataMatrix
    "]Q3": _Reading.gs1,  # GS1 QR
    "]C0": _Reading.guess,  # Code 128
    "]Q0": _Reading.guess,
    "]Q1": _Reading.guess,  # QR, DataMatrix: plain text, so a Digital Link
    "]d0": _Reading.guess,
    "]d1": _Reading.guess,
    "]I0": _Reading.guess,  # ITF, without and with its check digit verified
    "]I1": _Reading.guess,
}
