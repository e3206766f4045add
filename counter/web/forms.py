"""Forms that are shown again with the sentence of what was wrong, and with what was typed."""

from __future__ import annotations

import secrets
from decimal import Decimal

from flask import request

from counter.errors import Asked, BadInput
from counter.trade.units import parse_amount, parse_temperature
from counter.web.faults import LOG, status_of
from counter.web.here import field, shop, words
from counter.web.notes import note
from labels.say import say


def told(error: Exception) -> int:
    """Say a refusal on the page about to be drawn, and log it; the status to answer with.

    A question is no refusal of the form: it goes on, and is put on a page of its own.
    """
    if isinstance(error, Asked):
        raise error
    status = status_of(error)
    number = secrets.token_hex(3)
    LOG.info("%s %s %s %r %r", number, status, request.method, request.path[:200], str(error)[:600])
    note(f"{words().said(error)} ({number})", "stop")
    return status


def typed(name: str, default: str = "") -> str:
    """What somebody typed into a field, to be shown again; ``default`` where it is unfit."""
    try:
        return field(name, default)
    except BadInput:
        return default


def whole(name: str, most: int = 99_999) -> int | None:
    """A whole number out of a field, or None where nothing was typed."""
    text = field(name, "")
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) <= 9 and int(text) <= most):
        raise BadInput(
            say("read '{text}'", text=text),
            say("it is not a whole number that fits"),
            say("Write 0 or more"),
        )
    return int(text)


def point(text: str) -> str:
    """A figure with the decimal comma of the page's language, as the readers take it."""
    return text.replace(",", ".") if words().comma else text


def typed_amount(text: str, unit: str) -> int:
    """An amount of stock as typed on this page."""
    return parse_amount(point(text), unit)


def celsius(text: str) -> Decimal:
    """A temperature as typed; without a letter it is in the unit the shop reads."""
    plain = text.replace(",", ".")
    letter = "F" if shop().desk.settings.fahrenheit else "C"
    return parse_temperature(plain if plain[-1:].isalpha() else f"{plain} {letter}")
