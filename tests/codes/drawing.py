"""A tiny press for the tests: symbols as dots, and the two readers that look at them.

It shares nothing with the product's own drawing: bars are columns of whole dots, black on white,
with the quiet zones the symbol asks for and not a dot more.
"""

from __future__ import annotations

import random

import zxingcpp
from PIL import Image, ImageChops, ImageFilter, ImageOps

from labels.symbols import Symbol, dots_per_mm, module_dots
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
    zbar = zbar_library()
    found = zbar.decode(picture, symbols=[zbar.ZBarSymbol[ZBAR[kind]]])
    return [each.data.decode() for each in found]


def print_and_scan(
    clean: Image.Image,
    dpi: float,
    *,
    gain: float = 0.0,
    specks: float = 0.0,
    tilt: float = 0.0,
    aperture_mm: float = 0.15,
    seed: int = 0,
) -> Image.Image:
    """``clean`` as a tired printer and a hurried hand make it, as a hand scanner sees it.

    ``gain``: dots by which bars are too wide (below 0: too narrow), in halves. ``specks``: part of
    the dots that are black on white or white on black. ``tilt``: degrees. ``aperture_mm``: the spot
    over which a scanner sees light and dark as one, 0.15 mm with grade 1.5/06/660 of the GS1
    General Specifications and 0.25 mm with 1.5/10/660. The picture has 16 pixels a millimetre.
    """
    fine = 2
    page = clean
    if specks:
        chance = random.Random(seed)
        grey = bytearray(page.tobytes())
        for at in chance.sample(range(len(grey)), round(len(grey) * specks)):
            grey[at] = 255 - grey[at]
        page = Image.frombytes("L", page.size, bytes(grey))
    page = page.resize((page.width * fine, page.height * fine), Image.Resampling.NEAREST)
    mix = ImageChops.darker if gain > 0 else ImageChops.lighter
    for _ in range(round(abs(gain) * fine)):
        page = mix(page, ImageChops.offset(page, 1, 0))
    pixels_per_mm = dots_per_mm(dpi) * fine
    page = page.filter(ImageFilter.BoxBlur(aperture_mm * pixels_per_mm / 2))
    scale = 16 / pixels_per_mm
    page = page.resize(
        (round(page.width * scale), round(page.height * scale)), Image.Resampling.BILINEAR
    )
    page = ImageOps.expand(page, 16, 255)
    return page.rotate(tilt, Image.Resampling.BILINEAR, expand=True, fillcolor=255)
