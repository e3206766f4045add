"""Who may do what: host, session, token, role; and the headers that keep a page to itself."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from datetime import datetime

from flask import Response, current_app, g, redirect, request, session, url_for
from itsdangerous import URLSafeSerializer
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import CounterError
from counter.shop.staffing import pins_of
from counter.trade.catalogue import Person
from counter.trade.people import may
from counter.web.here import by, shop
from labels.say import say, term

SESSION_S = 14 * 3600  # one long day; who comes back tomorrow says again who it is
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "frame-src 'self'",
        "worker-src 'self'",
        "frame-ancestors 'self'",
        "base-uri 'none'",
        "object-src 'none'",
    )
)


class NotAllowed(CounterError):
    """Somebody whose role does not include it, or who has not said who it is."""


class NotTrusted(CounterError):
    """A request that does not come from our own page."""


def host_of(text: str) -> str:
    """The host of a Host header without its port.

    >>> host_of("127.0.0.1:8765"), host_of("[::1]:80")
    ('127.0.0.1', '[::1]')
    """
    if text.startswith("["):
        return text.partition("]")[0] + "]"
    return text.partition(":")[0].lower().rstrip(".")


def check_host(allowed: frozenset[str]) -> None:
    """Refuse names we do not answer to, so that no foreign page can reach the shop (rebinding)."""
    if host_of(request.headers.get("Host", "")) not in allowed:
        raise NotTrusted(
            say("open this page"),
            say("it was asked for under a name that is not ours"),
            say("Use the address that `counter serve` prints"),
        )


def token() -> str:
    """The token that every change must carry, bound to the session."""
    if "token" not in session:
        session["token"] = secrets.token_urlsafe(24)
    return str(session["token"])


def check_token() -> None:
    """Refuse a change without the token of this very session."""
    if request.method in ("GET", "HEAD", "OPTIONS"):
        return
    sent = request.headers.get("X-Token") or request.form.get("token", "")
    known = session.get("token", "")
    if not known or not hmac.compare_digest(sent.encode(), str(known).encode()):
        raise NotTrusted(
            say("take that"),
            say("it did not come from a page of this session"),
            say("Reload the page and try again"),
        )


def current_pins() -> Mapping[str, str]:
    """Hashed PINs, read again only when the catalogue book has grown."""
    cache = current_app.extensions["pins"]
    line = shop().desk.catalogues.end()
    if cache.get("line") != line:
        cache.update(line=line, pins=pins_of(shop().desk))
    found: Mapping[str, str] = cache["pins"]
    return found


def stamp(pin: str) -> str:
    """A part of a stored PIN: a session ends when the PIN is changed."""
    return pin[-12:]


def recognize() -> None:
    """Find out who this session is. Without any PIN, whoever sits at this computer is the owner."""
    pins = current_pins()
    g.locked = bool(pins) or bool(current_app.config["LOCKED"])
    key = str(session.get("who", ""))
    found = shop().desk.catalogue.staff.get(key)
    now = shop().desk.now().timestamp()
    if g.locked and found is not None:
        fits = key in pins and session.get("stamp") == stamp(pins[key])
        if not fits or not 0 <= now - float(session.get("since", 0)) < SESSION_S:
            found = None
    g.person = found
    g.role = (found.role if found else "") if g.locked else "owner"


def lasts() -> int:
    """For how many more seconds whoever is signed in stays so; 0 where nobody is."""
    if not g.get("role", ""):
        return 0
    if not g.locked:
        return SESSION_S
    now = shop().desk.now().timestamp()
    return max(0, int(float(session.get("since", 0)) + SESSION_S - now))


def check_role() -> AnyResponse | None:
    """Send to the sign-in page, or refuse, who may not open this view."""
    view = current_app.view_functions.get(request.endpoint or "")
    if view is None or request.endpoint == "static" or getattr(view, "public", False):
        return None
    needed = getattr(view, "needs", None) or g.needed.get(request.blueprint or "", "counter")
    if may(g.role, needed):
        return None
    if not g.role:
        shown = request.accept_mimetypes.accept_html and not request.path.endswith(".json")
        if request.method == "GET" and shown:
            return redirect(url_for("who.index", next=request.full_path.rstrip("?")))
        raise NotAllowed(
            say("do that"), say("nobody has signed in here"), say("Sign in and try again")
        )
    raise NotAllowed(
        say("do that"),
        say(
            "it takes the role {needed}, and {name} has the role {role}",
            needed=term(needed),
            name=g.person.name,
            role=term(g.role),
        ),
        say("Ask somebody who has it"),
    )


def sign_in(found: Person, pin: str) -> None:
    """Begin a new session for somebody whose PIN fitted (``pin`` is the stored one)."""
    session.clear()
    session.update(who=found.key, stamp=stamp(pin), since=shop().desk.now().timestamp())


def taker() -> str:
    """A token that a page gives to the payments it takes: who is signed in here, since when it is
    shown. "" where nobody may sell.

    A payment may reach the books when somebody else is signed in, and goes under the one who took
    it, which nobody is to make up. It proves that this shop showed that person a page, not whose
    finger it was: whoever can sell in somebody's session could do so at once, too. So a payment
    also says who was signed in when it was booked.
    """
    if not may(g.role, "counter"):
        return ""
    return _takers().dumps([by(), int(shop().desk.now().timestamp())])


def taken_by(token: str, paid: datetime) -> tuple[str, bool]:
    """Whom a payment names as who took it, and whether that is proved: signed by us, and paid
    while that page could be in use."""
    signed, found = _takers().loads_unsafe(token)
    match found:
        case [str() as name, int() as since]:
            return name, signed and -60 <= paid.timestamp() - since <= SESSION_S
    return "", False


def _takers() -> URLSafeSerializer:
    return URLSafeSerializer(current_app.secret_key or b"", salt="who took a payment")


def add_headers(response: Response) -> Response:
    # A browser shows a PDF with a program of its own, which needs more than our pages do.
    pdf = response.mimetype == "application/pdf"
    response.headers["Content-Security-Policy"] = "frame-ancestors 'self'" if pdf else POLICY
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["X-Frame-Options"] = "SAMEORIGIN"
    response.headers["Referrer-Policy"] = "same-origin"
    response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    if request.endpoint not in ("static", "outside.face") and not response.headers.get("ETag"):
        response.headers["Cache-Control"] = "no-store"
    return response
