"""Where things may stand on a label: a few arrangements of the same boxes.

In each of them the name is at the top left, the net quantity at the foot (21 CFR 101.7(f)), and
ingredients, allergens and maker in one place with nothing between (21 CFR 101.2(e)).
"""

from __future__ import annotations

from typing import NamedTuple

from labels.boxes import NOTHING, Box, beside, stack
from labels.compose import Composer, Style
from labels.fonts import MM

_HEAD = ("name", "second-name")
_INFO = (
    ("ingredients", "contains"),
    ("second-ingredients", "second-contains"),
    ("storage", "handling"),
    ("maker",),
)
_DAY = ("date", "packed", "lot")
# Everything in one column, by what stands at its foot; the first that fits is taken.
_FEET = {
    "date beside symbol, net below": "_date_beside_symbol",
    "symbol beside date over net": "_symbol_beside_both",
    "date, symbol, net below one another": "_all_stacked",
    "symbol over date beside net": "_symbol_over_both",
}
_KINDS = ("halves", "name over")
_SHARES = (0.38, 0.44, 0.5, 0.56, 0.62)  # of the left column
_EDGE = 0.5 * MM  # a quiet zone keeps this far from the edge of the blank


class Column(NamedTuple):
    """Boxes from the top and boxes from the bottom of a stretch of the label."""

    x: float
    width: float
    top: Box
    bottom: Box


class Arrangement(NamedTuple):
    """``span`` stands above all columns; ``apart`` is the least gap between top and bottom."""

    name: str
    span: Box
    columns: tuple[Column, ...]
    apart: float

    @property
    def height(self) -> float:
        """What it needs, without margins."""
        above = self.span.height + (self.apart if self.span.height else 0)
        return above + max(
            c.top.height + c.bottom.height + (self.apart if c.top.height and c.bottom.height else 0)
            for c in self.columns
        )

    def lacking_width(self, width: float) -> tuple[float, str]:
        """How much too wide its widest box is, and the statement that makes it so."""
        boxes = [(self.span, width)]
        boxes += [(box, c.width) for c in self.columns for box in (c.top, c.bottom)]
        box, room = max(boxes, key=lambda pair: pair[0].width - pair[1])
        return box.width - room, box.widest


class Arranger:
    """Arrangements for one composer, one style and one width (points, without margins)."""

    def __init__(
        self, composer: Composer, style: Style, width: float, logo_ratio: float | None = None
    ) -> None:
        self.composer, self.style, self.width = composer, style, width
        self.logo_ratio = logo_ratio
        self.hang = max(0.0, style.margin - _EDGE)
        self._made: Box | None = None

    def names(self) -> list[str]:
        """What ``build`` knows; arrangements in two columns only where the style allows them."""
        names = list(_FEET)
        if self.style.columns:
            names += [f"{kind} {share}" for share in _SHARES for kind in _KINDS]
        return names

    def build(self, name: str) -> Arrangement:
        """One arrangement by its name."""
        if name in _FEET:
            column = Column(0, self.width, self._top(), getattr(self, _FEET[name])())
            return Arrangement(name, NOTHING, (column,), self.clear)
        kind, _, share = name.rpartition(" ")
        left, x, right = self._split(float(share))
        if kind == "halves":
            return Arrangement(name, NOTHING, self._halves(left, x, right), self.clear)
        head = self.head(self.width)
        return Arrangement(name, head, self._name_over(left, x, right), self.clear)

    # The blocks ---------------------------------------------------------------------------------

    def _stacked(self, keys: tuple[str, ...], width: float, gap: float) -> Box:
        boxes = [self.composer.paragraph(key, width, self.style) for key in keys]
        return stack(boxes, gap)

    def head(self, width: float) -> Box:
        if self.logo_ratio is None:
            return self._stacked(_HEAD, width, 0.0)
        logo = self.composer.frame(self.logo_ratio, self.style, width)
        room = width - logo.width - self.style.gutter
        return beside(
            self._stacked(_HEAD, room, 0.0), logo, width, self.style.gutter, foot=False
        )._replace(width=width)

    def info(self, width: float) -> Box:
        groups = [self._stacked(keys, width, self.style.gap / 6) for keys in _INFO]
        return stack(groups, self.style.gap)

    def day(self, width: float) -> Box:
        return self._stacked(_DAY, width, 0.0)

    def net(self, width: float) -> Box:
        """Price, drained weight and net quantity; the e mark stands behind the last."""
        price = self.composer.paragraph("price", width, self.style)
        drained = self.composer.paragraph("drained-weight", width, self.style)
        mark = self.composer.paragraph("e-mark", width, self.style)
        room = width - (mark.width + self.style.base if mark.height else 0)
        net = self.composer.paragraph("net-quantity", room, self.style)
        if mark.height:
            whole = net.width + self.style.base + mark.width
            net = beside(net, mark, whole, self.style.base)
        return stack([price, stack([drained, net], 0.0)], self.clear)

    def symbols(self, left: float, right: float) -> Box:
        count = range(len(self.composer.symbols))
        boxes = [self.composer.symbol(which, self.style, (left, right)) for which in count]
        return stack(boxes, self.style.gap)

    @property
    def clear(self) -> float:
        """Room above the net quantity: the height of its lettering (21 CFR 101.7(f))."""
        if not self.composer.has("net-quantity"):
            return self.style.gap
        size = self.composer.size("net-quantity", self.style)
        face = self.composer.faces.bold
        capital = face.height("H")
        inside = max(0.0, face.ascent - capital)  # the line box has light above its capitals
        return max(self.style.gap, (capital - inside) * size)

    @property
    def clear_beside(self) -> float:
        """Room beside the net quantity: twice the width of its N (21 CFR 101.7(f))."""
        if not self.composer.has("net-quantity"):
            return self.style.gutter
        size = self.composer.size("net-quantity", self.style)
        return max(self.style.gutter, 2 * self.composer.faces.bold.width("N", size))

    # The arrangements ---------------------------------------------------------------------------

    def _top(self) -> Box:
        """Name and small text, the same in all of these."""
        if self._made is None:
            boxes = [self.head(self.width), self.info(self.width)]
            self._made = stack(boxes, self.style.gap * 1.6)
        return self._made

    def _date_beside_symbol(self) -> Box:
        symbols = self.symbols(self.style.gutter, self.hang)
        gap = max(self.style.gutter, self._quiet_left()) if symbols.height else 0.0
        day = self.day(self.width - symbols.width - gap)
        return stack([beside(day, symbols, self.width, gap), self.net(self.width)], self.clear)

    def _symbol_beside_both(self) -> Box:
        symbols = self.symbols(self.style.gutter, self.hang)
        gap = max(self.clear_beside, self._quiet_left()) if symbols.height else 0.0
        room = self.width - symbols.width - gap
        both = stack([self.day(room), self.net(room)], self.clear)
        return beside(both, symbols, self.width, gap)

    def _all_stacked(self) -> Box:
        symbols = self.symbols(self.hang, self.hang)
        gap = max(self.style.gap, 0.3 * self.style.base)  # text does not touch the bars
        day = stack([self.day(self.width), symbols], gap)
        return stack([day, self.net(self.width)], self.clear)

    def _symbol_over_both(self) -> Box:
        net = self.net(self.width)
        day = self.day(self.width - net.width - self.clear_beside)
        row = beside(day, net, self.width, self.clear_beside)
        return stack([self.symbols(self.hang, self.hang), row], self.clear)

    def _quiet_left(self) -> float:
        """The widest left quiet zone: text beside a symbol stays out of it."""
        boxes = [
            self.composer.symbol(i, self.style, (0, 0)) for i in range(len(self.composer.symbols))
        ]
        return max((spot.x for box in boxes for spot in box.spots), default=0.0)

    def _split(self, share: float) -> tuple[float, float, float]:
        gutter = max(self.style.gutter, self._quiet_left() + self.composer.dot)
        left = (self.width - gutter) * share
        return left, left + gutter, self.width - gutter - left

    def _net_beside(self, left: float, x: float) -> Box:
        """The net quantity in a column of width ``left``, clear of what begins at ``x``."""
        kept = max(0.0, left - (x - self.clear_beside))
        net = self.net(left - kept)
        return net._replace(width=net.width + kept)

    def _halves(self, left: float, x: float, right: float) -> tuple[Column, ...]:
        """Name, date and net quantity at the left; the small text and the symbol at the right."""
        foot = stack([self.day(left), self._net_beside(left, x)], self.clear)
        symbols = self.symbols(x - left, self.hang)
        return (
            Column(0, left, self.head(left), foot),
            Column(x, right, self.info(right), symbols),
        )

    def _name_over(self, left: float, x: float, right: float) -> tuple[Column, ...]:
        """Name across; small text over net quantity at the left, date over symbol at the right."""
        symbols = self.symbols(x - left, self.hang)
        return (
            Column(0, left, self.info(left), self._net_beside(left, x)),
            Column(x, right, self.day(right), symbols),
        )
