"""From boxes to places: text on its baseline, symbols on the dot grid of the printer.

Boxes count from the top left, a placed label from the bottom left, as PDF does.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from labels.arrange import Arrangement
from labels.boxes import Box, Spot
from labels.placed import GUARD_MODULES, Picture, PlacedSymbol, Rectangle, Text
from labels.symbols import Symbol


class Placed(NamedTuple):
    """All that stands on a label."""

    texts: tuple[Text, ...]
    symbols: tuple[PlacedSymbol, ...]
    picture: Picture | None


def boxes_of(arrangement: Arrangement, margin: float, rim: float, height: float) -> list[Box]:
    """The boxes in their places, from the top left of the blank.

    Capitals and baselines are in line with the margin, not the light above and below a line; what
    reaches further, an accent or a descender, stays out of the ``rim``.
    """
    above = arrangement.span.height + (arrangement.apart if arrangement.span.height else 0)
    span = arrangement.span
    spare = margin - rim
    boxes = [span.moved(margin, margin - _light_above(span, spare))]
    for column in arrangement.columns:
        light = 0.0 if span.height else _light_above(column.top, spare)
        boxes.append(column.top.moved(margin + column.x, margin + above - light))
        lower = height - margin - column.bottom.height
        light = _light_below(column.bottom, spare)
        boxes.append(column.bottom.moved(margin + column.x, lower + light))
    return boxes


def _light_above(box: Box, spare: float) -> float:
    """From the top of a box to its first capitals, or less where an accent needs the room."""
    if not box.marks:
        return 0.0
    capitals = min(mark.y - mark.face.height("H") * mark.size for mark in box.marks)
    accents = min(mark.y - mark.face.reach(mark.text)[1] * mark.size for mark in box.marks)
    return max(0.0, min(capitals, accents + spare))


def _light_below(box: Box, spare: float) -> float:
    """From the last baseline of a box to its bottom, or less where a descender needs the room."""
    if not box.marks:
        return 0.0
    last = max(mark.y for mark in box.marks)
    descender = max(mark.y - mark.face.reach(mark.text)[0] * mark.size for mark in box.marks)
    return max(0.0, min(box.height - last, box.height - descender + spare))


def turn_over(
    boxes: Iterable[Box], symbols: tuple[Symbol, ...], height: float, dot: float, logo: str
) -> Placed:
    """Texts, symbols and logo of placed boxes on a label ``height`` points high.

    Each symbol moves to the next whole ``dot`` to the right and down, its line with it.
    """
    texts: list[Text] = []
    drawn: list[PlacedSymbol] = []
    picture = None
    for box in boxes:
        shift = (0.0, 0.0)
        for spot in box.spots:
            shift = (_to_dot(spot.x, dot), _to_dot(spot.y, dot))
            drawn.append(_symbol(symbols[spot.which], spot, shift, height, dot))
        for mark in box.marks:
            dx, dy = shift if mark.statement == "symbol" else (0.0, 0.0)
            y = height - mark.y - dy
            texts.append(Text(mark.statement, mark.text, mark.x + dx, y, mark.size, mark.face))
        if box.frame:
            frame = box.frame
            lower = height - frame.y - frame.height
            picture = Picture(logo, frame.x, lower, frame.width, frame.height)
    return Placed(tuple(texts), tuple(drawn), picture)


def _to_dot(at: float, dot: float) -> float:
    """What is missing to the next whole dot."""
    return math.ceil(at / dot - 1e-6) * dot - at


def _symbol(
    symbol: Symbol, spot: Spot, shift: tuple[float, float], height: float, dot: float
) -> PlacedSymbol:
    x, top, module = spot.x + shift[0], height - spot.y - shift[1], spot.dots * dot
    left, right = (quiet * module for quiet in symbol.quiet)
    if symbol.kind == "qr":
        rows = len(symbol.matrix)
        side = rows * module + left + right
        bars = tuple(_matrix_bars(symbol, x, top, module))
        return PlacedSymbol(
            symbol, spot.dots, x - left, top - rows * module - left, side, side, bars
        )
    width = symbol.total_modules * module
    bars = tuple(_bars(symbol, x, top, module, spot.bar_height))
    return PlacedSymbol(
        symbol, spot.dots, x - left, top - spot.bar_height, width, spot.bar_height, bars
    )


def _bars(
    symbol: Symbol, x: float, top: float, module: float, height: float
) -> Iterable[Rectangle]:
    at = 0
    for index, modules in enumerate(symbol.bars):
        if index % 2 == 0:
            reach = height + (GUARD_MODULES * module if index in symbol.guards else 0)
            yield Rectangle(x + at * module, top - reach, modules * module, reach)
        at += modules


def _matrix_bars(symbol: Symbol, x: float, top: float, module: float) -> Iterable[Rectangle]:
    for row, line in enumerate(symbol.matrix):
        for start, run in _dark_runs(line):
            y = top - (row + 1) * module
            yield Rectangle(x + start * module, y, run * module, module)


def _dark_runs(line: tuple[bool, ...]) -> Iterable[tuple[int, int]]:
    start = None
    for at, dark in enumerate((*line, False)):
        if dark and start is None:
            start = at
        elif not dark and start is not None:
            yield start, at - start
            start = None
