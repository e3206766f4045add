"""How large a symbol may be: module width, bar height, quiet zones, and whole printer dots.

GS1 General Specifications, symbol specification tables (5.12.3; 5.9.3 in older releases). A length
in millimetres is for the module width it stands beside; bars of EAN and UPC grow with it.
"""

from __future__ import annotations

import math
from typing import Protocol

import msgspec

from labels.errors import BadSymbol
from labels.say import NOTHING, Said, figure, say

GS1_128_LONGEST_MM = 165.10  # with quiet zones, GS1 General Specifications 5.4.4.3
LOWEST_BARS_MM = 5.0  # of bars cut by the shop's own wish: common practice, no source
# Half a dot more or less is an eighth of a module of four dots. Of modules of two or three, readers
# begin to miss prints of a tired printer (measured on simulated ones).
STURDY_DOTS = 4
GS1_128_MOST_CHARACTERS = 48  # identifiers and separators included, same clause


class Size(msgspec.Struct, frozen=True):
    """``x_mm`` least, target, greatest module width; ``height_mm`` least and target bar height;
    ``quiet`` light modules left and right; ``source`` where it stands."""

    x_mm: tuple[float, float, float]
    height_mm: tuple[float, float]
    quiet: tuple[int, int]
    source: str


_RETAIL = "GS1 General Specifications, symbol specification table 1 (retail point of sale)"
SIZES = {
    "ean-13": Size((0.264, 0.330, 0.660), (18.28, 22.85), (11, 7), _RETAIL),
    "upc-a": Size((0.264, 0.330, 0.660), (18.28, 22.85), (9, 9), _RETAIL),
    "ean-8": Size((0.264, 0.330, 0.660), (14.58, 18.23), (7, 7), _RETAIL),
    "gs1-128": Size(
        (0.495, 0.495, 1.016),
        (31.75, 31.75),
        (10, 10),
        "GS1 General Specifications, symbol specification table 2 (general distribution); 5.4.4.2",
    ),
    # The shop's own symbol, read in its own shop by its own scanner, so no table of GS1 binds it.
    # ISO/IEC 15417 leaves the module to the application. 0.25 mm (10 mil; 2 dots of a 203 dpi
    # printer) is what every hand scanner reads: common practice, no source. Bars by hand: 5 mm or
    # 15 % of the length, the greater (recommended with Code 128; secondary source).
    "code128": Size(
        (0.250, 0.330, 1.016), (5.0, 10.0), (10, 10), "ISO/IEC 15417; module by common practice"
    ),
    # From memory; the quiet zone is ISO/IEC 18004's.
    "qr": Size(
        (0.375, 0.625, 0.990),
        (0.0, 0.0),
        (4, 4),
        "GS1 General Specifications, symbol specification table 1, two-dimensional (from memory)",
    ),
}


class Sized(Protocol):
    """What the sums below need to know of a symbol."""

    @property
    def kind(self) -> str: ...
    @property
    def x_mm(self) -> tuple[float, float, float]: ...
    @property
    def height_mm(self) -> tuple[float, float]: ...
    @property
    def total_modules(self) -> int: ...


def dots_per_mm(dpi: float) -> float:
    """Dots in a millimetre. A "203 dpi" print head has 8, which is 203.2 dpi: data sheets round.

    >>> dots_per_mm(203), dots_per_mm(254)
    (8.0, 10.0)
    """
    if not 50 <= dpi <= 4800:
        tried = say("print at {dpi} dots an inch", dpi=f"{dpi:g}")
        why = say("no label printer has {dpi} dots an inch", dpi=f"{dpi:g}")
        raise BadSymbol(tried, why, say("Give its resolution, such as 203, 300 or 600"))
    return (203.2 if dpi == 203 else dpi) / 25.4


def module_dots(symbol: Sized, dpi: float, *, smallest: bool = False) -> int:
    """Whole printer dots for one module: nearest to the target width, or the fewest that may be.

    Between two equally near the smaller. Raises BadSymbol where no whole number of dots lies
    between the least and the greatest width.
    """
    per_mm = dots_per_mm(dpi)
    least, target, greatest = symbol.x_mm
    slack = 1e-9  # 0.25 mm are exactly 2 dots of 1/8 mm; floating point must not make them 3
    fewest, most = math.ceil(least * per_mm - slack), math.floor(greatest * per_mm + slack)
    fewest = max(fewest, 1)
    if fewest > most:
        tried = say("print {kind} at {dpi} dots an inch", kind=symbol.kind, dpi=f"{dpi:g}")
        why = say(
            "a module of {fewer} dots is {narrow} mm and one of {more} is {wide} mm, neither "
            "between {least} and {most} mm",
            fewer=fewest - 1,
            narrow=figure(f"{(fewest - 1) / per_mm:.3f}"),
            more=fewest,
            wide=figure(f"{fewest / per_mm:.3f}"),
            least=figure(f"{least:.3f}"),
            most=figure(f"{greatest:.3f}"),
        )
        do = say("Use a printer with finer dots, or put less into the symbol")
        raise BadSymbol(tried, why, do)
    if smallest:
        return fewest
    return min(range(fewest, most + 1), key=lambda dots: abs(dots / per_mm - target))


def given_up(symbol: Sized, x_mm: float, height_mm: float) -> Said:
    """What bars of ``height_mm`` cost, in a sentence; empty where they are as high as is asked."""
    least, _ = bar_heights_mm(symbol, x_mm)
    if height_mm > least - 0.05:
        return NOTHING
    cost = {
        "code128": say("a hand held scanner must be held straighter and may need a second try"),
        "gs1-128": say("a scanner on a conveyor or at a distance may miss it"),
    }.get(
        symbol.kind, say("a fixed scanner no longer reads it from any direction, and turns it away")
    )
    return say(
        "the bars of {kind} are {height} mm high and {least} mm are asked for; given up: {cost}",
        kind=symbol.kind,
        height=figure(f"{height_mm:.1f}"),
        least=figure(f"{least:g}"),
        cost=cost,
    )


def narrowed(symbol: Sized, dots: int, dpi: float) -> Said:
    """What modules of ``dots`` printer dots cost, in a sentence; empty at the target width."""
    wanted, per_mm = module_dots(symbol, dpi), dots_per_mm(dpi)
    if dots >= wanted:
        return NOTHING
    cost = say("a scanner must be held nearer")
    if dots < STURDY_DOTS:
        cost = say("a scanner must be held nearer, and a tired printer's may need a second try")
    return say(
        "the modules of {kind} are {dots} dots ({width} mm) wide and {wanted} ({target} mm) are "
        "aimed at; given up: {cost}",
        kind=symbol.kind,
        dots=dots,
        width=figure(f"{dots / per_mm:.3f}"),
        wanted=wanted,
        target=figure(f"{wanted / per_mm:.3f}"),
        cost=cost,
    )


def bar_heights_mm(symbol: Sized, x_mm: float) -> tuple[float, float]:
    """Least and target bar height when the module is ``x_mm`` wide.

    EAN and UPC keep the proportion of the table. Lower bars cost reading from every direction at a
    fixed scanner: whoever cuts them should know. Code 128: 15 % of the length at the least.
    """
    least, target = symbol.height_mm
    if symbol.kind in ("ean-13", "ean-8", "upc-a"):
        return least, max(least, round(target * x_mm / symbol.x_mm[1], 2))
    if symbol.kind == "code128":
        least = max(least, round(0.15 * symbol.total_modules * x_mm, 2))
        return least, max(least, target)
    return least, target
