"""Labels: the very page that will come out, then print or save it, with a record."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Callable, Container
from pathlib import Path

import msgspec
from flask import Blueprint, Response, jsonify, redirect, render_template, send_file, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import CounterError, NotFound
from counter.shop import Shop
from counter.trade.production import Batch
from counter.web.batch_form import day_words
from counter.web.forms import told
from counter.web.here import by, field, shop, t, unhurried, words
from counter.web.jobs import Done, Progress, Work, begun, in_its_language, wanted_as_job
from counter.web.label_form import (
    Wanted,
    checked_way,
    large_enough,
    number,
    papers_of,
    picture_of,
    said_of,
    wanted,
)
from counter.web.notes import note
from counter.web.papers import nobody, told_of
from labels.card import CARD_PAPERS
from labels.errors import DoesNotFit, LabelError
from labels.say import say

page = Blueprint("labels", __name__, url_prefix="/labels")

FILE = re.compile(r"[0-9A-Za-z][0-9A-Za-z-]{0,60}\.pdf")


class Choice(msgspec.Struct, frozen=True):
    """A lot one may take labels of: how many it wants, how many it has had, or why it may not;
    ``per``: its packs may be weighed, and are sold by lb or kg."""

    batch: Batch
    name: str
    count: int
    blank: str
    printed: int = 0
    refusal: str = ""
    today: bool = True
    chosen: bool = False
    per: str = ""


def choices(chosen: Container[str]) -> list[Choice]:
    """Today's lots, the newest first, then older ones that are still on hand."""
    ledger, today = shop().desk.standing(), shop().desk.today()
    rows = [r for r in ledger.rows.values() if r.on_hand > 0 or r.lot.made_on == today]
    found = []
    for row in sorted(rows, key=lambda r: r.lot.lot, reverse=True):
        batch = shop().production.as_it_lies(shop().desk.batch(row.lot.lot))
        product = shop().desk.catalogues.of(None).products.get(batch.product)
        refusal = shop().labels.refusal_to_label(batch)
        found.append(
            Choice(
                batch,
                product.name if product else batch.product,
                shop().labels.labels_for(batch),
                (product.pack.blank if product else "") or shop().desk.settings.labels.blank,
                sum(p.labels for p in shop().products.printed_of(batch.lot)),
                refusal.why if refusal else "",
                row.lot.made_on == today,
                row.lot.lot in chosen,
                shop().labels.by_weight(batch),
            )
        )
    return found


@page.get("/")
@unhurried
def index() -> str:
    """Lots to choose, the blank, the sheet, and the page that will come out."""
    asked, known = wanted(0), shop().labels.blanks()
    chosen = dict(asked.lots)
    found = choices(chosen)
    own = next((c.blank for c in found if c.batch.lot in chosen), shop().desk.settings.labels.blank)
    return render_template(
        "labels.html",
        choices=found,
        chosen=chosen,
        asked=asked,
        blanks=known,
        blank=asked.blank or own,
        printer=shop().desk.settings.labels.printer,
        papers=list(CARD_PAPERS),
        day_words=day_words,
        papers_of=papers_of(known),
        sheets={
            name: {"columns": b.columns, "rows": b.rows, "ratio": b.height / b.width}
            for name, b in known.items()
        },
        said={
            k: t(f"labels.{k}")
            for k in ("pages", "page_of", "free", "used_one", "first_one", "fits", "whole_roll")
        },
    )


@page.get("/preview.json")
@unhurried
def preview() -> Response | tuple[Response, int]:
    """One page as it will come out, and what should be known before it is printed."""
    asked = wanted()
    try:
        built = shop().labels.preview_labels(asked.lots, asked.blank, asked.start, asked.used)
    except DoesNotFit as error:
        return jsonify(error=words().said(error), number="", fits=large_enough(error)), 409
    shown = min(number("page", "1") or 1, built.pages)
    picture = base64.b64encode(picture_of(built.data, shown)).decode()
    return jsonify(
        labels=built.labels,
        pages=built.pages,
        page=shown,
        next_free=built.next_free,
        picture=f"data:image/png;base64,{picture}",
        warnings=warnings_for(asked),
    )


@page.get("/preview.png")
@unhurried
def picture() -> Response:
    """A page of the very PDF as a picture."""
    asked = wanted()
    built = shop().labels.preview_labels(asked.lots, asked.blank, asked.start, asked.used)
    shown = min(number("page", "1") or 1, built.pages)
    return send_file(io.BytesIO(picture_of(built.data, shown)), "image/png")


def warnings_for(asked: Wanted) -> list[str]:
    """More labels than the batch made, and labels that were printed before."""
    found = []
    for lot, count in asked.lots:
        wants, before = (
            shop().labels.labels_for(shop().desk.batch(lot)),
            shop().products.printed_of(lot),
        )
        if count is not None and count > wants:
            found.append(t("labels.more_than_made", lot=lot, n=count, made=wants))
        if before:
            last = words().moment(before[-1].at)
            done = sum(p.labels for p in before)
            found.append(t("labels.printed_before", lot=lot, n=done, when=last))
    return found


@page.post("/print")
@unhurried
def make() -> AnyResponse | tuple[str, int]:
    """Write the PDF and the record; hand it to the printer if that was asked for."""
    asked, what, who = wanted(), checked_way(), by()

    def work(own: Shop, _place: Path, tell: Progress) -> Done:
        run = own.labels.print_labels(
            asked.lots, None, asked.blank, asked.start, asked.used, by=who, progress=tell
        )
        return said_of(own, run, what)

    return worked(work, index)


def worked(work: Work, again: Callable[[], str]) -> AnyResponse | tuple[str, int]:
    """Print, as a job where that is asked for; what cannot be is said on the form, ``again``,
    which keeps what was typed."""
    if wanted_as_job():
        return told_of(begun(in_its_language(work)))
    try:
        made = work(shop(), Path(), nobody)
    except (CounterError, LabelError) as error:
        status = told(error)
        return again(), status
    for kind, sentence in made.notes:
        note(sentence, kind)
    return redirect(url_for("labels.done", name=made.name))


@page.get("/done/<name>")
def done(name: str) -> str:
    """What was made, to open, to print from the browser, or to save."""
    file = file_named(name)
    dots = re.search(r"-([0-9]+)dpi", file.name)
    return render_template("labels_done.html", name=file.name, dots=dots and int(dots[1]))


@page.get("/file/<name>")
@unhurried
def file(name: str) -> Response:
    """A PDF out of the shop's folder of labels."""
    found = file_named(name)
    return send_file(
        io.BytesIO(found.read_bytes()),
        "application/pdf",
        download_name=found.name,
        as_attachment=field("save", "") == "yes",
    )


def file_named(name: str) -> Path:
    """A file among the shop's labels; NotFound for any other name."""
    place = (shop().desk.folder or Path()) / "labels"
    if not FILE.fullmatch(name) or not (place / name).is_file():
        do = say("Make it under Labels")
        raise NotFound(say("open a label file"), "file", name[:60], (), do)
    return place / name


@page.get("/explain")
@unhurried
def explain() -> str:
    """Every statement of a lot's label: what it says, by which rule, how high, or why not."""
    lot = field("lot", None, 20)
    rows = shop().cards.explain_label(lot, field("blank", "", 80))
    return render_template("labels_explain.html", lot=lot, rows=rows)


@page.post("/card")
@unhurried
def card() -> AnyResponse:
    """The counter card of what is scooped to order."""
    made = shop().cards.counter_card(None, field("paper", "a5", 20))
    note(t("labels.card_made"))
    return redirect(url_for("labels.done", name=made.name))


@page.post("/scale")
@unhurried
def scale() -> AnyResponse:
    """A test page with a ruler, for a printer that must not shrink what it prints."""
    made, length = shop().labels.scale_check(None, field("blank", "", 80))
    note(t("labels.scale_made", length=f"{length:g}"))
    return redirect(url_for("labels.done", name=made.name))
