"""Tubs from the shelf: open one, note its temperature, take it away."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from flask import Blueprint, Response, jsonify

from counter.trade.tubs import refusal_for
from counter.trade.units import parse_minutes
from counter.web.forms import celsius, typed_amount
from counter.web.here import body, by, shop, t, words
from labels.say import say

page = Blueprint("tubs", __name__, url_prefix="/tubs")

Word = Annotated[str, msgspec.Meta(max_length=40)]


class Opened(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    lot: Word
    mode: Literal["hot", "cold", "time"]
    temperature: Word = ""
    holds: Word = ""
    reheated: Word = ""
    took: Word = ""


class Checked(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    tub: Word
    temperature: Word


class Ended(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    tub: Word
    left: Word
    kept: bool = False


@page.post("/open")
def open_tub() -> Response:
    """Put a tub on the counter."""
    sent = body(Opened)
    level = typed_amount(sent.holds, "ml") if sent.holds else None
    measured = celsius(sent.temperature) if sent.temperature else None
    tub = shop().tubs.open_tub(
        sent.lot,
        sent.mode,
        level,
        measured,
        by=by(),
        reheated=celsius(sent.reheated) if sent.reheated else None,
        reheat_minutes=parse_minutes(sent.took) if sent.took else None,
    )
    return jsonify(says=t("tub.opened", tub=tub.tub, clock=words().clock(tub.until)), good=True)


@page.post("/check")
def check() -> Response:
    """Write down a temperature; says at once when nothing may be scooped any more."""
    sent = body(Checked)
    tub = shop().tubs.check_tub(sent.tub, celsius(sent.temperature), by=by())
    refusal = refusal_for(tub, shop().desk.now(), say("sell from tub {tub}", tub=tub.tub))
    good = t("tub.good", tub=tub.tub, clock=words().clock(tub.until))
    says = words().said(refusal) if refusal else good
    return jsonify(says=says, good=refusal is None)


@page.post("/end")
def end() -> Response:
    """Take a tub away with what is left in it."""
    sent = body(Ended)
    gone = shop().tubs.end_tub(sent.tub, typed_amount(sent.left, "ml"), sent.kept, by=by())
    lost = words().amount(sum(w.amount for w in gone), "ml")
    return jsonify(says=t("tub.ended", tub=sent.tub, lost=lost), good=True)
