"""The app: an opened shop in, a Flask app out."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import Any
from urllib.parse import parse_qsl

from flask import Flask, Response, current_app, g, request, session
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import CounterError
from counter.languages import names
from counter.present import language_for
from counter.shop import Shop
from counter.trade.payments import KINDS
from counter.trade.people import may
from counter.web import away, faults, guard
from counter.web.here import by
from counter.web.notes import note
from counter.web.pages import PAGES, blueprints
from counter.web.watch import Watch
from counter.web.words import Wording, unparted
from labels.say import figure

LOCAL = frozenset({"127.0.0.1", "localhost", "[::1]"})
LARGEST_BODY = 2 << 20  # a catalogue or a logo; nothing else comes near it
OUTBOX = (
    "booking",
    "not_booked",
    "not_taken",
    "sign_in",
    "take_back",
    "look_at_it",
    "book_anew",
    "send_again",
    "throw_away",
    "thrown_away",
    "bring_back",
    "booked_late",
    "waits_one",
    "waits_many",
)
"""What static/outbox.js says, on every page."""
LARGEST_CHANGE = 256 << 10


class CounterApp(Flask):
    """Requests take turns on one opened shop, which is quick and never seen half changed.

    A view marked ``unhurried`` gets a shop of its own over the same books, and waits for nobody.
    """

    def __init__(self, shop: Shop, again: Callable[[], Shop] | None) -> None:
        super().__init__("counter.web")
        self.shop, self.again = shop, again
        self.turn = threading.RLock()
        self.watch = Watch(again)

    def full_dispatch_request(self) -> Any:
        view = self.view_functions.get(request.endpoint or "")
        own = self.shop_of_its_own() if getattr(view, "unhurried", False) else None
        if own is not None:
            try:
                g.shop = own
                return super().full_dispatch_request()
            finally:
                own.desk.books.close()
        with self.turn:
            g.shop = self.shop
            self.watch.see(self.shop)
            self.follow_settings()
            try:
                return super().full_dispatch_request()
            finally:
                self.watch.give_way(self.shop)

    def follow_settings(self) -> None:
        """Go on with ``shop.toml`` as it stands now; one that cannot be read is logged once."""
        fault = self.shop.setup.settings_fault
        if self.shop.setup.follow_settings():
            faults.LOG.info("shop.toml has changed and is in use")
        elif self.shop.setup.settings_fault not in ("", fault):
            faults.LOG.error("shop.toml is not in use: %r", self.shop.setup.settings_fault)

    def shop_of_its_own(self) -> Shop | None:
        """The same shop opened once more; None where that cannot be: it waits."""
        try:
            return self.again() if self.again is not None else None
        except CounterError:
            return None  # the shop in use will say in its own words what is wrong


def create_app(
    shop: Shop,
    secret: bytes,
    hosts: frozenset[str] = LOCAL,
    again: Callable[[], Shop] | None = None,
    lan: bool = False,
) -> CounterApp:
    """The counter page over an opened shop.

    ``secret`` signs the sessions, ``hosts`` are the names it answers to, and ``again`` opens the
    same shop once more for work that takes long; without it, that work waits its turn. With
    ``lan`` nobody comes in without a PIN, also when the shop has none any more.
    """
    app = CounterApp(shop, again)
    app.config.update(
        SECRET_KEY=secret,
        MAX_CONTENT_LENGTH=LARGEST_BODY,
        MAX_FORM_PARTS=2000,
        MAX_FORM_MEMORY_SIZE=LARGEST_CHANGE,
        # Cookies know no ports: two shops on one computer must not end each other's sessions.
        SESSION_COOKIE_NAME=f"counter-{hashlib.sha256(secret).hexdigest()[:8]}",
        LOCKED=lan,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        PERMANENT_SESSION_LIFETIME=timedelta(seconds=guard.SESSION_S),
        SEND_FILE_MAX_AGE_DEFAULT=0,
    )
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.extensions["pins"] = {}
    faults.log_into(shop.desk.folder)
    faults.handle_errors(app)
    app.before_request(lambda: before(hosts))
    app.after_request(guard.add_headers)
    app.after_request(say_day)
    app.context_processor(page_words)
    app.jinja_env.filters |= {"said": said, "word": word}
    app.jinja_env.filters |= {"figure": figure, "unparted": unparted}
    for _, page in blueprints():
        app.register_blueprint(page)
    return app


def before(hosts: frozenset[str]) -> AnyResponse | None:
    """What every request goes through, in this order."""
    settings = g.shop.desk.settings
    g.shop.desk.questions.given, g.shop.desk.begun = given(), None
    g.words = Wording(settings, language_for(request.cookies.get("language", ""), settings))
    g.needed = {page.key: page.needed for page in PAGES}
    guard.check_host(hosts)
    guard.recognize()
    guard.check_token()
    return guard.check_role()


def say_day(answer: Response) -> Response:
    """Which day it is, once, on the page that comes after the first record of a day."""
    if "shop" in g and (day := g.shop.desk.begun):
        g.shop.desk.begun = None
        note(g.words.t("asked.day", day=g.words.date(day, "full")))
    return answer


def given() -> dict[str, str]:
    """What this request answers of what was asked: in its form, or in a header as a query."""
    header = parse_qsl(request.headers.get("X-Sure", "")[:4000])
    form = request.form.items() if request.method == "POST" and not request.is_json else ()
    own = {n.removeprefix(faults.SURE): v for n, v in form if n.startswith(faults.SURE)}
    return {**dict(header), **own}


def said(text: str) -> str:
    """The filter by which a template shows what the trade says."""
    w: Wording = g.words
    return w.said(text)


def word(text: str, context: str = "term") -> str:
    """The filter for a single word of the trade."""
    w: Wording = g.words
    return w.word(text, context)


def page_words() -> dict[str, object]:
    """What every template can say."""
    w: Wording = g.words
    role = g.get("role", "")
    return {
        "t": w.t,
        "w": w,
        "money": w.money,
        "number": w.number,
        "amount": w.amount,
        "day": w.day,
        "date": w.date,
        "clock": w.clock,
        "moment": w.moment,
        "token": guard.token,
        "person": g.get("person"),
        "role": role,
        "by": by,
        "locked": g.get("locked", False),
        "version": away.version(),
        "lasts": guard.lasts,
        "outbox_said": lambda: {key: w.t(f"slip.{key}") for key in OUTBOX},
        "taker": guard.taker,
        "nav": [p.key for p in PAGES if p.key in current_app.blueprints and may(role, p.needed)],
        "may": lambda needed: may(role, needed),
        "shop_name": g.shop.desk.settings.shop.name,
        "demo": g.shop.desk.settings.shop.demo,
        "languages": names(),
        "notices": notices,
        "paid_by": lambda: [(kind, w.t(f"slip.{kind}")) for kind in KINDS],
    }


def notices() -> Sequence[tuple[str, str]]:
    """What is to be said on this page. Taken only where it is shown: a part of a page, or one that
    is put by for later, must not swallow it."""
    return () if "X-Kept" in request.headers else session.pop("notices", ())
