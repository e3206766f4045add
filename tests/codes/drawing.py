"""A tiny press for the tests: symbols as dots, and the two readers that look at them.

It shares nothing with the product's own drawing: bars are columns of whole dots, black on white,
with the quiet zones the symbol asks for and not a dot more.
"""

from __future__ import annotations

import math
import random
from typing import Any, NamedTuple

import zxingcpp
from PIL import Image, ImageChops, ImageFilter

from labels.sizes import module_dots
from labels.symbols import Symbol
from tests.needs import zbar_library

FORMATS = {
    "code128": zxingcpp.BarcodeFormat.Code128,
    "gs1-128": zxingcpp.BarcodeFormat.Code128,
    "ean-13": zxingcpp.BarcodeFormat.EAN13,
    "ean-8": zxingcpp.BarcodeFormat.EAN8,
    "upc-a": zxingcpp.BarcodeFormat.UPCA,
    "qr": zxingcpp.BarcodeFormat.QRCode,
}
ZBAR = {
    "code128": "CODE128",
    "gs1-128": "CODE128",
    "ean-13": "EAN13",
    "ean-8": "EAN8",
    "upc-a": "EAN13",
    "qr": "QRCODE",
}

_PAPER = 225  # grey of white paper: a picture with room above it, as cameras expose it
_AROUND = 12  # pixels of paper around the symbol and its quiet zones


def draw(symbol: Symbol, dpi: float, *, dots: int = 0, height: int = 0) -> Image.Image:
    """``symbol`` as a grey picture, one pixel a printer dot."""
    dots = dots or module_dots(symbol, dpi)
    left, right = symbol.quiet
    if symbol.matrix:
        side = len(symbol.matrix)
        page = Image.new("L", (side + left + right, side + left + right), 255)
        for y, row in enumerate(symbol.matrix):
            for x, dark in enumerate(row):
                page.putpixel((x + left, y + left), 0 if dark else 255)
    else:
        page = Image.new("L", (symbol.total_modules, 1), 255)
        at = left
        for index, width in enumerate(symbol.bars):
            for x in range(at, at + width) if index % 2 == 0 else ():
                page.putpixel((x, 0), 0)
            at += width
        assert at + right == page.width
    tall = page.height * dots if symbol.matrix else height or 40
    return page.resize((page.width * dots, tall), Image.Resampling.NEAREST)


def read_zxing(picture: Image.Image, kind: str) -> list[zxingcpp.Barcode]:
    """Without its search in a reduced picture, which sees things: in a clean Code 128 of
    ``003z0300\\`` at 4 dots a module it finds ``003503006`` besides."""
    return zxingcpp.read_barcodes(
        picture,
        FORMATS[kind],
        try_invert=False,
        try_downscale=False,
        text_mode=zxingcpp.TextMode.Plain,
    )


def read_zbar(picture: Image.Image, kind: str) -> list[str]:
    return [each.data.decode() for each in _see_zbar(picture, kind)]


def _see_zbar(picture: Image.Image, kind: str) -> list[Any]:
    zbar = zbar_library()
    found: list[Any] = zbar.decode(picture, symbols=[zbar.ZBarSymbol[ZBAR[kind]]])
    return found


def answers_of_zxing(picture: Image.Image, kind: str) -> list[str]:
    """All it sees in the picture of one symbol, first what it sees along most lines; it says from
    which to which, in either order."""
    found = read_zxing(picture, kind)
    found.sort(key=lambda read: -abs(read.position.top_left.y - read.position.bottom_left.y))
    return [read.text for read in found]


def answers_of_zbar(picture: Image.Image, kind: str) -> list[str]:
    """The same for ZBar, which counts the lines itself."""
    found = sorted(_see_zbar(picture, kind), key=lambda read: -read.quality)
    return [read.data.decode() for read in found]


def print_tired(
    clean: Image.Image, *, gain: float, specks: float, chance: random.Random, grown: bool = False
) -> Image.Image:
    """``clean`` as a tired printer makes it, two pixels a printer dot.

    ``gain``: dots by which everything dark is too wide and too high (below 0: too narrow and too
    low), in halves, so that a bar of 3 dots becomes one of 3.5. ``specks``: part of the dots that
    are black on white or white on black; ``grown``: they are spoilt by the gain as bars are.
    """
    turned = bytearray(clean.width * clean.height)
    for at in chance.sample(range(len(turned)), round(len(turned) * specks)):
        turned[at] = 255
    dust = Image.frombytes("L", clean.size, bytes(turned))
    twice = (clean.width * 2, clean.height * 2)
    page = ImageChops.difference(clean, dust) if grown else clean
    page = page.resize(twice, Image.Resampling.NEAREST)
    mix = ImageChops.darker if gain > 0 else ImageChops.lighter
    for _ in range(round(abs(gain) * 2)):
        page = mix(page, ImageChops.offset(page, 1, 0))
        page = mix(page, ImageChops.offset(page, 0, 1))
    if grown:
        return page
    return ImageChops.difference(page, dust.resize(twice, Image.Resampling.NEAREST))


class Scanner(NamedTuple):
    """What looks at a print. Lengths in modules of the symbol, so it is held as near as needed.

    ``spot``: side of the square over which light and dark are seen as one, the slight blur of ink
    and lens. ``pixels`` a module. ``contrast``: of the light that paper sends back, the part that
    ink does not.
    """

    spot: float = 0.8
    pixels: float = 5.0
    contrast: float = 0.6

    def look(self, page: Image.Image, dots: int, tilt: float, chance: random.Random) -> Image.Image:
        """The picture it takes of ``page`` (two pixels a dot, ``dots`` a module), turned by
        ``tilt`` degrees, its pixels anywhere between the dots."""
        step = 2 * dots / self.pixels  # pixels of the page to one of the picture
        for side in (self.spot * 2 * dots, step):
            page = page.filter(ImageFilter.BoxBlur(max(0.0, (side - 1) / 2)))
        page = page.point(lambda grey: round(_PAPER - (255 - grey) * self.contrast))
        across, along = math.cos(math.radians(tilt)), math.sin(math.radians(tilt))
        width, height = (
            math.ceil((one * across + other * abs(along)) / step) + 2 * _AROUND
            for one, other in (page.size, page.size[::-1])
        )
        x, y = width / 2 + chance.random(), height / 2 + chance.random()
        a, b = across * step, along * step
        turn = (a, b, page.width / 2 - a * x - b * y, -b, a, page.height / 2 + b * x - a * y)
        method = Image.Transform.AFFINE
        bilinear = Image.Resampling.BILINEAR
        return page.transform((width, height), method, turn, bilinear, fillcolor=_PAPER)
