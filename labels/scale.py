"""A test page: a ruler along both sides, and the corners of every label of a sheet.

Printers scale and shift. A module is 0.25 mm and must not become 0.24: measure the line, and set
the printer to "actual size" until it is as long as it says.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from labels.blanks import Blank
from labels.files import write_whole
from labels.fonts import FONT_LOCK, MM, house_faces, register
from labels.pdf import open_canvas
from labels.say import Said, figure, say
from labels.sizes import dots_per_mm

_TICK = (1.2, 2.0, 3.0)  # mm, for 1, 5 and 10 mm
_MARK = 3.0  # mm, an arm of a corner


def write_scale_check(
    path: str | Path, blank: Blank, language: str = "en", shown: Callable[[Said], str] = str
) -> float:
    """Write the test page of ``blank`` and return the length in mm its ruler line must have.

    The line is the longest multiple of 10 mm that fits across. ``shown`` is how a text is written
    in ``language``. Raises NotWritten.
    """
    length = ruler_mm(blank.page_mm[0])
    with FONT_LOCK:
        canvas, buffer = open_canvas(blank.page_mm, f"Scale check {blank.name}", language)
        _draw(canvas, blank, length, shown)
        canvas.showPage()
        canvas.save()
    write_whole(path, buffer.getvalue())
    return length


def ruler_mm(side: float) -> float:
    """The longest whole 10 mm inside a side, 3 mm from either edge.

    >>> ruler_mm(60), ruler_mm(215.9)
    (50.0, 200.0)
    """
    return max(10.0, float((side - 6) // 10 * 10))


def _draw(canvas: Any, blank: Blank, length: float, shown: Callable[[Said], str]) -> None:
    width, height = (side * MM for side in blank.page_mm)
    if blank.page:
        for position in range(1, blank.per_page + 1):
            left, top = blank.corner_of(position)
            _corners(canvas, left * MM, height - top * MM, blank)
    canvas.setLineWidth(MM / dots_per_mm(blank.dpi))
    start, base = (width - length * MM) / 2, height / 2
    canvas.line(start, base, start + length * MM, base)
    down = ruler_mm(blank.page_mm[1])
    foot = (height - down * MM) / 2
    canvas.line(start, foot, start, foot + down * MM)
    for mm in range(int(length) + 1):
        canvas.line(start + mm * MM, base, start + mm * MM, base + _tick(mm) * MM)
    for mm in range(int(down) + 1):
        canvas.line(start, foot + mm * MM, start + _tick(mm) * MM, foot + mm * MM)
    face = house_faces().regular
    size = 8.0
    canvas.setFont(register(face), size)
    across = say("This line is {length} mm long", length=figure(f"{length:g}"))
    upright = say("and the upright one {length} mm.", length=figure(f"{down:g}"))
    canvas.drawString(start + 6 * MM, base - 1.3 * size, shown(across))
    canvas.drawString(start + 6 * MM, base - 2.5 * size, shown(upright))


def _tick(mm: int) -> float:
    return _TICK[2 if mm % 10 == 0 else 1 if mm % 5 == 0 else 0]


def _corners(canvas: Any, x: float, top: float, blank: Blank) -> None:
    right, bottom, arm = x + blank.width * MM, top - blank.height * MM, _MARK * MM
    canvas.setLineWidth(0.25)
    for corner_x, across in ((x, arm), (right, -arm)):
        for corner_y, along in ((top, -arm), (bottom, arm)):
            canvas.line(corner_x, corner_y, corner_x + across, corner_y)
            canvas.line(corner_x, corner_y, corner_x, corner_y + along)
