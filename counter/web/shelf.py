"""The shelf: what is on hand, and from which one sells."""

from __future__ import annotations

import hashlib

from flask import Blueprint, Response, g, jsonify, render_template, request

from counter.errors import DaySealed
from counter.languages import page_texts
from counter.web.here import damage, mend_command, shop, t, words
from counter.web.rows import drawn_rows
from labels.say import say

page = Blueprint("shelf", __name__)


@page.get("/shelf/")
def index() -> str:
    """The page: rows of the shelf, and the slip at the right."""
    if is_closed():
        return render_template("shelf_closed.html", day=shop().desk.today())
    shelf = shop().counter.shelf()
    return render_template(
        "shelf.html",
        rows=drawn_rows(shelf),
        shelf=shelf,
        mark=mark_now(),
        now=shop().desk.now(),
        said={k.partition(".")[2]: t(k) for k in page_texts() if k.startswith("slip.")},
        fahrenheit=shop().desk.settings.fahrenheit,
        damage=damage(),
        mend=mend_command(),
        unconfirmed=shop().products.refusal_for_new(say("sell")),
    )


@page.get("/shelf.json")
def state() -> Response:
    """The rows as they stand; 304 while nothing was written and no minute has passed."""
    mark = mark_now()
    if is_closed():
        do, today = say("Look at the page again"), shop().desk.today()
        raise DaySealed(say("sell from the shelf"), say("the day is closed"), do, today=today)
    if request.if_none_match.contains(mark):
        made = Response(status=304)
    else:
        shelf = shop().counter.shelf()
        band = render_template(
            "shelf_band.html", shelf=shelf, unconfirmed=shop().products.refusal_for_new(say("sell"))
        )
        clock = words().clock(shop().desk.now())
        made = jsonify(rows=drawn_rows(shelf), band=band, clock=clock)
    made.set_etag(mark)
    made.headers["Cache-Control"] = "no-cache"
    return made


def is_closed() -> bool:
    """Whether today's book is sealed: then nothing is sold until the next trading day."""
    sealed = shop().desk.sealed_until()
    return sealed is not None and sealed >= shop().desk.today()


def mark_now() -> str:
    """What the picture depends on: books, settings, the minute, the language, the role."""
    now = shop().desk.now()
    parts = (
        shop().desk.ends(),
        shop().desk.today(),
        now.strftime("%H:%M"),
        words().language,
        g.role,
        shop().setup.settings_stamp,
    )
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:16]
