"""PDF to dots: previews, thermal printers, and reading the bars back with a reader not our own.

A page is rendered on the very dot grid it was laid out for, so that a bar of two dots is two dots
wide and not an edge of grey.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labels.errors import NotReadable
from labels.fonts import FONT_LOCK, MM
from labels.placed import Label, PlacedSymbol
from labels.say import say
from labels.sizes import dots_per_mm

if TYPE_CHECKING:
    from PIL.Image import Image

    from labels.pdf import Position

_BLACK = 128  # below it a dot is printed
_HAIR = 1e-7  # keeps a whole number of dots from being rounded up to one more


def render(
    pdf: bytes | str | Path,
    dpi: float,
    *,
    page: int = 0,
    box: tuple[float, float, float, float] | None = None,
) -> Image:
    """One page, or ``box`` of it (left, bottom, width, height in points), in black and white.

    Mode ``"1"``, one pixel a printer dot; the top left corner of the box is that of the picture.
    """
    with FONT_LOCK:  # pdfium serves one thread at a time
        document = _open(pdf)
        try:
            return _render(document, dots_per_mm(dpi), page, box)
        finally:
            document.close()


def _open(pdf: bytes | str | Path) -> Any:
    import pypdfium2

    return pypdfium2.PdfDocument(pdf if isinstance(pdf, bytes) else str(pdf))


def _render(
    document: Any, per_mm: float, page: int, box: tuple[float, float, float, float] | None
) -> Image:
    sheet = document[page]
    whole = sheet.get_mediabox()
    left, bottom, width, height = box or (0.0, 0.0, *sheet.get_size())
    top, dot = bottom + height, MM / per_mm
    across, down = (math.ceil(side / dot - 1e-3) for side in (width, height))
    # A page that is no whole number of dots would be stretched to one, and its bars with it.
    sheet.set_mediabox(left, top - down * dot, left + across * dot, top)
    sheet.set_cropbox(left, top - down * dot, left + across * dot, top)
    try:
        picture = sheet.render(scale=(1 - _HAIR) / dot, grayscale=True).to_pil()
    finally:
        sheet.set_mediabox(*whole)
        sheet.set_cropbox(*whole)
        sheet.close()
    dots: Image = picture.point(lambda grey: 255 if grey >= _BLACK else 0).convert("1", dither=0)
    return dots


def png(pdf: bytes | str | Path, dpi: float, *, page: int = 0) -> bytes:
    """A page as a PNG file of one bit a dot, for a thermal printer or to look at."""
    picture = render(pdf, dpi, page=page)
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", dpi=(dpi, dpi), optimize=True)
    return buffer.getvalue()


def read_back(pdf: bytes, placed: Iterable[tuple[Label, Position]]) -> None:
    """Read the symbols of each label where it stands. Raises NotReadable for one that is not read,
    or read as something else."""
    placed = [(label, place) for label, place in placed if label.symbols]
    if not placed:
        return
    with FONT_LOCK:
        document = _open(pdf)
        try:
            for label, place in placed:
                blank = label.blank
                box = (place.x, place.y, blank.width * MM, blank.height * MM)
                picture = _render(document, dots_per_mm(blank.dpi), place.page, box)
                for symbol in label.symbols:
                    _read(picture, label, symbol)
        finally:
            document.close()


def _read(picture: Image, label: Label, placed: PlacedSymbol) -> None:
    """Decode one symbol from its own box, quiet zones included: what a scanner would see."""
    import zxingcpp

    per_point = dots_per_mm(label.blank.dpi) / MM
    top = label.blank.height * MM - placed.y - placed.height
    edges = (placed.x, top, placed.x + placed.width, top + placed.height)
    left, upper, right, lower = (round(edge * per_point) for edge in edges)
    part = picture.crop((left, upper, right, lower))
    found = zxingcpp.read_barcodes(
        part.convert("L"), text_mode=zxingcpp.TextMode.Plain, try_rotate=False, try_downscale=False
    )
    wanted = placed.symbol.data
    texts = [barcode.text for barcode in found]
    if wanted in texts or (placed.symbol.kind == "upc-a" and f"0{wanted}" in texts):
        return
    blank, symbol = label.blank, placed.symbol
    tried = say(
        "print the {kind} symbol {data} on {blank}",
        kind=symbol.kind,
        data=symbol.text,
        blank=blank.name,
    )
    read = say("it reads as '{data}'", data=texts[0]) if texts else say("nothing can be read")
    why = say("read back from the page at {dpi} dots an inch, {read}", dpi=blank.dpi, read=read)
    raise NotReadable(tried, why, say("Use a larger blank, or a printer with finer dots"))
