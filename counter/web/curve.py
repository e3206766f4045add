"""The strength of the last batches as a small picture. Figures only; the template draws them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

import msgspec

from counter.trade.catalogue import Range
from counter.trade.production import Batch, lot_day

WIDTH, HEIGHT = 320, 120
LEFT, RIGHT, TOP, BOTTOM = 34, 8, 10, 22
LEAST_SPAN = Decimal(2)  # °Brix; a scale finer than the refractometer would show only noise


class Point(msgspec.Struct, frozen=True):
    """One batch; ``usual`` says whether it lies within the band."""

    x: float
    y: float
    lot: str
    day: date
    brix: Decimal
    usual: bool


class Curve(msgspec.Struct, frozen=True):
    """Points from left to right, oldest first; ``band`` is (top, height) of the usual range."""

    points: tuple[Point, ...]
    path: str
    band: tuple[float, float] | None
    marks: tuple[tuple[float, Decimal], ...]
    usual: Range | None


def curve_of(batches: Sequence[Batch], usual: Range | None) -> Curve | None:
    """The °Brix of ``batches``, newest first as they come from the log. None where none has one."""
    told = [(b, b.brix) for b in reversed(batches) if b.brix is not None]
    if not told:
        return None
    values = [brix for _, brix in told] + ([usual.least, usual.most] if usual else [])
    low, high = min(values), max(values)
    spare = max(LEAST_SPAN - (high - low), (high - low) / 5) / 2
    low, high = low - spare, high + spare

    def y_of(brix: Decimal) -> float:
        return round(TOP + float((high - brix) / (high - low)) * (HEIGHT - TOP - BOTTOM), 1)

    step = (WIDTH - LEFT - RIGHT) / max(len(told) - 1, 1)
    points = tuple(
        Point(
            round(LEFT + i * step, 1), y_of(brix), batch.lot, lot_day(batch.lot) or batch.at.date(),
            brix, usual is None or usual.least <= brix <= usual.most,
        )
        for i, (batch, brix) in enumerate(told)
    )  # fmt: skip
    band = (y_of(usual.most), round(y_of(usual.least) - y_of(usual.most), 1)) if usual else None
    marked = (usual.least, usual.most) if usual else (min(values), max(values))
    marks = tuple((y_of(v), v) for v in dict.fromkeys(marked))
    path = "M" + " L".join(f"{p.x} {p.y}" for p in points)
    return Curve(points, path, band, marks, usual)
