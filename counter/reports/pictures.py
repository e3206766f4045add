"""Pictures of a day: what was sold in which hour, and where everything made went.

Filled bars, slanted lines for what was thrown away and outlines for what is missing, so that a
page printed without colour still reads. Every bar carries its figure; no axis is needed.
"""

from __future__ import annotations

import msgspec

from counter.reports.blocks import HEAD, draw_title
from counter.reports.flows import Flow
from counter.reports.pen import ACCENT, BODY, HAIR, INK, MIDDLE, PALE, SMALL, SOFT, Pen
from counter.reports.telling import Telling
from counter.trade.closing import HourDay

PARTS = ("sold", "used", "carried out", "wasted", "missing")


class Hours(msgspec.Struct, frozen=True):
    """Takings by the hour as bars, the number of sales under each hour."""

    title: str
    hours: tuple[HourDay, ...]
    telling: Telling
    sold_out: tuple[str, ...] = ()
    tall: float = 84.0

    def height(self, pen: Pen, width: float) -> float:
        return HEAD + self.tall + 24 + (11.0 * len(self._notes(pen, width)))

    def _notes(self, pen: Pen, width: float) -> list[str]:
        text = f"Sold out: {', '.join(self.sold_out)}" if self.sold_out else ""
        return pen.wrap(text, width, SMALL) if text else []

    def draw(self, pen: Pen, x: float, top: float, width: float) -> None:
        draw_title(pen, x, top, width, self.title, "takings above, sales below the hour")
        base = top + HEAD + self.tall
        rows = filled_hours(self.hours)
        if rows:
            step = width / len(rows)
            most = max(max(h.total for h in rows), 1)
            for i, hour in enumerate(rows):
                middle = x + (i + 0.5) * step
                high = (self.tall - 16) * max(hour.total, 0) / most
                if high:
                    pen.box(middle - step * 0.36, base - high, step * 0.72, high, ACCENT)
                    label = self.telling.round_money(hour.total)
                    pen.text(middle, base - high - 3, label, SMALL, align="middle", most=step)
                pen.text(middle, base + 9.5, f"{hour.hour}", BODY, align="middle")
                count = str(hour.sales) if hour.sales else "–"
                pen.text(middle, base + 19, count, SMALL, colour=SOFT, align="middle")
        else:
            pen.text(x, base - 6, "Nothing was sold.", BODY, colour=SOFT)
        pen.rule(x, base, width, INK, 0.6)
        for i, line in enumerate(self._notes(pen, width)):
            pen.text(x, base + 32 + i * 10, line, SMALL, colour=INK)


def filled_hours(hours: tuple[HourDay, ...]) -> list[HourDay]:
    """Every hour from the first to the last, also those in which nothing was sold."""
    if not hours:
        return []
    known = {h.hour: h for h in hours}
    first, last = hours[0].hour, hours[-1].hour
    span = (last - first) % 24
    return [known.get((first + i) % 24) or HourDay((first + i) % 24, 0, 0) for i in range(span + 1)]


class Whereto(msgspec.Struct, frozen=True):
    """For each product a bar as long as all there was of it, parted by where it went."""

    title: str
    flows: tuple[Flow, ...]
    telling: Telling
    row: float = 14.4

    def height(self, _pen: Pen, _width: float) -> float:
        return HEAD + 13 + self.row * max(1, len(self.flows)) + 2

    def draw(self, pen: Pen, x: float, top: float, width: float) -> None:
        draw_title(pen, x, top, width, self.title, "carried in + made = the whole bar")
        self._legend(pen, x, top + HEAD + 5.5)
        if not self.flows:
            pen.text(x, top + HEAD + 22, "Nothing was there.", BODY, colour=SOFT)
        names, whole = 112.0, 66.0
        for i, flow in enumerate(self.flows):
            y = top + HEAD + 13 + i * self.row
            pen.text(x, y + 9, self.telling.product(flow.product), BODY, most=names - 6)
            there = flow.carried_in + flow.made
            pen.text(x + width, y + 9, self.telling.amount(there, flow.unit), BODY, align="right")
            self._bar(pen, x + names, y + 1.6, width - names - whole, flow)

    def _legend(self, pen: Pen, x: float, base: float) -> None:
        for part in PARTS:
            draw_part(pen, part, x, base - 6, 7, 7)
            x += 10.5
            x += pen.text(x, base, part, SMALL, colour=SOFT) + 13

    def _bar(self, pen: Pen, x: float, y: float, width: float, flow: Flow) -> None:
        amounts = parts_of(flow)
        whole = sum(amounts.values())
        high = self.row - 4.6
        if whole <= 0:
            return
        at = x
        for part, amount in amounts.items():
            if amount <= 0:
                continue
            wide = width * amount / whole
            draw_part(pen, part, at, y, max(wide - 0.8, 0.8), high)
            label = self.telling.amount(amount, flow.unit)
            need = pen.measure(label, SMALL, bold=True) + 4
            if part == "wasted":
                need += 14  # lines must be seen beside the figure
            if need <= wide:
                if part == "wasted":
                    need -= 14
                    pen.box(at + wide / 2 - need / 2, y + 1.4, need, high - 2.8, "#ffffff")
                colour = "#ffffff" if part == "sold" else INK
                pen.text(
                    at + wide / 2 - 0.4, y + high / 2 + 2.5, label, SMALL, bold=True,
                    colour=colour, align="middle",
                )  # fmt: skip
            at += wide


def parts_of(flow: Flow) -> dict[str, int]:
    """Where a product went, in the order it is drawn; what is over counts for nothing here."""
    return {
        "sold": flow.sold,
        "used": flow.used,
        "carried out": flow.carried_out,
        "wasted": flow.wasted_all,
        "missing": max(flow.variance, 0),
    }


def draw_part(pen: Pen, part: str, x: float, y: float, width: float, height: float) -> None:
    """A piece of a bar in the manner of its part."""
    if part == "wasted":
        pen.box(x, y, width, height, "#ffffff")
        pen.hatch(x, y, width, height)
    elif part == "missing":
        pen.hollow(x, y, width, height)
    else:
        pen.box(x, y, width, height, {"sold": ACCENT, "used": MIDDLE, "carried out": PALE}[part])


class Bars(msgspec.Struct, frozen=True):
    """A row of bars over time, each with its word below; ``slanted`` for what was thrown away."""

    title: str
    values: tuple[int, ...]
    words: tuple[str, ...]
    labels: tuple[str, ...]
    aside: str = ""
    tall: float = 96.0
    slanted: bool = False

    def height(self, _pen: Pen, _width: float) -> float:
        return HEAD + self.tall + 14

    def draw(self, pen: Pen, x: float, top: float, width: float) -> None:
        draw_title(pen, x, top, width, self.title, self.aside)
        base = top + HEAD + self.tall
        step = width / max(1, len(self.values))
        most = max([1, *self.values])
        shape = pen.hatch if self.slanted else pen.box
        colour = INK if self.slanted else ACCENT
        for i, value in enumerate(self.values):
            middle = x + (i + 0.5) * step
            high = (self.tall - 14) * max(value, 0) / most
            wide = min(step * 0.72, 34.0)
            if high:
                shape(middle - wide / 2, base - high, wide, high, colour)
            if self.labels[i]:
                pen.text(middle, base - high - 3, self.labels[i], SMALL, align="middle")
            if self.words[i]:
                pen.text(middle, base + 9.5, self.words[i], SMALL, align="middle")
        pen.rule(x, base, width, INK, 0.6)


class Dots(msgspec.Struct, frozen=True):
    """Small pictures side by side, one a product: a figure over time as dots joined by a line.

    ``rows`` holds (name, values with None where there is none, how a value is written).
    """

    title: str
    rows: tuple[tuple[str, tuple[float | None, ...], str], ...]
    words: tuple[str, str]
    aside: str = ""
    across: int = 3
    tall: float = 46.0

    def height(self, _pen: Pen, _width: float) -> float:
        lines = -(-len(self.rows) // self.across)
        return HEAD + lines * (self.tall + 12) if self.rows else HEAD + 12

    def draw(self, pen: Pen, x: float, top: float, width: float) -> None:
        draw_title(pen, x, top, width, self.title, self.aside)
        step = width / self.across
        for i, (name, values, form) in enumerate(self.rows):
            left = x + (i % self.across) * step
            y = top + HEAD + (i // self.across) * (self.tall + 12)
            self._one(pen, left, y, step - 16, name, values, form)
        if not self.rows:
            pen.text(x, top + HEAD + BODY, "None was noted.", BODY, colour=SOFT)

    def _one(
        self, pen: Pen, x: float, top: float, width: float, name: str,
        values: tuple[float | None, ...], form: str,
    ) -> None:  # fmt: skip
        known = [v for v in values if v is not None]
        low, high = min(known), max(known)
        last = form.format(known[-1])
        room = width - pen.measure(last, BODY, bold=True) - 4
        pen.text(x, top + 8, name, BODY, most=room)
        pen.text(x + width, top + 8, last, BODY, bold=True, align="right")
        span = (high - low) or 1.0
        floor, head = top + self.tall - 6, top + 16
        pen.rule(x, floor + 4, width, HAIR)
        edges = pen.measure(form.format(high), SMALL) + 6
        points = []
        for i, value in enumerate(values):
            if value is not None:
                at = x + (width - edges) * (i + 0.5) / len(values)
                part = (value - low) / span if high > low else 0.5
                points.append((at, floor - (floor - head) * part))
        pen.path(points, MIDDLE, 0.8)
        for point in points:
            pen.dot(*point, 1.3)
        if form.format(high) != form.format(low):
            pen.text(x + width, head + 3, form.format(high), SMALL, colour=SOFT, align="right")
            pen.text(x + width, floor + 2, form.format(low), SMALL, colour=SOFT, align="right")
