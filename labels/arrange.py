"""Where things may stand on a label: a few arrangements of the same boxes.

In each of them the name is at the top left, the net quantity at the foot (21 CFR 101.7(f)), and
ingredients, allergens and maker in one place with nothing between (21 CFR 101.2(e)).
"""

from __future__ import annotations

from typing import NamedTuple

from labels.boxes import NOTHING, Box, beside, stack
from labels.compose import Composer, Style
from labels.fonts import MM
from labels.rules.statement import BEHIND_DATE

_HEAD = ("name", "second-name")
_INFO = (
    ("ingredients", "contains", "may-contain"),
    ("second-ingredients", "second-contains", "second-may-contain"),
    ("maker",),
    (
        "storage",
        "second-storage",
        "handling",
    ),  # not asked for, so not between what is: 21 CFR 101.2(e)
)
_DAY = ("packed", "frozen", "lot")
# Everything in one column, by what stands at its foot; the first that fits is taken.
_FEET = {
    "date beside symbol, net below": "_date_beside_symbol",
    "symbol beside date over net": "_symbol_beside_both",
    "date, symbol, net below one another": "_all_stacked",
    "symbol over date beside net": "_symbol_over_both",
}
_KINDS = ("halves", "name over")
_SHARES = (0.38, 0.44, 0.5, 0.56, 0.62)  # of the left column
_TIGHT = 0.2  # of ``Style.space``
_LEAST_AIR = 0.3  # of the small text, between blocks that belong apart
_EDGE = 0.5 * MM  # a quiet zone keeps this far from the edge of the blank


class Stack(NamedTuple):
    """Boxes from the top and boxes from the bottom of a stretch of the label."""

    x: float
    width: float
    top: Box
    bottom: Box


class Arrangement(NamedTuple):
    """``span`` stands above all columns; ``apart`` is the least gap between top and bottom."""

    name: str
    span: Box
    columns: tuple[Stack, ...]
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
            column = Stack(0, self.width, self._top(), getattr(self, _FEET[name])())
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
        behind = self._behind_date
        rest = [tuple(key for key in keys if key not in behind) for keys in _INFO]
        groups = [self._stacked(keys, width, self.style.gap / 6) for keys in rest]
        return stack(groups, self.style.gap)

    def day(self, width: float) -> Box:
        return self._stacked(("date", *self._behind_date, *_DAY), width, 0.0)

    @property
    def _behind_date(self) -> list[str]:
        said = self.composer.statements
        return [key for key, s in said.items() if s.placement == BEHIND_DATE]

    def net(self, width: float) -> Box:
        """Price, drained weight and net quantity; the e mark stands behind the last."""
        price = self.composer.paragraph("price", width, self.style)
        drained = self.composer.paragraph("drained-weight", width, self.style)
        mark = self.composer.paragraph("e-mark", width, self.style)
        room = width - (mark.width + self.style.base if mark.height else 0)
        net = self.composer.paragraph("net-quantity", room, self.style)
        if mark.height:
            net = _behind_last_line(net, mark, self.style.base)
        return stack([price, stack([drained, net], 0.0)], self.clear)

    def symbols(self, left: float, right: float, *, digit_hangs: bool = False) -> Box:
        boxes = [
            self.composer.symbol(which, self.style, (left, right), digit_hangs=digit_hangs)
            for which in range(len(self.composer.symbols))
        ]
        return stack(boxes, self.style.gap)

    @property
    def clear(self) -> float:
        """Room above the net quantity: the height of its lettering (21 CFR 101.7(f)); where no law
        asks for it, only on a label that has the room."""
        if not self._stands_apart:
            return max(self.style.gap, _LEAST_AIR * self.style.base)
        size = self.composer.size("net-quantity", self.style)
        face = self.composer.faces.bold
        capital = face.height("H")
        inside = max(0.0, face.ascent - capital)  # the line box has light above its capitals
        return max(self.style.gap, (capital - inside) * size)

    @property
    def clear_beside(self) -> float:
        """Room beside the net quantity: twice the width of its N (21 CFR 101.7(f))."""
        if not self._stands_apart:
            return self.style.gutter
        size = self.composer.size("net-quantity", self.style)
        return max(self.style.gutter, 2 * self.composer.faces.bold.breadth("N") * size)

    @property
    def _stands_apart(self) -> bool:
        net = self.composer.statements.get("net-quantity")
        return net is not None and (self.style.space > _TIGHT or "21 CFR 101.7" in net.clause)

    # The arrangements ---------------------------------------------------------------------------

    def _top(self) -> Box:
        """Name and small text, the same in all of these."""
        if self._made is None:
            boxes = [self.head(self.width), self.info(self.width)]
            self._made = stack(boxes, self.style.gap * 1.6)
        return self._made

    def _date_beside_symbol(self) -> Box:
        symbols = self.symbols(self.style.gutter, self.hang, digit_hangs=True)
        gap = self.style.gutter if symbols.height else 0.0
        day = self.day(self.width - symbols.width - gap)
        return stack([beside(day, symbols, self.width, gap), self.net(self.width)], self.clear)

    def _symbol_beside_both(self) -> Box:
        symbols = self.symbols(self.style.gutter, self.hang)
        gap = self.clear_beside if symbols.height else 0.0
        room = self.width - symbols.width - gap
        both = stack([self.day(room), self.net(room)], self.clear)
        return beside(both, symbols, self.width, gap)

    def _all_stacked(self) -> Box:
        symbols = self.symbols(self.hang, self.hang)
        gap = max(self.style.gap, _LEAST_AIR * self.style.base)  # text does not touch the bars
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

    def _net_beside(self, left: float, x: float, symbols: Box) -> Box:
        """The net quantity in a column of width ``left``, clear of the one that begins at ``x`` and
        of what hangs out of it."""
        begins = x + min(0.0, *(mark.x for mark in symbols.marks), 0.0)
        kept = max(0.0, left - (begins - self.clear_beside))
        net = self.net(left - kept)
        return net._replace(width=net.width + kept)

    def _halves(self, left: float, x: float, right: float) -> tuple[Stack, ...]:
        """Name, date and net quantity at the left; the small text and the symbol at the right."""
        symbols = self.symbols(x - left, self.hang, digit_hangs=True)
        foot = stack([self.day(left), self._net_beside(left, x, symbols)], self.clear)
        return (Stack(0, left, self.head(left), foot), Stack(x, right, self.info(right), symbols))

    def _name_over(self, left: float, x: float, right: float) -> tuple[Stack, ...]:
        """Name across; small text over net quantity at the left, date over symbol at the right."""
        symbols = self.symbols(x - left, self.hang, digit_hangs=True)
        return (
            Stack(0, left, self.info(left), self._net_beside(left, x, symbols)),
            Stack(x, right, self.day(right), symbols),
        )


def _behind_last_line(box: Box, mark: Box, gap: float) -> Box:
    """``mark`` on the last baseline of ``box``, ``gap`` behind what stands there."""
    last = max(m.y for m in box.marks)
    end = max(m.x + m.face.width(m.text, m.size) for m in box.marks if m.y == last)
    fall = last - mark.marks[0].y
    before, behind = box.moved(0, max(0.0, -fall)), mark.moved(end + gap, max(0.0, fall))
    width = max(box.width, end + gap + mark.width)
    height = max(box.height + max(0.0, -fall), mark.height + max(0.0, fall))
    return Box(width, height, before.marks + behind.marks, widest=box.widest)
