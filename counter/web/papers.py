"""Files to take away: reports, the inspector's folder, recall sheets, tables. Nothing is written
into the shop; each is made in a folder of its own that is gone when it has been sent."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Literal

from flask import Blueprint, Response, send_file

from counter.errors import BadInput
from counter.trade.units import parse_day
from counter.web.here import field, needs, shop, unhurried

if TYPE_CHECKING:
    from counter.reports.spans import Kind

page = Blueprint("papers", __name__, url_prefix="/papers")

TYPES: dict[str, str] = {
    ".pdf": "application/pdf", ".csv": "text/csv; charset=utf-8", ".zip": "application/zip",
}  # fmt: skip
SPANS: tuple[Literal["week"], Literal["month"], Literal["year"]] = ("week", "month", "year")


def sent(data: bytes, name: str) -> Response:
    """A file to be kept, under a name of our own making."""
    kind = TYPES[name[-4:]]
    return send_file(io.BytesIO(data), kind, as_attachment=True, download_name=name)


def drawn(write: Callable[[Path], object], name: str) -> Response:
    """A file that the shop writes, sent out of a folder that does not stay."""
    with TemporaryDirectory(prefix="counter-") as folder:
        path = Path(folder) / name
        write(path)
        return sent(path.read_bytes(), name)


def day_of(name: str) -> date | None:
    text = field(name, "", 20)
    return parse_day(text) if text else None


def days() -> tuple[date, date]:
    """The range of days named; today where none is."""
    first, last = day_of("first"), day_of("last")
    begin = first or last or shop().today()
    return begin, last or max(begin, shop().today())


# -- a day


@page.get("/day.pdf")
@unhurried
def day_pdf() -> Response:
    """The closing report of a day."""
    day = day_of("day") or shop().today()
    return sent(shop().day_report(day), f"day-{day}.pdf")


@page.get("/day.csv")
@unhurried
def day_csv() -> Response:
    """Every figure of a day's summary."""
    day = day_of("day") or shop().today()
    return drawn(lambda path: shop().keep_day_csv(day, path), f"day-{day}.csv")


# -- weeks, months, years


@page.get("/span.pdf")
@needs("owner")
@unhurried
def span() -> Response:
    """The week, month or year that a day is in."""
    asked = field("kind", most=8)
    kind = span_kind(asked)
    summary = shop().span_summary(kind, day_of("day"))
    return sent(shop().span_report(summary), f"{kind}-{summary.first}.pdf")


def span_kind(text: str) -> Kind:
    for kind in SPANS:
        if text == kind:
            return kind
    why = f"'{text}' is none of week, month, year"
    raise BadInput("add up the days", why, "Pick one of the buttons")


# -- for an inspector


@page.get("/inspection.pdf")
@unhurried
def inspection() -> Response:
    """The records of a range of days as one PDF."""
    first, last = days()
    name = f"inspection-{first}-{last}.pdf"
    return drawn(lambda path: shop().write_inspection(first, last, path), name)


@page.get("/recall/<lot>.pdf")
@unhurried
def recall_pdf(lot: str) -> Response:
    """The recall sheet of a lot, and of what was made from it."""
    found = shop().recall([lot[:40]])
    return drawn(
        lambda path: shop().write_recall_sheet(found, path), f"recall-{found.lots[0].lot}.pdf"
    )


@page.get("/recall/<lot>.csv")
@unhurried
def recall_csv(lot: str) -> Response:
    """The recall of a lot: one row a sale."""
    found = shop().recall([lot[:40]])
    return drawn(
        lambda path: shop().write_recall_csv(found, path), f"recall-{found.lots[0].lot}.csv"
    )


# -- tables


@page.get("/export")
@needs("owner")
@unhurried
def export() -> Response:
    """One kind of record of a range of days as CSV; ``all`` as a zip of every kind."""
    kind = field("kind", "all", 40)
    first, last = days()
    with TemporaryDirectory(prefix="counter-") as folder:
        files = shop().export(kind, Path(folder), first, last)
        paths = [Path(one.path) for one in files]
        if kind != "all":
            return sent(paths[0].read_bytes(), f"{paths[0].stem}-{first}-{last}.csv")
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(Path(folder).iterdir()):
                archive.writestr(path.name, path.read_bytes())
    return sent(packed.getvalue(), f"export-{first}-{last}.zip")
