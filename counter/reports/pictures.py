"""Pictures of a day: what was sold in which hour, and where everything made went.

Filled bars, slanted lines for what was thrown away and outlines for what is missing, so that a
page printed without colour still reads. Every bar carries its figure; no axis is needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import msgspec

from counter.present import Presenter
from counter.reports.blocks import HEAD, draw_title
from counter.reports.flows import Flow
from counter.reports.pen import (
    ACCENT,
    BODY,
    HAIR,
    INK,
    MIDDLE,
    PALE,
    SMALL,
    SOFT,
    WASH,
    WHITE,
    Align,
    Pen,
)
from counter.reports.spans import HourSpan
from counter.trade.closing import HourDay
from labels.say import NOTHING, Said, figure, say

Hour = HourDay | HourSpan

PARTS = {
    "sold": say("sold"),
    "used": say("used"),
    "carried out": say("carried out"),
    "wasted": say("wasted"),
    "missing": say("missing"),
}


class Bars(msgspec.Struct, frozen=True):
    """A row of bars, each with what it says above and its words below; ``slanted`` for what was
    thrown away. Where there is none, ``empty`` is said."""

    title: Said
    values: tuple[int, ...]
    labels: tuple[str, ...]
    words: tuple[tuple[str, ...], ...]
    aside: Said = NOTHING
    tall: float = 84.0
    slanted: bool = False
    empty: Said = NOTHING

    def height(self, _pen: Pen, _width: float) -> float:
        return HEAD + self.tall + 4 + 10 * max(map(len, self.words), default=0)

    def draw(self, pen: Pen, width: float) -> None:
        draw_title(pen, width, self.title, self.aside)
        base, step = HEAD + self.tall, width / max(1, len(self.values))
        most, wide = max([1, *self.values]), min(step * 0.72, 34.0)
        for i, value in enumerate(self.values):
            middle = (i + 0.5) * step
            high = (self.tall - 14) * max(value, 0) / most
            if high:
                (pen.hatch if self.slanted else pen.bar)(middle - wide / 2, base - high, wide, high)
            size = pen.fit(self.labels[i], SMALL, step)
            pen.text(middle, base - high - 3, self.labels[i], size, align="middle")
            for n, word in enumerate(self.words[i]):
                size, colour = (SMALL, SOFT) if n else (BODY, INK)
                pen.text(middle, base + 9.5 * (n + 1), word, size, colour=colour, align="middle")
        if not self.values:
            pen.text(0, base - 6, self.empty, colour=SOFT)
        pen.line(0, base, width, base, INK, 0.6)


def hours_picture(title: Said, hours: Sequence[Hour], telling: Presenter) -> Bars:
    """Takings by the hour as bars, the number of sales under each hour."""
    rows = filled_hours(hours)
    return Bars(
        title,
        tuple(h.total for h in rows),
        tuple(telling.round_money(h.total) if h.total > 0 else "" for h in rows),
        tuple((str(h.hour), str(h.sales or "–")) for h in rows),
        say("takings above, sales below the hour"),
        84 if rows else 20,
        empty=say("Nothing was sold."),
    )


def filled_hours(hours: Sequence[Hour]) -> list[Hour]:
    """Every hour from the first to the last, also those in which nothing was sold."""
    if not hours:
        return []
    known = {h.hour: h for h in hours}
    first, last = hours[0].hour, hours[-1].hour
    span = (last - first) % 24
    hours_on = ((first + i) % 24 for i in range(span + 1))
    return [known.get(hour) or HourDay(hour, 0, 0) for hour in hours_on]


class Whereto(msgspec.Struct, frozen=True):
    """For each product a bar as long as all there was of it, parted by where it went."""

    title: Said
    flows: tuple[Flow, ...]
    telling: Presenter
    row: float = 14.4

    def height(self, _pen: Pen, _width: float) -> float:
        return HEAD + 13 + self.row * max(1, len(self.flows)) + 2

    def draw(self, pen: Pen, width: float) -> None:
        draw_title(pen, width, self.title, say("carried in + made = the whole bar"))
        x = 0.0
        for part, word in PARTS.items():
            draw_part(pen, part, x, HEAD - 0.5, 7, 7)
            x += 10.5 + pen.text(x + 10.5, HEAD + 5.5, word, SMALL, colour=SOFT) + 13
        if not self.flows:
            pen.text(0, HEAD + 22, say("Nothing was there."), colour=SOFT)
        names, whole = 112.0, 66.0
        for i, flow in enumerate(self.flows):
            y = HEAD + 13 + i * self.row
            name = self.telling.product(flow.product)
            pen.text(0, y + 9, name, pen.fit(name, BODY, names - 6))
            there = self.telling.some(flow.carried_in + flow.made, flow.unit)
            pen.text(width, y + 9, there, align="right")
            self._bar(pen, names, y + 1.6, width - names - whole, flow)

    def _bar(self, pen: Pen, at: float, y: float, width: float, flow: Flow) -> None:
        amounts = {part: amount for part, amount in parts_of(flow).items() if amount > 0}
        whole, high = sum(amounts.values()), self.row - 4.6
        for part, amount in amounts.items():
            wide = width * amount / whole
            draw_part(pen, part, at, y, max(wide - 0.8, 0.8), high)
            label = self.telling.some(amount, flow.unit)
            need = pen.measure(label, SMALL, bold=True) + 4
            if need + 14 * (part == "wasted") <= wide:  # lines must be seen beside the figure
                if part == "wasted":
                    pen.box(at + wide / 2 - need / 2, y + 1.4, need, high - 2.8, WHITE)
                colour = WHITE if part == "sold" else INK
                place = (at + wide / 2 - 0.4, y + high / 2 + 2.5)
                pen.text(*place, label, SMALL, bold=True, colour=colour, align="middle")
            at += wide


def parts_of(flow: Flow) -> dict[str, int]:
    """Where a product went, in the order it is drawn; what is over, below zero, is not."""
    return {
        "sold": flow.sold,
        "used": flow.used,
        "carried out": flow.carried_out,
        "wasted": flow.wasted_all,
        "missing": flow.variance,
    }


def draw_part(pen: Pen, part: str, x: float, y: float, width: float, height: float) -> None:
    """A piece of a bar in the manner of its part."""
    if part == "wasted":
        pen.box(x, y, width, height, WHITE)
        pen.hatch(x, y, width, height)
    elif part == "missing":
        pen.hollow(x, y, width, height)
    else:
        pen.box(x, y, width, height, {"sold": ACCENT, "used": MIDDLE, "carried out": PALE}[part])


class Curved(Protocol):
    """What draws a curve: the pen of a paper, or the one of a page."""

    def box(self, x: float, y: float, width: float, height: float, fill: str, /) -> None: ...

    def path(self, points: list[tuple[float, float]], colour: str, weight: float, /) -> None: ...

    def dot(self, x: float, y: float, says: str, usual: bool, /) -> None: ...

    def text(
        self, x: float, base: float, text: str, size: float, *, colour: str, align: Align
    ) -> float: ...


class Curve(msgspec.Struct, frozen=True, kw_only=True):
    """A figure over time as dots joined by a line, None where there is none, on a scale from
    ``low`` to ``high``; with a band of what is usual, and ``marks`` beside it (value, its word)."""

    values: Sequence[float | None]
    low: float
    high: float
    says: Sequence[str] = ()
    usual: tuple[float, float] | None = None
    marks: Sequence[tuple[float, str]] = ()

    def draw(
        self, pen: Curved, x: float, y: float, width: float, height: float, marks_at: float
    ) -> None:
        """From the upper left corner (x, y); the words of the marks end at ``marks_at``."""

        def up(value: float) -> float:
            span = self.high - self.low
            return y + height * ((self.high - value) / span if span > 0 else 0.5)

        if self.usual:
            least, most = self.usual
            pen.box(x, up(most), width, up(least) - up(most), WASH)
        for value, word in self.marks:
            pen.text(marks_at, up(value) + 2.5, word, SMALL, colour=SOFT, align="right")
        step = width / max(len(self.values), 1)
        dots = [(x + step * (i + 0.5), v, i) for i, v in enumerate(self.values) if v is not None]
        pen.path([(at, up(value)) for at, value, _ in dots], MIDDLE, 0.8)
        for at, value, i in dots:
            usual = self.usual is None or self.usual[0] <= value <= self.usual[1]
            pen.dot(at, up(value), self.says[i] if self.says else "", usual)


class Dots(msgspec.Struct, frozen=True):
    """Small pictures side by side, one a product: a figure over time as dots joined by a line.

    ``rows`` holds (name, values with None where there is none, how a value is written).
    """

    title: Said
    rows: tuple[tuple[str, tuple[float | None, ...], str], ...]
    aside: Said = NOTHING
    across: int = 3
    tall: float = 46.0

    def height(self, _pen: Pen, _width: float) -> float:
        return HEAD - (-len(self.rows) // self.across) * (self.tall + 12)

    def draw(self, pen: Pen, width: float) -> None:
        draw_title(pen, width, self.title, self.aside)
        step = width / self.across
        for i, row in enumerate(self.rows):
            y = HEAD + (i // self.across) * (self.tall + 12)
            self._one(pen, (i % self.across) * step, y, step - 16, *row)

    def _one(
        self,
        pen: Pen,
        x: float,
        top: float,
        width: float,
        name: str,
        values: tuple[float | None, ...],
        form: str,
    ) -> None:
        known = [v for v in values if v is not None]
        low, high = min(known), max(known)
        words = [figure(form.format(value)) for value in (high, low)]
        last = pen.text(
            x + width, top + 8, figure(form.format(known[-1])), bold=True, align="right"
        )
        pen.text(x, top + 8, name, pen.fit(name, BODY, width - last - 4))
        floor = top + self.tall - 2
        pen.line(x, floor, x + width, floor, HAIR)
        marks = tuple(zip((high, low), words, strict=True)) if words[0] != words[1] else ()
        room = width - pen.measure(words[0], SMALL) - 6
        curve = Curve(values=values, low=low, high=high, marks=marks)
        curve.draw(pen, x, top + 16, room, self.tall - 22, x + width)
