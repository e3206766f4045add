"""Files to take away: reports, the inspector's folder, recall sheets, tables. Nothing is written
into the shop; each is made in a folder of its own that is gone when it has been sent. And what
the page asks of any work that takes long."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Literal

from flask import Blueprint, Response, jsonify, redirect, send_file, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, NotFound
from counter.shop import Shop
from counter.trade.units import parse_day
from counter.web.faults import put, sentence_of
from counter.web.guard import token
from counter.web.here import field, needs, shop, unhurried
from counter.web.jobs import Done, Job, Progress, begun, jobs, wanted_as_job
from counter.web.notes import note
from labels.files import write_whole
from labels.say import say

if TYPE_CHECKING:
    from counter.reports.spans import Kind

page = Blueprint("papers", __name__, url_prefix="/papers")

TYPES: dict[str, str] = {
    ".pdf": "application/pdf",
    ".csv": "text/csv; charset=utf-8",
    ".zip": "application/zip",
}
SPANS: tuple[Literal["week"], Literal["month"], Literal["year"]] = ("week", "month", "year")
Write = Callable[[Shop, Path, Progress], str]


def offered(write: Write) -> Response:
    """A file that the shop draws up: ``write`` puts it into a folder and answers with its name.

    It is sent at once; or begun and told of, for a page that shows how far it has come.
    """
    if wanted_as_job():
        return told_of(begun(lambda own, place, tell: Done(write(own, place, tell))))
    with TemporaryDirectory(prefix="counter-") as folder:
        name = write(shop(), Path(folder), nobody)
        return sent(Path(folder) / name)


def nobody(_done: int, _whole: int) -> None:
    """Progress that nobody looks at."""


def sent(path: Path) -> Response:
    """A file to be kept, under a name of our own making."""
    data = io.BytesIO(path.read_bytes())
    return send_file(data, TYPES[path.suffix], as_attachment=True, download_name=path.name)


def drawn(data: bytes, place: Path, name: str) -> str:
    """Put a paper that is drawn into a folder."""
    write_whole(place / name, data)
    return name


# -- work that takes long


def told_of(job: Job) -> Response:
    """How far a job has come: ``state`` is going, done or failed; ``place`` is what to open then,
    and ``file`` the name of the file that it is, "" for a page."""
    done, whole = job.progress
    file = job.made.name if job.made and not job.made.endpoint else ""
    return jsonify(
        state="going" if job.ended is None else "done" if job.made else "failed",
        done=done,
        whole=whole,
        ask=url_for("papers.progress", key=job.key),
        error=sentence_of(job.error) if job.error else "",
        number=job.number,
        file=file,
        questions=put(job.questions),
        place=url_for("papers.made", key=job.key) if job.made else "",
    )


@page.get("/jobs/<key>.json")
def progress(key: str) -> Response:
    """How far a job of this session has come."""
    return told_of(jobs().job(key, token()))


@page.get("/jobs/<key>")
def made(key: str) -> AnyResponse:
    """What came of a job: its file, or the page that shows it."""
    found = jobs().job(key, token()).made
    if found is None:
        raise NotFound(say("look after that"), "finished work", key[:20], (), say("Tap once more"))
    if not found.endpoint:
        return sent(jobs().job(key, token()).place / found.name)
    for kind, sentence in found.notes:
        note(sentence, kind)
    return redirect(url_for(found.endpoint, name=found.name or None))


# -- days


def day_of(name: str) -> date | None:
    text = field(name, "", 20)
    return parse_day(text) if text else None


def days() -> tuple[date, date]:
    """The range of days named; today where none is."""
    first, last = day_of("first"), day_of("last")
    begin = first or last or shop().desk.today()
    return begin, last or max(begin, shop().desk.today())


@page.get("/day.pdf")
@unhurried
def day_pdf() -> Response:
    """The closing report of a day."""
    day = day_of("day") or shop().desk.today()
    name = f"day-{day}.pdf"
    return offered(lambda own, place, _tell: drawn(own.reports.day_report(day), place, name))


@page.get("/day.csv")
@unhurried
def day_csv() -> Response:
    """Every figure of a day's summary."""
    day = day_of("day") or shop().desk.today()
    return offered(
        lambda own, place, _tell: own.reports.keep_day_csv(day, place / f"day-{day}.csv").name
    )


@page.get("/span.pdf")
@needs("owner")
@unhurried
def span() -> Response:
    """The week, month or year that a day is in."""
    kind, day = span_kind(field("kind", most=8)), day_of("day")

    def write(own: Shop, place: Path, _tell: Progress) -> str:
        summary = own.reports.span_summary(kind, day)
        return drawn(own.reports.span_report(summary), place, f"{kind}-{summary.first}.pdf")

    return offered(write)


def span_kind(text: str) -> Kind:
    for kind in SPANS:
        if text == kind:
            return kind
    why = say("'{text}' is none of week, month, year", text=text)
    raise BadInput(say("add up the days"), why, say("Pick one of the buttons"))


# -- for an inspector


@page.get("/inspection.pdf")
@unhurried
def inspection() -> Response:
    """The records of a range of days as one PDF."""
    first, last = days()
    name = f"inspection-{first}-{last}.pdf"
    return offered(
        lambda own, place, tell: (
            own.reports.write_inspection(first, last, place / name, (), tell).name
        )
    )


@page.get("/recall/<lot>.pdf")
@unhurried
def recall_pdf(lot: str) -> Response:
    """The recall sheet of a lot, and of what was made from it."""

    def write(own: Shop, place: Path, _tell: Progress) -> str:
        found = own.records.recall([lot[:40]])
        return own.reports.write_recall_sheet(found, place / f"recall-{found.lots[0].lot}.pdf").name

    return offered(write)


@page.get("/recall/<lot>.csv")
@unhurried
def recall_csv(lot: str) -> Response:
    """The recall of a lot: one row a sale."""

    def write(own: Shop, place: Path, _tell: Progress) -> str:
        found = own.records.recall([lot[:40]])
        return own.reports.write_recall_csv(found, place / f"recall-{found.lots[0].lot}.csv").name

    return offered(write)


# -- tables


@page.get("/export")
@needs("owner")
@unhurried
def export() -> Response:
    """One kind of record of a range of days as CSV; ``all`` as a zip of every kind."""
    kind = field("kind", "all", 40)
    first, last = days()

    def write(own: Shop, place: Path, tell: Progress) -> str:
        with TemporaryDirectory(prefix="counter-") as folder:
            files = own.exports.export(kind, Path(folder), first, last, "csv", tell)
            if kind != "all":
                [one] = files
                name = f"{Path(one.path).stem}-{first}-{last}.csv"
                return drawn(Path(one.path).read_bytes(), place, name)
            packed = io.BytesIO()
            with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
                for path in sorted(Path(folder).iterdir()):
                    archive.write(path, path.name)
        return drawn(packed.getvalue(), place, f"export-{first}-{last}.zip")

    return offered(write)
