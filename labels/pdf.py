"""Placed labels to PDF: each distinct label drawn once as a form, and stamped as often as wanted.

Same input, same bytes, in every process. All faces are embedded. The file appears whole or not at
all: it is written beside its place, and moved there when every symbol of it has been read back.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from labels.blanks import Blank
from labels.errors import BadValue
from labels.files import write_whole
from labels.fonts import FONT_LOCK, MM, house_faces, register
from labels.placed import Label
from labels.say import say
from labels.sizes import dots_per_mm

_MOST_LABELS = 20_000


class Printed(msgspec.Struct, frozen=True, kw_only=True):
    """What was written. ``next_free`` is the first free position of the last sheet, or 1."""

    path: str
    labels: int
    distinct: int
    pages: int
    size: int
    next_free: int


class Built(NamedTuple):
    """A whole PDF, every symbol of it read back, before anybody has written it."""

    data: bytes
    labels: int
    distinct: int
    pages: int
    next_free: int


class Position(NamedTuple):
    """Where one label goes: the page, counted from 0, and the lower left corner in points."""

    which: int
    page: int
    x: float
    y: float


def write_pdf(
    path: str | Path, runs: Sequence[tuple[Label, int]], *, start: int = 1, used: Iterable[int] = ()
) -> Printed:
    """Write ``runs`` of (label, how many) to one PDF, and read every symbol back before.

    See :func:`build_pdf`. Raises also NotWritten (the disk refused); then no file is left.
    """
    built = build_pdf(runs, start=start, used=used)
    write_whole(path, built.data)
    return Printed(
        path=str(path),
        labels=built.labels,
        distinct=built.distinct,
        pages=built.pages,
        size=len(built.data),
        next_free=built.next_free,
    )


def build_pdf(
    runs: Sequence[tuple[Label, int]], *, start: int = 1, used: Iterable[int] = ()
) -> Built:
    """``runs`` of (label, how many) as one PDF.

    On a sheet the first label goes to position ``start`` (counted from 1, row by row), and the
    positions in ``used`` are skipped on the first sheet. All labels must be made for the same
    blank. Raises BadValue and NotReadable.
    """
    from labels.picture import read_back

    used = set(used)
    places = impose(runs, start=start, used=used)
    labels = [label for label, _ in runs]
    data = draw(labels, places)
    firsts = {place.which: place for place in reversed(places)}
    read_back(data, [(labels[which], place) for which, place in sorted(firsts.items())])
    free = _next_free(places, labels[0].blank, start, used)
    return Built(data, len(places), len(firsts), places[-1].page + 1, free)


def impose(
    runs: Sequence[tuple[Label, int]], *, start: int = 1, used: Iterable[int] = ()
) -> list[Position]:
    """The place of every label, in the order of ``runs``, on whole printer dots of the page."""
    blank = _one_blank(runs)
    free = _free_positions(blank, start, set(used))
    dot = MM / dots_per_mm(blank.dpi)
    page_height = blank.page_mm[1] * MM
    corners = [_corner(blank, position, dot) for position in range(1, blank.per_page + 1)]
    places = []
    for which, (_, count) in enumerate(runs):
        for _ in range(count):
            page, position = next(free)
            x, down = corners[position - 1]
            places.append(Position(which, page, x, page_height - down - blank.height * MM))
    return places


def _corner(blank: Blank, position: int, dot: float) -> tuple[float, float]:
    left, top = blank.corner_of(position)
    return round(left * MM / dot) * dot, round(top * MM / dot) * dot


def _one_blank(runs: Sequence[tuple[Label, int]]) -> Blank:
    total = sum(count for _, count in runs)
    tried = say("print {n} labels", n=total)
    if not runs or total < 1 or any(count < 0 for _, count in runs):
        raise BadValue(tried, say("there is nothing to print"), say("Say how many"))
    if total > _MOST_LABELS:
        why = say("{most} is the most in one file", most=_MOST_LABELS)
        raise BadValue(tried, why, say("Print them in parts"))
    blank = runs[0][0].blank
    for label, _ in runs:
        if label.blank != blank:
            tried = say(
                "print '{label}' on {blank} and '{other}' on {other_blank}",
                label=label.title,
                blank=label.blank.name,
                other=runs[0][0].title,
                other_blank=blank.name,
            )
            raise BadValue(tried, say("one file has one blank"), say("Print them separately"))
    return blank


def _free_positions(blank: Blank, start: int, used: set[int]) -> Iterator[tuple[int, int]]:
    last = blank.per_page
    for position in (start, *sorted(used)):
        if not 1 <= position <= last:
            why = say("{blank} has positions 1 to {most}", blank=blank.name, most=last)
            raise BadValue(say("print at position {position}", position=position), why)
    first = [position for position in range(start, last + 1) if position not in used]
    if not first:
        why = say("every position from there on is used")
        tried = say("begin at position {position} of {blank}", position=start, blank=blank.name)
        raise BadValue(tried, why, say("Take a new sheet"))
    yield from ((0, position) for position in first)
    page = 1
    while True:
        yield from ((page, position) for position in range(1, last + 1))
        page += 1


def _next_free(places: list[Position], blank: Blank, start: int, used: Iterable[int]) -> int:
    free = _free_positions(blank, start, set(used))
    for _ in places:
        next(free)
    page, position = next(free)
    return position if page == places[-1].page else 1


def draw(labels: Sequence[Label], places: Sequence[Position]) -> bytes:
    """The PDF as bytes: a form for each label, stamped at its places."""
    blank = labels[0].blank
    title = labels[0].title if len(labels) == 1 else f"{len(places)} labels"
    with FONT_LOCK:
        canvas, buffer = open_canvas(blank.page_mm, title, labels[0].language)
        for number, label in enumerate(labels):
            _draw_form(canvas, f"label{number}", label)
        page = 0
        for place in places:
            if place.page != page:
                canvas.showPage()
                page = place.page
            _stamp(canvas, f"label{place.which}", place.x, place.y)
        canvas.showPage()
        canvas.save()
    return buffer.getvalue()


def open_canvas(page_mm: tuple[float, float], title: str, language: str) -> tuple[Any, io.BytesIO]:
    """A reproducible canvas that begins with our face. Hold ``FONT_LOCK`` until it is saved."""
    from reportlab.pdfgen.canvas import Canvas

    buffer = io.BytesIO()
    canvas = Canvas(
        buffer,
        pagesize=(page_mm[0] * MM, page_mm[1] * MM),
        invariant=1,
        pageCompression=1,
        initialFontName=register(house_faces().regular),
        lang=language,
    )
    canvas.setTitle(title)
    canvas.setSubject("Labels")
    canvas.setAuthor("tofu-counter")
    canvas.setCreator("tofu-counter")
    return canvas, buffer


def _stamp(canvas: Any, form: str, x: float, y: float) -> None:
    if x or y:
        canvas.saveState()
        canvas.translate(x, y)
        canvas.doForm(form)
        canvas.restoreState()
    else:
        canvas.doForm(form)


def _draw_form(canvas: Any, name: str, label: Label) -> None:
    width, height = label.blank.width * MM, label.blank.height * MM
    canvas.beginForm(name, 0, 0, width, height)
    canvas.setFillGray(0)
    for text in label.texts:
        canvas.setFont(register(text.face), text.size)
        canvas.drawString(text.x, text.y, text.text)
    for symbol in label.symbols:
        path = canvas.beginPath()
        for bar in symbol.bars:
            path.rect(*bar)
        canvas.drawPath(path, stroke=0, fill=1)
    if label.picture:
        logo = label.picture
        canvas.drawImage(logo.path, logo.x, logo.y, logo.width, logo.height, mask="auto")
    canvas.endForm()
