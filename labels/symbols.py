"""Text to bars, in modules. Nothing is drawn here, and no data is ever put right.

A symbol is a plain value: widths of bars and spaces (or the rows of a QR symbol), its quiet zones,
what stands below it, and how large it may be. The bar patterns come from python-barcode's tables
(EAN, UPC, Code 128) and from segno (QR); what its classes do with wrong data is not wanted here.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from labels.century import read_lot_day
from labels.checks import checked, shown
from labels.code128 import FNC1, bars_of, character_values, tables, widths
from labels.elements import GS, Element, build_elements, human_readable, parse_elements
from labels.errors import BadSymbol
from labels.links import is_link, parse_link
from labels.say import figure, say
from labels.sizes import GS1_128_LONGEST_MM, GS1_128_MOST_CHARACTERS, SIZES

_MOST_CODE128 = 80  # a longer one is no counter's symbol: 0.25 mm a module make it 25 cm
_MOST_LINK = 300


class Symbol(msgspec.Struct, frozen=True):
    """One bar code, in modules.

    ``kind``: "code128", "gs1-128", "ean-13", "ean-8", "upc-a" or "qr". ``data``: what a reader
    returns (GS1-128: ``\\x1d`` between fields, no leading FNC1). ``text``: the human-readable line;
    EAN and UPC in groups with a space between, in the order in which they stand: outside left,
    under the left half, under the right half, outside right. ``bars``: widths of bar, space, bar …,
    empty for QR. ``matrix``: rows of a QR symbol, True is dark. ``quiet``: light modules left and
    right, all round for QR. ``guards``: indices into ``bars`` of those that reach further down.
    ``x_mm``: least, target, greatest module width. ``height_mm``: least and target bar height.
    """

    kind: str
    data: str
    text: str
    bars: tuple[int, ...]
    matrix: tuple[tuple[bool, ...], ...] = ()
    quiet: tuple[int, int] = (10, 10)
    guards: tuple[int, ...] = ()
    x_mm: tuple[float, float, float] = SIZES["code128"].x_mm
    height_mm: tuple[float, float] = SIZES["code128"].height_mm

    @property
    def modules(self) -> int:
        """Width without quiet zones."""
        return sum(self.bars) or len(self.matrix)

    @property
    def total_modules(self) -> int:
        """Width with quiet zones."""
        return self.modules + sum(self.quiet)


def code128(text: str) -> Symbol:
    """Code 128 of plain ASCII text, with the fewest symbol characters there can be.

    Control characters are carried too and stand as spaces in the human-readable line. Raises
    BadSymbol for an empty or overlong text and for a letter outside ASCII.

    >>> code128("26328-01").modules
    112
    """
    tried = say("put '{data}' into a Code 128 symbol", data=shown(text))
    if not text:
        raise BadSymbol(tried, say("there is nothing to put in it"))
    if len(text) > _MOST_CODE128:
        why = say("{n} characters are more than {most}", n=len(text), most=_MOST_CODE128)
        raise BadSymbol(tried, why, say("Shorten the text"))
    strange = next((c for c in text if not c.isascii()), None)
    if strange is not None:
        why = say("'{character}' is no ASCII character", character=shown(strange))
        raise BadSymbol(tried, why, say("Use plain letters and digits"))
    line = "".join(c if " " <= c <= "~" else " " for c in text)
    return _linear("code128", text, line, bars_of(character_values(text)))


def lot_symbol(lot: str) -> Symbol:
    """The own counter's symbol: the lot code alone, for a lot names product and day of making.

    >>> lot_symbol("26328-1")
    Traceback (most recent call last):
        ...
    labels.errors.BadSymbol: Cannot read lot '26328-1': it is not a lot code. Write YYDDD-NN: \
year, day of the year, batch of that day, such as 26328-01.
    """
    read_lot_day(lot)
    return code128(lot)


def ean13(digits: str) -> Symbol:
    """EAN-13 of 13 digits. Raises BadSymbol unless the last is the right check digit.

    >>> ean13("9521234000013").text
    '9 521234 000013'
    """
    checked(digits, 13, "EAN-13")
    line = f"{digits[0]} {digits[1:7]} {digits[7:]}"
    left = tables("ean").LEFT_PATTERN[int(digits[0])]
    return _linear("ean-13", digits, line, _ean_bars(digits[1:7], left, digits[7:]), _EAN_13_GUARDS)


def upca(digits: str) -> Symbol:
    """UPC-A of 12 digits. Raises BadSymbol unless the last is the right check digit.

    >>> upca("036000291452").text
    '0 36000 29145 2'
    """
    checked(digits, 12, "UPC-A")
    line = f"{digits[0]} {digits[1:6]} {digits[6:11]} {digits[11]}"
    bars = _ean_bars(digits[:6], "A" * 6, digits[6:])
    return _linear("upc-a", digits, line, bars, _UPC_A_GUARDS)


def ean8(digits: str) -> Symbol:
    """EAN-8 of 8 digits. Raises BadSymbol unless the last is the right check digit.

    >>> ean8("95012346").text
    '9501 2346'
    """
    checked(digits, 8, "EAN-8")
    bars = _ean_bars(digits[:4], "A" * 4, digits[4:])
    return _linear("ean-8", digits, f"{digits[:4]} {digits[4:]}", bars, _EAN_8_GUARDS)


def gs1_128(elements: Iterable[Element]) -> Symbol:
    """GS1-128 of ``[("01", …), ("15", …), ("10", …)]``, put in the order of fewest separators.

    At most 48 characters and 165.10 mm with quiet zones (GS1 General Specifications 5.4.4.3); the
    greatest module width is lowered to keep to it. Raises BadSymbol.

    >>> gs1_128([("01", "09521234000013"), ("15", "261129")]).total_modules
    198
    """
    data = build_elements(elements)
    line = human_readable(parse_elements(data))
    tried = say("put {data} into a GS1-128 symbol", data=line)
    if len(data) > GS1_128_MOST_CHARACTERS:
        why = say("{n} characters are more than {most}", n=len(data), most=GS1_128_MOST_CHARACTERS)
        raise BadSymbol(tried, why, say("Shorten the lot code, or leave something out"))
    bars = bars_of(character_values(FNC1 + data.replace(GS, FNC1)))
    symbol = _linear("gs1-128", data, line, bars)
    least, target, greatest = symbol.x_mm
    if symbol.total_modules * least > GS1_128_LONGEST_MM:
        why = say(
            "it would be {length} mm long, and 165.10 mm is allowed",
            length=figure(f"{symbol.total_modules * least:.2f}"),
        )
        raise BadSymbol(tried, why, say("Shorten the lot code, or make it of digits"))
    greatest = min(greatest, GS1_128_LONGEST_MM / symbol.total_modules)
    return msgspec.structs.replace(symbol, x_mm=(least, target, greatest))


def qr(uri: str) -> Symbol:
    """A QR symbol, error correction M at the least, of a web address (a GS1 Digital Link or other).

    The human-readable line of a Digital Link is that of its elements. Raises BadSymbol for what is
    no web address in ASCII or longer than 300 characters.

    >>> qr("https://id.gs1.org/01/09521234000013/10/26328-01").text
    '(01)09521234000013(10)26328-01'
    """
    tried = say("put '{link}' into a QR symbol", link=shown(uri, 80))
    if not is_link(uri) or not uri.isascii() or any(not " " < c < "\x7f" for c in uri):
        raise BadSymbol(tried, say("it is not a web address in ASCII"), say("Begin with https://"))
    if len(uri) > _MOST_LINK:
        why = say("{n} characters are more than {most}", n=len(uri), most=_MOST_LINK)
        raise BadSymbol(tried, why, say("Shorten it"))
    try:
        line = human_readable(parse_link(uri))
    except BadSymbol:
        line = uri
    import segno  # by who draws one, for half of its 20 ms are the writers it brings along

    code = segno.make(uri, error="m", micro=False, boost_error=True)
    size = SIZES["qr"]
    rows = tuple(tuple(bool(dark) for dark in row) for row in code.matrix)
    return Symbol("qr", uri, line, (), rows, size.quiet, x_mm=size.x_mm, height_mm=size.height_mm)


_EAN_13_GUARDS = (0, 2, 28, 30, 56, 58)
_UPC_A_GUARDS = (0, 2, 4, 6, 28, 30, 52, 54, 56, 58)  # first and last digit stand as tall
_EAN_8_GUARDS = (0, 2, 20, 22, 40, 42)


def _ean_bars(left: str, sets: str, right: str) -> tuple[int, ...]:
    table = tables("ean")
    codes = table.CODES
    halves = [
        "".join(codes[code_set][int(digit)] for code_set, digit in zip(sets, left, strict=True)),
        "".join(codes["C"][int(digit)] for digit in right),
    ]
    return widths(table.EDGE + table.MIDDLE.join(halves) + table.EDGE)


def _linear(
    kind: str, data: str, line: str, bars: tuple[int, ...], guards: tuple[int, ...] = ()
) -> Symbol:
    size = SIZES[kind]
    return Symbol(
        kind,
        data,
        line,
        bars,
        quiet=size.quiet,
        guards=guards,
        x_mm=size.x_mm,
        height_mm=size.height_mm,
    )
