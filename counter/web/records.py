"""Records: a day, its production log, a lot's way, the °Brix over weeks, and looking for things."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

from flask import Blueprint, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, CounterError, NotFound
from counter.trade.closing import grouped
from counter.trade.production import Batch, lot_day
from counter.trade.refunds import Refund
from counter.trade.sales import Sale
from counter.trade.units import parse_day
from counter.web.batch_form import pressure
from counter.web.charts import strengths, summary_of, way_of_lot
from counter.web.forms import told, typed
from counter.web.here import by, field, needs, shop, unhurried, words
from counter.web.log import note_stops
from counter.web.sales import place_of
from labels.say import say

page = Blueprint("records", __name__, url_prefix="/records")

SPANS = (31, 92, 366)  # days that are searched back
BRIX_DAYS = 92


def day_asked() -> date:
    """The day named; else today if its book is begun, else the last one that has a book."""
    text = field("day", "", 20)
    if text:
        return parse_day(text)
    days, today = shop().records.days(), shop().desk.today()
    return today if not days or today in days else days[-1]


def around(day: date) -> dict[str, Any]:
    """What stands on every page about a day."""
    return {
        "at": day,
        "before": shop().records.day_near(day, -1),
        "after": shop().records.day_near(day, 1),
        "today": shop().desk.today(),
        "typed": typed,
        "spans": SPANS,
        "kinds": shop().exports.kinds(),
        "pressure": pressure,
        "ingredients": shop().desk.catalogues.of(None).ingredients,
        "names": shop().desk.catalogues.names(),
    }


@page.get("/")
@unhurried
def index() -> str | tuple[str, int]:
    """A day's summary, closed or still open."""
    try:
        day = day_asked()
    except CounterError as error:
        status = told(error)
        return render_template("records.html", closing=None, **around(shop().desk.today())), status
    try:
        closing = shop().closings.of(day)
    except NotFound:
        return render_template("records.html", closing=None, **around(day))
    sealed = shop().desk.sealed_until()
    return render_template(
        "records.html",
        closing=closing,
        s=summary_of(closing, shop(), words()),
        sealed=sealed is not None and day <= sealed,
        seal=grouped(shop().closings.seal_of(day)),
        **around(day),
    )


@page.get("/log")
@unhurried
def log() -> str:
    """The production log of a day, with its corrections."""
    day = day_asked()
    batches = shop().desk.recorded(Batch, day)
    last = {batch.lot: batch for batch in batches}
    changes = [batch for batch in batches if batch.revision]
    return render_template(
        "records_log.html", batches=last.values(), changes=changes, **around(day)
    )


@page.get("/sales")
@unhurried
def sales() -> str:
    """The sales of a day; each leads to its receipt and its refund."""
    day = day_asked()
    return render_template(
        "records_sales.html",
        sales=shop().desk.recorded(Sale, day),
        refunds=shop().desk.recorded(Refund, day),
        place_of=place_of,
        **around(day),
    )


@page.get("/lot/<lot>")
@unhurried
def lot(lot: str) -> str:
    """Where a lot came from and where it went."""
    trace = shop().closings.trace(lot[:40])
    stopped = bool(trace.holds and trace.holds[-1].stopped)
    return render_template(
        "records_lot.html",
        trace=trace,
        way=way_of_lot(trace, words()),
        place_of=place_of,
        unstopped=shop().records.unstopped(trace.lot) if stopped else [],
        **around(lot_day(trace.lot) or shop().desk.today()),
    )


@page.get("/brix")
@unhurried
def brix() -> str:
    """The strength of a product's soy milk over the last three months."""
    catalogue = shop().desk.catalogues.of(None)
    asked = field("product", "", 60) or next(iter(catalogue.products), "")
    product = catalogue.product(asked, say("show the °Brix"))
    today = shop().desk.today()
    points = shop().records.brix_of(product.key, today - timedelta(days=BRIX_DAYS), today)
    picture = strengths(points, product.usual.get("brix"), words())
    return render_template(
        "records_brix.html",
        points=points[::-1],
        picture=picture,
        product=product,
        usual=product.usual.get("brix"),
        products=[(p.key, p.name) for p in catalogue.products.values()],
        back=BRIX_DAYS,
        **around(today),
    )


@page.get("/find")
@unhurried
def find() -> AnyResponse | str | tuple[str, int]:
    """A lot, a sale by its number, or a word in notes and reasons."""
    try:
        wanted = field("q")
        place = place_named(wanted)
        if place:
            return redirect(place)
        today = shop().desk.today()
        back = days_back()
        found = shop().records.find_word(wanted, today - timedelta(days=back), today)
    except CounterError as error:
        status = told(error)
        return render_template("records_found.html", found=(), **found_words()), status
    coded = shop().records.lots_with_code(wanted)
    return render_template("records_found.html", found=found, coded=coded, **found_words())


@page.post("/stop-code")
@needs("maker")
@unhurried
def stop_code() -> AnyResponse:
    """Stop all lots with a supplier's code, and what was made from them."""
    note_stops(shop().records.stop_code(field("code"), field("why"), by=by()))
    return redirect(url_for("records.find", q=field("code")))


def found_words() -> dict[str, Any]:
    return {**around(shop().desk.today()), "place_of": place_of, "lot_day": lot_day}


def place_named(wanted: str) -> str:
    """The address of the lot or sale that was named, or "" for a word."""
    if lot_day(wanted):
        return url_for("records.lot", lot=wanted)
    number = wanted
    if re.fullmatch(r"[0-9]{1,4}", wanted):
        number = f"{day_asked()}/{int(wanted):04d}"
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}/[0-9]{4,6}", number):
        place = place_of(shop().counter.sale(number).number)
        return url_for("sales.one", day=place["day"], number=place["number"])
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", wanted):
        return url_for("records.index", day=parse_day(wanted))
    return ""


def days_back() -> int:
    text = field("back", "92", 5)
    if text not in map(str, SPANS):
        raise BadInput(
            say("look '{text}' days back", text=text),
            say("it is no span we know"),
            say("Pick one of them"),
        )
    return int(text)
