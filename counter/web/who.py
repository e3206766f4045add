"""Who is at the counter: choosing a name, the PIN, and setting PINs."""

from __future__ import annotations

from flask import Blueprint, current_app, g, redirect, render_template, session, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput
from counter.shop.staffing import check_pin, person_named, pins_from_elsewhere, remove_pin, set_pin
from counter.web import guard
from counter.web.here import by, field, needs, public, shop, t
from counter.web.notes import note
from counter.web.outside import own_path
from counter.web.tries import Tries
from labels.say import say

page = Blueprint("who", __name__, url_prefix="/who")


def tries() -> Tries:
    found = current_app.extensions.setdefault("tries", Tries())
    assert isinstance(found, Tries)
    return found


@page.get("/")
@public
def index() -> str:
    """Everybody who works here; a PIN is asked for once the shop has any."""
    staff = shop().desk.catalogue.staff.values()
    return render_template(
        "who.html",
        names=[(p.key, p.name) for p in staff],
        pins=g.locked,
        elsewhere=pins_from_elsewhere(shop().desk),
        next=own_path(field("next", "/shelf/")),
    )


@page.post("/")
@public
def enter() -> AnyResponse:
    """Say who it is. Wrong PINs are counted, and each five cost a longer wait."""
    found = person_named(shop().desk, field("person"), say("sign in"))
    pins = guard.current_pins()
    after = own_path(field("next", "/shelf/"))
    if not g.locked:
        session["who"] = found.key
        return redirect(after)
    if found.key not in pins:
        do = say("The owner sets one under Who")
        raise guard.NotAllowed(
            say("sign in as {name}", name=found.name), say("no PIN is set for that name"), do
        )
    now = shop().desk.now().timestamp()
    tries().check(found.key, now, say("sign in as {name}", name=found.name))
    if not check_pin(shop().desk, found, field("pin", "")):
        tries().missed(found.key, now)
        raise guard.NotAllowed(
            say("sign in as {name}", name=found.name), say("the PIN does not fit"), say("Try again")
        )
    tries().fitted(found.key)
    guard.sign_in(found, pins[found.key])
    return redirect(after)


@page.post("/leave")
@public
def leave() -> AnyResponse:
    session.clear()
    return redirect(url_for("who.index"))


@page.get("/pins")
@needs("owner")
def pins() -> str:
    """Names, roles, and who has a PIN."""
    return render_template(
        "pins.html", staff=shop().desk.catalogue.staff.values(), pins=guard.current_pins()
    )


@page.post("/pins")
@needs("owner")
def give_pin() -> AnyResponse:
    """Set somebody's PIN, or take it away."""
    found = person_named(shop().desk, field("person"), say("set a PIN"))
    if field("remove", ""):
        remove_pin(shop().desk, found.key, by())
        note(t("who.removed", name=found.name))
        if not guard.current_pins():
            note(t("who.now_open"), "warn")
        return redirect(url_for("who.pins"))
    if field("pin") != field("again"):
        raise BadInput(
            say("set that PIN"), say("the two do not agree"), say("Type the same PIN twice")
        )
    set_pin(shop().desk, found.key, field("pin"), by())
    # Whoever set the first PIN of the shop from this page stays signed in when it is their own.
    if not g.locked or (g.person and g.person.key == found.key):
        guard.sign_in(found, guard.current_pins()[found.key])
    note(t("who.set", name=found.name))
    return redirect(url_for("who.pins"))
