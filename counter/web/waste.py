"""Waste: first what must be thrown away, one tap each; then any lot, how much and why."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, CounterError, NotFound
from counter.trade.catalogue import Unit
from counter.trade.must_go import MustGo
from counter.trade.waste import REASONS, Reason, parse_reason
from counter.web.forms import told, typed, typed_amount
from counter.web.here import by, field, shop, t, words
from counter.web.notes import note
from labels.say import say

page = Blueprint("waste", __name__, url_prefix="/waste")


def names() -> dict[str, str]:
    """Products by their names, also those that have left the catalogue."""
    return shop().desk.catalogues.names()


def heaps() -> list[dict[str, Any]]:
    """What may be picked: open tubs and lots with something left, in the order of the shelf."""
    found = []
    for product in shop().counter.shelf().products:
        for tub in product.tubs:
            found.append(
                {
                    "value": tub.tub,
                    "name": product.name,
                    "amount": tub.level,
                    "unit": "ml",
                    "what": t("waste.in_tub", tub=tub.tub),
                    "stopped": bool(tub.refusal),
                }
            )
        for lot in product.lots:
            if lot.amount > 0:
                found.append(
                    {
                        "value": lot.lot,
                        "name": product.name,
                        "amount": lot.amount,
                        "unit": product.unit,
                        "what": lot.lot,
                        "stopped": bool(lot.refusal),
                        "until": lot.day,
                    }
                )
    return found


def show() -> str:
    """The whole page as things stand."""
    rows = shop().desk.standing().rows
    return render_template(
        "waste.html",
        gone=shop().waste.must_go(),
        heaps=heaps(),
        names=names(),
        reasons=REASONS,
        wasted=shop().desk.standing().waste[::-1],
        typed=typed,
        units={lot: row.lot.unit for lot, row in rows.items()},
        products={lot: row.lot.product for lot, row in rows.items()},
    )


@page.get("/")
def index() -> str:
    """What must go, a form for any lot, and what was wasted today."""
    return show()


@page.post("/")
def throw() -> AnyResponse | tuple[str, int]:
    """Write down that so much of a lot, or out of a tub, is gone."""
    try:
        lot, tub = picked(field("lot"))
        of = shop().desk.ledger().row(lot, say("throw away lot {lot}", lot=lot)).lot
        amount = typed_amount(field("amount", most=40), of.unit)
        reason, said = why()
        made = shop().waste.throw_away(lot, amount, reason, said, tub, by=by())
    except CounterError as error:
        status = told(error)
        return show(), status
    note_done(of.product, tub or lot, made.amount, of.unit)
    return redirect(url_for("waste.index"))


def picked(value: str) -> tuple[str, str]:
    """Lot and tub of what was picked: a tub's name is its lot's with a number."""
    lot, slash, _ = value.partition("/")
    return lot, value if slash else ""


def why() -> tuple[Reason, str]:
    """The reason of the form; for ``other`` its words, and words beside another reason are kept."""
    reason, said = field("reason"), field("words", "")
    if reason == "other":
        return parse_reason(said or "other")
    if reason not in REASONS:
        raise BadInput(
            say("note waste"),
            say("'{text}' is no reason we know", text=reason),
            say("Pick one of the buttons"),
        )
    return parse_reason(reason)[0], said


@page.post("/gone")
def gone() -> AnyResponse | tuple[str, int]:
    """Throw away, at one tap, one of those that must go: a whole lot, or what is in a tub."""
    try:
        found = must_go_named(field("lot"), field("tub", ""))
        amount = typed_amount(field("amount", most=40), found.unit)
        if found.tub:
            shop().tubs.end_tub(found.tub, amount, False, by=by())
        else:
            shop().waste.throw_out(found.lot, amount, found.reason, found.words, by=by())
    except CounterError as error:
        status = told(error)
        return show(), status
    note_done(found.product, found.tub or found.lot, amount, found.unit)
    return redirect(url_for("waste.index"))


def note_done(product: str, lot: str, amount: int, unit: Unit) -> None:
    """Say on the next page how much of what is gone."""
    name = names().get(product, product)
    note(t("waste.done", amount=words().amount(amount, unit), name=name, lot=lot))


def must_go_named(lot: str, tub: str) -> MustGo:
    listed = {(go.lot, go.tub): go for go in shop().waste.must_go()}
    if (lot, tub) not in listed:
        tried = say("throw away {name} at one tap", name=tub or lot)
        raise NotFound(tried, "lot that must go", tub or lot, (), say("Look at the page again"))
    return listed[lot, tub]
