"""Pictures of a day and of the strength of batches, for the page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import ClassVar

import msgspec
from markupsafe import Markup

from counter.reports.flows import Flow, flows_of
from counter.reports.pen import MIDDLE, SOFT, WASH, Align
from counter.reports.pictures import Curve, filled_hours
from counter.reports.summary import happened
from counter.shop import Shop
from counter.trade.catalogue import Range
from counter.trade.closing import Closing, HourDay, LotDay
from counter.trade.corrections import Corrections
from counter.trade.dayfigures import sales_by_hour
from counter.trade.lookback import BrixPoint
from counter.trade.sales import Sale
from counter.trade.tracing import Trace
from counter.web.words import Wording

LONG = 1000  # a whole bar, in units of its drawing


class Bar(msgspec.Struct, frozen=True):
    """One hour: its name, how long its bar is, and what it says."""

    name: str
    long: int
    sales: int
    total: str


class Piece(msgspec.Struct, frozen=True):
    """One part of a bar: what it is, from where and how long, and how much in words."""

    kind: str
    start: int
    long: int
    says: str


class Way(msgspec.Struct, frozen=True):
    """Where all of a product, or of a lot, went: a bar in parts."""

    name: str
    there: str
    pieces: tuple[Piece, ...]


class Summary(msgspec.Struct, frozen=True):
    """What the summary of a day shows beside the closing itself. ``moved`` were paid on days that
    were closed before they were booked."""

    hours: tuple[Bar, ...]
    ways: tuple[Way, ...]
    names: dict[str, str]
    lots: tuple[LotDay, ...]
    corrections: Corrections
    moved: tuple[Sale, ...] = ()


def hour_bars(hours: Sequence[HourDay], words: Wording) -> tuple[Bar, ...]:
    """Every hour from the first to the last, also those without a sale."""
    rows = filled_hours(tuple(hours))
    most = max((1, *(hour.total for hour in rows)))
    return tuple(
        Bar(hour_name(h.hour, words), max(0, h.total) * LONG // most, h.sales, words.money(h.total))
        for h in rows
    )


def hour_name(hour: int, words: Wording) -> str:
    return words.clock(datetime(2000, 1, 1, hour, tzinfo=words.settings.zone))


def parts(there: int, amounts: dict[str, int], unit: str, words: Wording) -> tuple[Piece, ...]:
    """The parts of a bar, side by side; their lengths add up to the whole bar."""
    whole = max(there, sum(a for a in amounts.values() if a > 0), 1)
    found, start = [], 0
    for kind, amount in amounts.items():
        if not amount:
            continue
        long = max(0, amount) * LONG // whole
        says = words.t(f"records.way_{kind}", amount=words.amount(abs(amount), unit))
        found.append(Piece(kind, start, long, says))
        start += long
    return tuple(found)


def way_of(flow: Flow, name: str, words: Wording) -> Way:
    amounts = {
        "sold": flow.sold,
        "used": flow.used,
        "wasted": flow.wasted_all,
        "missing": max(0, flow.variance),
        "left": flow.carried_out,
        "over": min(0, flow.variance),
    }
    whole = flow.carried_in + flow.made
    there = words.t("records.there", amount=words.amount(whole, flow.unit))
    return Way(name, there, parts(whole, amounts, flow.unit, words))


def way_of_lot(trace: Trace, words: Wording) -> Way:
    """Where a lot went over all its days."""
    unit = trace.batch.unit
    whole = trace.made + trace.corrected
    amounts = {
        "sold": trace.sold,
        "used": trace.used,
        "wasted": trace.wasted,
        "missing": trace.missing,
        "left": trace.left,
        "over": -trace.over,
    }
    there = words.t("records.made_so", amount=words.amount(trace.made, unit))
    if trace.corrected:
        there += words.t("records.corrected_so", amount=f"{trace.corrected:+d}")
    return Way(trace.lot, there, parts(whole, amounts, unit, words))


def summary_of(closing: Closing, shop: Shop, words: Wording) -> Summary:
    """The pictures of a day and the names of its products."""
    names = shop.desk.catalogues.names()
    sales = shop.desk.recorded(Sale, closing.day)
    return Summary(
        hour_bars(closing.hours or sales_by_hour(sales), words),
        tuple(way_of(f, names.get(f.product, f.product), words) for f in flows_of(closing.lots)),
        names,
        tuple(lot for lot in closing.lots if happened(lot) or lot.counted or lot.stopped),
        shop.closed_days.corrections_of(closing.day),
        tuple(sale for sale in sales if sale.moved),
    )


class SvgPen:
    """Draws on a page, in the colours of its style sheet."""

    CLASSES: ClassVar[dict[str, str]] = {WASH: "band", MIDDLE: "line", SOFT: "mark"}
    ENDS: ClassVar[dict[str, str]] = {"left": "start", "middle": "middle", "right": "end"}

    def __init__(self) -> None:
        self.parts: list[Markup] = []

    def box(self, x: float, y: float, width: float, height: float, fill: str) -> None:
        rect = Markup('<rect class="{}" x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}"/>')
        self.parts.append(rect.format(self.CLASSES[fill], x, y, width, height))

    def path(self, points: list[tuple[float, float]], colour: str, _weight: float) -> None:
        line = "M" + " L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        self.parts.append(Markup('<path class="{}" d="{}"/>').format(self.CLASSES[colour], line))

    def dot(self, x: float, y: float, says: str, usual: bool) -> None:
        kind, radius = ("dot", 3.5) if usual else ("dot off", 5)
        circle = Markup('<circle class="{}" cx="{:.1f}" cy="{:.1f}" r="{}">{}</circle>')
        title = Markup("<title>{}</title>").format(says)
        self.parts.append(circle.format(kind, x, y, radius, title))

    def text(
        self, x: float, base: float, text: str, _size: float, *, colour: str, align: Align
    ) -> float:
        word = Markup('<text class="{}" x="{:.1f}" y="{:.1f}" text-anchor="{}">{}</text>')
        self.parts.append(word.format(self.CLASSES[colour], x, base, self.ENDS[align], text))
        return 0.0


LEAST_SPAN = 2.0  # °Brix; a scale finer than the refractometer would show only noise


def strengths(points: Sequence[BrixPoint], usual: Range | None, words: Wording) -> Markup:
    """°Brix by batch in the order made, with the usual band, as the inside of an SVG 400 by 134;
    "" where nothing was measured."""
    if not points:
        return Markup()
    values = [float(p.brix) for p in points]
    band = (float(usual.least), float(usual.most)) if usual else None
    low, high = min(values + list(band or ())), max(values + list(band or ()))
    spare = max(LEAST_SPAN - (high - low), (high - low) / 5) / 2
    marked = band or dict.fromkeys((min(values), max(values)))
    curve = Curve(
        values=values,
        low=low - spare,
        high=high + spare,
        usual=band,
        says=[f"{p.lot}, {words.date(p.day)}: {words.number(p.brix)} °Brix" for p in points],
        marks=[(v, words.number(Decimal(f"{v:g}"))) for v in marked],
    )
    pen = SvgPen()
    curve.draw(pen, 36, 8, 358, 100, 30)
    pen.text(36, 128, words.date(points[0].day), 0, colour=SOFT, align="left")
    if points[1:]:
        pen.text(394, 128, words.date(points[-1].day), 0, colour=SOFT, align="right")
    return Markup().join(pen.parts)
