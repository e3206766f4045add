"""Facts, market and blank to a placed label, or a refusal that says what would do.

The largest type at which everything fits, between the least the law allows and a size above
which small text only shouts. What does not fit at the least is refused.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from labels.arrange import Arrangement, Arranger
from labels.blanks import Blank
from labels.compose import READABLE_MM, Composer, Style
from labels.errors import DoesNotFit
from labels.facts import Facts
from labels.fonts import MM, Faces, house_faces
from labels.logo import ratio_of
from labels.placed import Label, PlacedSymbol
from labels.placing import boxes_of, turn_over
from labels.rules import Statement, statements
from labels.rules.statement import absent, title_of
from labels.rules.us import BOTTOM_30
from labels.say import figure, say, term
from labels.sizes import LOWEST_BARS_MM, SIZES, STURDY_DOTS, dots_per_mm, given_up, narrowed

_STEP = 0.1  # points between one size of the small text and the next
_GREATEST = 13.0
_CLEARLY = 1.12  # a smaller gain in type is not worth the air it costs
_MUCH = 1.25  # and a smaller one than this, not the target width of the modules
_LOWER_BARS = (25.0, 20.0, 15.0, 12.5, 10.0, 7.5, LOWEST_BARS_MM)  # mm, tried in turn
_TORN = 20  # lines no name has
_HAIR = 1e-6  # points: what floating point leaves


def lay_out(
    facts: Facts,
    *,
    market: str,
    blank: Blank,
    language: str = "en",
    second_face: str | Path | None = None,
) -> Label:
    """Place everything that ``market`` asks for on ``blank``.

    ``second_face`` is a TrueType file for characters Fira Sans Condensed lacks. Raises MissingFact
    and BadValue (what the facts do not say or the law does not allow), NoGlyph (a character no
    face can write), BadSymbol (no whole number of dots makes its module) and DoesNotFit.
    """
    faces = house_faces(second_face)
    for said in _wordings(facts, market, language):
        try:
            return _with_bars(facts, market, blank, language, faces, said)
        except DoesNotFit as error:
            refusal = error
    raise refusal


def _wordings(facts: Facts, market: str, language: str) -> list[list[Statement]]:
    """What the label may say, the fullest first: without what only a second language says unasked,
    then with the short words of a date where the law allows them."""
    long = statements(facts, market, language=language)
    short = statements(facts, market, language=language, small=True)
    found = [long]
    for said in ([_less(s) for s in long], [_less(s) for s in short]):
        if said != found[-1]:
            found.append(said)
    return found


def _less(statement: Statement) -> Statement:
    if statement.present and statement.key == "second-storage":
        why = say("there is no room for it, and no law asks for it")
        return absent(statement.key, statement.clause, why)
    return statement


def _with_bars(
    facts: Facts, market: str, blank: Blank, language: str, faces: Faces, said: list[Statement]
) -> Label:
    """With bars as high as the standard asks; if that does not fit and ``facts`` allow it, with the
    highest at which all else fits."""
    try:
        return _Fitting(facts, market, blank, language, faces, said).label()
    except DoesNotFit:
        if not facts.low_bars:
            raise
    for height in _LOWER_BARS:
        try:
            return _Fitting(facts, market, blank, language, faces, said, height).label()
        except DoesNotFit:
            if height == _LOWER_BARS[-1]:
                raise
    raise AssertionError("unreachable: the lowest bars fit or raise")  # pragma: no cover


class _Fitting:
    """The search for one label."""

    def __init__(
        self,
        facts: Facts,
        market: str,
        blank: Blank,
        language: str,
        faces: Faces,
        said: list[Statement],
        lowest_bars: float | None = None,
    ) -> None:
        self.facts, self.market, self.blank, self.language = facts, market, blank, language
        self.said = said
        self.composer = Composer(said, facts.symbols, faces, blank.dpi, lowest_bars)
        self.logo_ratio = ratio_of(facts.logo) if facts.logo else None
        self.width, self.height = blank.width * MM, blank.height * MM
        self.bottom_30 = any(s.placement == BOTTOM_30 for s in said)

    def label(self) -> Label:
        """The roomiest style in which everything fits, or the next if its type is clearly larger.

        Raises DoesNotFit.
        """
        styles = self._styles()
        for style, next_style in zip(styles, [*styles[1:2], *[None] * len(styles)], strict=False):
            names = self._calmest(style)
            if not names or (self._torn(style, names) and self._whole_later(style, styles)):
                continue
            style = self._with_largest_type(style, names)
            if next_style:
                style, names = self._rather(next_style, style, names)
            style, name = self._grow(style, names)
            [chosen] = self._arrangements(style, names={name})
            return self._placed(chosen, style)
        raise self._refusal(styles[-1])

    def _rather(self, tighter: Style, style: Style, names: set[str]) -> tuple[Style, set[str]]:
        """``tighter`` instead of ``style``, if its type is clearly larger; with narrower modules
        only if it is much larger."""
        for dots, gain in ((style.dots, _CLEARLY), (STURDY_DOTS, _MUCH)):
            tried = tighter.with_("dots", dots)
            if others := self._calmest(tried):
                tried = self._with_largest_type(tried, others)
                if tried.base > gain * style.base:
                    return tried, others
        return style, names

    def _calmest(self, style: Style) -> set[str]:
        """The arrangements that fit, of these the ones that break name and quantity least."""
        fitting = list(self._fitting(style))
        least = min((_breaks(a) for a in fitting), default=0)
        return {a.name for a in fitting if _breaks(a) == least}

    def _torn(self, style: Style, names: set[str]) -> bool:
        """Whether each of these breaks the net quantity into more than two lines."""
        return all(_breaks(a) >= _TORN for a in self._fitting(style, names))

    def _whole_later(self, style: Style, styles: Sequence[Style]) -> bool:
        """Whether a tighter style holds the net quantity together."""
        tighter = styles[styles.index(style) + 1 :]
        return any(not self._torn(one, self._calmest(one)) for one in tighter)

    def _styles(self) -> list[Style]:
        """From generous to as tight as it may be, all at the least size of the small text."""
        base, short = self.composer.least_base, min(self.width, self.height)
        rim = self.blank.keep_clear * MM
        roomy = max(rim, min(0.055 * short, 6 * MM))
        middle = max(rim, min(0.045 * short, 4 * MM))
        wide = self.width > 1.15 * self.height
        tighter = [
            Style(base, 1.7, 1.3, 1.15, margin=middle, space=0.4, columns=wide),
            Style(base, 1.5, 1.2, 1.0, margin=middle, space=0.3, columns=wide),
            Style(base, 1.15, 1.0, 1.0, margin=rim, space=0.15, columns=True),
        ]
        return [
            Style(base, 2.0, 1.5, 1.25, margin=roomy, space=0.6, columns=wide),
            *(style.with_("dots", dots) for style in tighter for dots in (STURDY_DOTS, 0)),
        ]

    def _arrangements(
        self, style: Style, width: float | None = None, names: set[str] | None = None
    ) -> Iterator[Arrangement]:
        room = (width or self.width) - 2 * style.margin
        arranger = Arranger(self.composer, style, room, self.logo_ratio)
        for name in arranger.names():
            if names is None or name in names:
                yield arranger.build(name)

    def _needed_height(self, arrangement: Arrangement, style: Style) -> float:
        """Height of blank an arrangement takes, the bottom 30 % of 21 CFR 101.7(f) observed."""
        needed = arrangement.height + 2 * style.margin
        if self.bottom_30:
            tops = [
                column.bottom.height - mark.y + mark.face.reach(mark.text)[1] * mark.size
                for column in arrangement.columns
                for mark in column.bottom.marks
                if mark.statement == "net-quantity"
            ]
            needed = max(needed, (max(tops) + style.margin) / 0.3)
        return needed

    def _fitting(self, style: Style, names: set[str] | None = None) -> Iterator[Arrangement]:
        width = self.width - 2 * style.margin
        for arrangement in self._arrangements(style, names=names):
            if arrangement.lacking_width(width)[0] > _HAIR:
                continue
            if self._needed_height(arrangement, style) <= self.height + _HAIR:
                yield arrangement

    def _grow(self, style: Style, names: set[str]) -> tuple[Style, str]:
        """At its size of the small text, modules up to the target width, then the largest name, day
        and bars."""
        fitting = list(self._fitting(style, names))
        breaks = min(_breaks(a) for a in fitting)
        name = next(a.name for a in fitting if _breaks(a) == breaks)
        growth = [("name", 0.1, 13), ("day", 0.1, 7), ("tall", 0.125, 9)]
        if self.market == "house":  # on a tag for the cooler, the day is what one looks for
            growth = [("day", 0.1, 7), ("name", 0.1, 13), ("tall", 0.125, 9)]
        if style.dots < self.composer.most_dots:
            growth.insert(0, ("dots", 1, int(self.composer.most_dots - style.dots) + 1))
        for field, step, steps in growth:
            values = [getattr(style, field) + step * i for i in range(steps)]
            style = self._largest(style, {name}, field, values, breaks)
        return style, name

    def _with_largest_type(self, style: Style, names: set[str]) -> Style:
        """``style`` with the largest small text at which one of the arrangements fits."""
        base = style.base
        calm = min(_GREATEST, 0.06 * min(self.width, self.height))
        most = max(base, calm, self.composer.faces.regular.size_for("x", READABLE_MM))
        sizes = [base + _STEP * i for i in range(int((most - base) / _STEP) + 1)]
        torn = min(_breaks(a) for a in self._fitting(style, names)) // _TORN
        return self._largest(style, names, "base", sizes, torn * _TORN + _TORN - 1)

    def _largest(
        self, style: Style, names: set[str], field: str, values: Sequence[float], breaks: int
    ) -> Style:
        """The style with the greatest of ``values`` at which one of the arrangements fits, with its
        large words in no more than so many ``breaks``."""
        low, high = 0, len(values) - 1
        while low < high:
            middle = (low + high + 1) // 2
            tried = style.with_(field, values[middle])
            if any(_breaks(a) <= breaks for a in self._fitting(tried, names)):
                low = middle
            else:
                high = middle - 1
        return style.with_(field, values[low])

    def _placed(self, arrangement: Arrangement, style: Style) -> Label:
        rim, dot = self.blank.keep_clear * MM, self.composer.dot
        boxes = boxes_of(arrangement, style.margin, rim, self.height)
        placed = turn_over(boxes, self.facts.symbols, self.height, dot, self.facts.logo)
        return Label(
            blank=self.blank,
            market=self.market,
            language=self.language,
            title=f"{self.facts.name} {self.facts.lot}".strip(),
            statements=(*self.said, *_given_up(placed.symbols, self.blank.dpi)),
            texts=placed.texts,
            symbols=placed.symbols,
            picture=placed.picture,
        )

    # What does not fit ----------------------------------------------------------------------------

    def _refusal(self, style: Style) -> DoesNotFit:
        """Which statement finds no room in the tightest style, and the least blank for it."""
        fitting, lacking, widest = self._wide_enough(self.width, style)
        width = self.width
        if not fitting:
            width = self._least_width(self.width + lacking, style)
            fitting, _, _ = self._wide_enough(width, style)
        best = min(fitting, key=lambda a: self._needed_height(a, style))
        needed = self._needed_height(best, style)
        if width > self.width:
            missing = (width - self.width) / MM
            return self._sentence(
                widest, missing, "width", (_up(width), _up(max(needed, self.height)))
            )
        missing = (needed - self.height) / MM
        key = _last(best, self.height, style)
        return self._sentence(key, missing, "height", (self.blank.width, _up(needed)))

    def _least_width(self, start: float, style: Style) -> float:
        """The least whole number of millimetres no box is too wide for, in points."""
        high = math.ceil(start / MM)
        while not self._wide_enough(high * MM, style)[0]:
            high += 1
        low = math.floor(self.width / MM)  # known to be too narrow
        while high - low > 1:
            middle = (low + high) // 2
            if self._wide_enough(middle * MM, style)[0]:
                high = middle
            else:
                low = middle
        return high * MM

    def _wide_enough(self, width: float, style: Style) -> tuple[list[Arrangement], float, str]:
        """The arrangements no box of which is too wide; else what the best of them lacks, and for
        which statement."""
        room = width - 2 * style.margin
        tries = list(self._arrangements(style, width))
        lacking, widest = min(a.lacking_width(room) for a in tries)
        return [a for a in tries if a.lacking_width(room)[0] <= _HAIR], lacking, widest

    def _sentence(
        self, key: str, missing: float, side: str, least: tuple[float, float]
    ) -> DoesNotFit:
        blank, name = self.blank, title_of(key)
        lacking = say(
            "{missing} mm of {side} are missing", missing=figure(f"{missing:.1f}"), side=term(side)
        )
        why = say("the {statement} finds no room, {lacking}", statement=name, lacking=lacking)
        if clause := next((s.clause for s in self.said if s.key == key and s.least_mm), ""):
            why = say(
                "the {statement} finds no room at the height {clause} asks for, {lacking}",
                statement=name,
                clause=clause,
                lacking=lacking,
            )
        return DoesNotFit(
            say("fit the label of '{name}' on {blank}", name=self.facts.name, blank=blank.name),
            why,
            say(
                "Use a blank of {width} x {height} mm or larger, or say less",
                width=figure(f"{least[0]:g}"),
                height=figure(f"{least[1]:g}"),
            ),
            statement=key,
            missing_mm=round(missing, 2),
            least_mm=least,
        )


def _given_up(symbols: tuple[PlacedSymbol, ...], dpi: int) -> Iterator[Statement]:
    """What narrow modules and cut bars of each symbol cost, for whoever reads why."""
    for placed in symbols:
        source = SIZES[placed.symbol.kind].source
        if why := narrowed(placed.symbol, placed.dots, dpi):
            yield absent("full-module-width", source, why)
        if not placed.symbol.matrix:
            module = placed.dots / dots_per_mm(dpi)
            if why := given_up(placed.symbol, module, placed.height / MM):
                yield absent("full-bar-height", source, why)


def _breaks(arrangement: Arrangement) -> int:
    """How torn the large words are: lines of the name, and what breaks a net quantity further than
    into two weighs more than any of these."""
    torn = max(0, _lines_of(arrangement, "net-quantity") - 2)
    return _lines_of(arrangement, "name") + _TORN * torn


def _lines_of(arrangement: Arrangement, key: str) -> int:
    boxes = [arrangement.span, *(b for c in arrangement.columns for b in (c.top, c.bottom))]
    return len({mark.y for box in boxes for mark in box.marks if mark.statement == key})


def _last(arrangement: Arrangement, height: float, style: Style) -> str:
    """The first statement, in reading order, that no longer has room above the foot."""
    for column in arrangement.columns:
        above = arrangement.span.height + (arrangement.apart if arrangement.span.height else 0)
        room = height - 2 * style.margin - above - column.bottom.height - arrangement.apart
        for mark in sorted(column.top.marks, key=lambda mark: mark.y):
            if mark.y > room:
                return mark.statement
    marks = [mark for column in arrangement.columns for mark in column.bottom.marks]
    marks += arrangement.span.marks
    return marks[-1].statement if marks else "symbol"


def _up(points: float) -> float:
    """Points to millimetres, up to the next whole one."""
    return float(math.ceil(points / MM - _HAIR))
