"""Labels of packs that are weighed: one weight after the other, or a list; each with its price."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import msgspec
from flask import Blueprint, Response, jsonify, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import CounterError, Refused
from counter.shop import Shop
from counter.trade.production import Batch
from counter.trade.units import parse_positions
from counter.trade.weighed import MOST_WEIGHED, WeighedPack, parse_weights
from counter.web.batch_form import day_words
from counter.web.forms import told
from counter.web.here import by, field, needs, shop, t, unhurried, words
from counter.web.jobs import Done, Progress, wanted_as_job
from counter.web.label_form import (
    Wanted,
    checked_way,
    large_enough,
    number,
    papers_of,
    picture_of,
    said_of,
)
from counter.web.labels import warnings_for, worked
from labels.errors import DoesNotFit, LabelError
from labels.say import say
from labels.units import Measure

page = Blueprint("weighing", __name__, url_prefix="/labels/weigh")

LONGEST_LIST = 12 * MOST_WEIGHED


class Weighing(msgspec.Struct, frozen=True):
    """What the form asks for: packs of one lot, sold by ``per``, and where they are printed."""

    batch: Batch
    per: str
    weights: tuple[Measure, ...]
    blank: str
    start: int
    used: tuple[int, ...]


def asked() -> Weighing:
    """The form, or the address, read and checked."""
    batch, per = lot_asked()
    return Weighing(
        batch,
        per,
        parse_weights(field("weights", "", LONGEST_LIST), per, words().comma),
        field("blank", "", 80),
        number("start", "1") or 1,
        parse_positions(field("used", "", 1000)),
    )


def lot_asked() -> tuple[Batch, str]:
    """The lot that is weighed, and what it is sold by; Refused where that is not by weight."""
    batch = shop().desk.batch(field("lot", None, 20))
    per = shop().labels.by_weight(batch)
    if not per:
        why = say("{name} is not sold by weight", name=name_of(batch))
        raise Refused(
            say("weigh packs of lot {lot}", lot=batch.lot),
            why,
            say("Print its labels under Labels"),
        )
    return batch, per


def name_of(batch: Batch) -> str:
    return shop().desk.catalogues.names().get(batch.product, batch.product)


def say_weight(weight: Measure) -> str:
    """A weight as the shop's language writes it: ``0.42 lb``, ``415 g``."""
    return f"{words().number(weight.amount)} {weight.unit}"


def typed(name: str) -> str:
    """What was typed into a field, to be shown again, whatever is wrong with it."""
    return request.values.get(name, "")[:LONGEST_LIST]


@page.get("/")
@needs("maker")
@unhurried
def index() -> str:
    """The weights so far, the pad, and the label that will come out."""
    batch, per = lot_asked()
    known, product = (
        shop().labels.blanks(),
        shop().desk.catalogues.of(None).products.get(batch.product),
    )
    own = (product.pack.blank if product else "") or shop().desk.settings.labels.blank
    return render_template(
        "labels_weigh.html",
        batch=batch,
        name=name_of(batch),
        per=per,
        weights=typed("weights"),
        blanks=known,
        blank=typed("blank") or own,
        day_words=day_words,
        papers_of=papers_of(known),
        start=typed("start") or "1",
        used=typed("used"),
        printer=shop().desk.settings.labels.printer,
        most=LONGEST_LIST,
        said={
            k: t(f"labels.{k}")
            for k in ("packs", "page_of", "fits", "remove", "add_first", "no_packs")
        },
    )


@page.get("/packs.json")
@needs("maker")
@unhurried
def packs() -> Response | tuple[Response, int]:
    """What each pack costs and all of them together; with ``page``, that page as it will come
    out. Writes nothing."""
    wanted = asked()
    found = shop().labels.weigh_packs(wanted.batch.lot, wanted.weights)
    said = said_packs(wanted.weights, found)
    if not found or not field("page", "", 6):
        return jsonify(said)
    try:
        built, pages = shop().labels.preview_weighed(
            wanted.batch.lot,
            wanted.weights,
            wanted.blank,
            wanted.start,
            wanted.used,
            number("page", "1") or 1,
        )
    except DoesNotFit as error:
        return jsonify(said | {"error": words().said(error), "fits": large_enough(error)})
    except (CounterError, LabelError) as error:
        return jsonify(said | {"error": words().said(error)})
    picture = base64.b64encode(picture_of(built.data, 1)).decode()
    return jsonify(
        said
        | {
            "pages": pages,
            "page": min(number("page", "1") or 1, pages),
            "picture": f"data:image/png;base64,{picture}",
            "warnings": warnings_for(Wanted(((wanted.batch.lot, None),), "", 1, ())),
        }
    )


def said_packs(weights: Sequence[Measure], found: Sequence[WeighedPack]) -> dict[str, object]:
    """Each pack as typed, as charged, and what it costs; and the sum."""
    rows = [
        {"typed": str(one), "weight": say_weight(pack.weight), "price": words().money(pack.price)}
        for one, pack in zip(weights, found, strict=True)
    ]
    if not rows:
        return {"packs": [], "sum": ""}
    per = found[0].portion.per
    whole = Measure(sum((pack.weight.base for pack in found), Decimal(0)), "g").to(per)
    said = t(
        "labels.packs_sum",
        n=len(found),
        weight=f"{words().number(round(whole, 2))} {per}",
        price=words().money(sum(pack.price for pack in found)),
    )
    return {"packs": rows, "sum": said}


@page.post("/")
@needs("maker")
@unhurried
def make() -> AnyResponse | tuple[str, int]:
    """A label for each pack, as a PDF, with the record; the list stays where that cannot be."""
    who = by()

    def work(own: Shop, _place: Path, tell: Progress) -> Done:
        run = own.labels.print_labels(
            [(wanted.batch.lot, None)],
            None,
            wanted.blank,
            wanted.start,
            wanted.used,
            by=who,
            weights=wanted.weights,
            progress=tell,
        )
        return said_of(own, run, what)

    try:
        wanted, what = asked(), checked_way()
        if not wanted.weights:
            raise Refused(say("print labels"), say("no pack is on the list"), say("Add a weight"))
    except (CounterError, LabelError) as error:
        if wanted_as_job():
            raise
        status = told(error)
        return index(), status
    return worked(work, index)
