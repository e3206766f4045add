"""Errors as people see them: a sentence, a number, and the whole story in the shop's log."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Iterable
from logging.handlers import RotatingFileHandler
from pathlib import Path

from flask import Flask, Response, current_app, g, jsonify, render_template, request
from werkzeug.exceptions import HTTPException

from counter.errors import (
    Asked,
    BadInput,
    BookDamaged,
    BooksError,
    CounterError,
    DaySealed,
    KeyTaken,
    NotFound,
    NotSafe,
    WhichLot,
)
from counter.trade.asking import Question
from counter.web.guard import NotAllowed, NotTrusted
from labels.errors import BadValue, LabelError

LOG = logging.getLogger("counter.web")
LOG_NAME = "counter.log"
SURE = "sure."  # before the name of a field that answers what was asked
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # no letter that is taken for another
STATUS: tuple[tuple[type[Exception], int], ...] = (
    (BadInput, 400),
    (BadValue, 400),
    (NotTrusted, 403),
    (NotAllowed, 403),
    (NotFound, 404),
    (BooksError, 503),
    (CounterError, 409),
    (LabelError, 409),
)
SENTENCES = {
    400: "fault.bad",
    404: "fault.nothing",
    405: "fault.way",
    408: "fault.slow",
    413: "fault.large",
    415: "fault.kind",
}


class _Log(RotatingFileHandler):
    """What finds no room in it is passed over: the page has said it, and the terminal needs no
    traceback."""

    def handleError(self, _: logging.LogRecord) -> None:  # noqa: N802 - its name there
        pass


def log_into(folder: Path | None) -> logging.Handler | None:
    """Write what goes wrong into the shop folder; at most three files of 1 MB."""
    LOG.setLevel(logging.INFO)
    LOG.propagate = False
    for handler in list(LOG.handlers):
        LOG.removeHandler(handler)
        handler.close()
    if folder is None:
        LOG.addHandler(logging.NullHandler())
        return None
    made = _Log(folder / LOG_NAME, maxBytes=1_000_000, backupCount=2, encoding="utf-8", delay=True)
    made.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    LOG.addHandler(made)
    return made


def status_of(error: Exception) -> int:
    return next((status for kind, status in STATUS if isinstance(error, kind)), 500)


def wants_json() -> bool:
    """Whether the page's own program asked, and not somebody looking at a page."""
    sent_by_program = request.is_json or request.headers.get("X-Token") is not None
    return sent_by_program or request.path.endswith(".json")


def _answer(sentence: str, status: int, error: Exception | None, fault: bool = False) -> Response:
    number = "".join(secrets.choice(_LETTERS) for _ in range(6))
    # What people sent is shown as Python writes it, so that it cannot forge a line of the log.
    said = str(error) if isinstance(error, CounterError | LabelError) else sentence
    line = f"{number} {status} {request.method} {request.path[:200]!r} {said[:600]!r}"
    LOG.log(logging.ERROR if fault else logging.INFO, line, exc_info=error if fault else None)
    lot = error.lot if isinstance(error, NotSafe) else ""
    questions = error.questions if isinstance(error, Asked) else ()
    if wants_json():
        items = getattr(error, "blamed", [])
        asked = put(questions)
        lots = error.lots if isinstance(error, WhichLot) else ()
        which = [(one, g.words.date(day), g.words.said(no)) for one, day, no in lots]
        taken = error.sale if isinstance(error, KeyTaken) else ""
        made = jsonify(
            error=sentence,
            number=number,
            lot=lot,
            items=items,
            questions=asked,
            which=which,
            taken=taken,
            sealed=isinstance(error, DaySealed),
        )
    elif "role" not in g:  # refused before anybody was recognized: no page, no session, no token
        made = Response(f"{sentence} ({number})\n", mimetype="text/plain")
    elif questions:
        page = render_template("asked.html", questions=put(questions), sent=resent(questions))
        made = Response(page, mimetype="text/html")
    else:
        page = render_template("fault.html", sentence=sentence, number=number, status=status)
        made = Response(page, mimetype="text/html")
    made.status_code = status
    return made


def put(questions: Iterable[Question]) -> list[dict[str, str]]:
    """Questions as the page's own program puts them to a person."""

    def capital(text: str) -> str:
        return text[:1].upper() + text[1:]

    return [
        {
            "about": q.about,
            "tried": capital(g.words.said(q.tried)),
            "text": capital(g.words.said(q.text)),
            "clause": g.words.word(q.clause),
        }
        for q in questions
    ]


def resent(questions: Iterable[Question]) -> list[tuple[str, str]]:
    """The form as it was sent, to be sent again with the answers to what is asked."""
    own = {"token", *(f"{SURE}{q.about}" for q in questions)}
    return [one for one in request.form.items(multi=True) if one[0] not in own]


def sentence_of(error: Exception) -> str:
    """A refusal in the words of the page; a fault of the program said plainly."""
    if isinstance(error, CounterError | LabelError):
        return str(g.words.said(error) if "words" in g else error)
    return g.words.t("fault.program") if "words" in g else "Cannot do that: the program failed."


def on_refusal(error: Exception) -> Response:
    status = status_of(error)
    if isinstance(error, BookDamaged):
        current_app.watch.told(error.said)  # type: ignore[attr-defined]  # CounterApp
    return _answer(sentence_of(error), status, error, fault=status >= 500)


def on_http(error: HTTPException) -> Response:
    """Werkzeug's own refusals: no such page, wrong method, body too large."""
    status = error.code or 500
    if error.response is not None and status < 400:  # a redirect made by the router
        return Response(status=status, headers=list(error.response.headers))
    key = SENTENCES.get(status, "fault.bad" if status < 500 else "fault.program")
    text = g.words.t(key) if "words" in g else "Cannot answer that request."
    made = _answer(text, status, error, fault=status >= 500)
    for name, value in error.get_headers():
        if name == "Allow":
            made.headers[name] = value
    return made


def on_fault(error: Exception) -> Response:
    """A fault of the program: told in full only to the log."""
    return _answer(sentence_of(error), 500, error, fault=True)


def handle_errors(app: Flask) -> None:
    app.register_error_handler(CounterError, on_refusal)
    app.register_error_handler(LabelError, on_refusal)
    app.register_error_handler(HTTPException, on_http)
    app.register_error_handler(Exception, on_fault)
