"""The production log: a batch written down, completed, corrected; a lot stopped and released."""

from __future__ import annotations

from datetime import time
from typing import Any

import msgspec
from flask import Blueprint, Response, jsonify, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, CounterError, Refused
from counter.trade.batch_note import BatchNote
from counter.trade.catalogue import Product
from counter.trade.production import Batch, lot_day
from counter.trade.stock import refusal_for
from counter.trade.units import parse_clock, parse_day
from counter.web import batch_form
from counter.web.batch_form import Values
from counter.web.curve import curve_of
from counter.web.forms import told
from counter.web.here import by, field, shop, t, unhurried, words
from counter.web.notes import note
from labels.errors import LabelError

page = Blueprint("log", __name__, url_prefix="/log")

CURVE_BATCHES = 30


class State(msgspec.Struct, frozen=True):
    """What to say of a batch beside its figures."""

    stopped: str = ""
    raw: str = ""
    uncooled: bool = False
    warm: bool = False
    refused: str = ""


def state_of(batch: Batch) -> State:
    """Stopped, raw, not cooled yet (``warm``: 21 °C is noted), or past its date."""
    today, ledger = shop().today(), shop().standing()
    row = ledger.rows.get(batch.lot)
    late = refusal_for(row.lot, today, "refuse", "") if row else None
    return State(
        stopped=ledger.held(batch.lot) or "", raw=batch.raw, uncooled=batch.uncooled,
        warm=batch.uncooled and batch.cooling is not None, refused=late.why if late else "",
    )  # fmt: skip


@page.get("/")
def index() -> str:
    """The batches of a day, today's if none is named, and the products to log one of."""
    today = shop().today()
    day = parse_day(field("day")) if field("day", "") else today
    batches = shop().made_on(day)
    return render_template(
        "log.html", day=day, today=today, day_words=batch_form.day_words,
        products=shop().catalogue.products.values(),
        batches=[(b, name_of(b), state_of(b)) for b in reversed(batches)],
        before=shop().day_near(day, -1), after=shop().day_near(day, 1),
    )  # fmt: skip


def name_of(batch: Batch) -> str:
    product = shop().catalogue.products.get(batch.product)
    return product.name if product else batch.product


@page.get("/new")
@unhurried
def new() -> str:
    """The form of a new batch, as the last one of the product was."""
    product = shop().catalogue.product(field("product"), "log a batch")
    last = last_of(product)
    return draw_form(product, batch_form.start_values(product, last), last)


@page.post("/new")
@unhurried
def log() -> AnyResponse | tuple[str, int]:
    """Write a batch down. What cannot be is said beside the form, with all that was typed."""
    product = shop().catalogue.product(field("product"), "log a batch")
    values = batch_form.typed()
    read, wrong = batch_form.read_form(values, product)
    wrong = batch_form.must_be_whole(values, product, wrong)
    if wrong:
        return draw_form(product, values, last_of(product), wrong), 400
    same = made_today(product)
    if field("same", "0") != str(len(same)):
        why = t("log.logged_meanwhile", lot=same[-1].lot if same else "")
        return draw_form(product, values, last_of(product), refused=why), 409
    try:
        made = shop().log_batch(product.key, read, batch_form.moment_of(values), by())
    except (CounterError, LabelError) as error:
        status = told(error)
        return draw_form(product, values, last_of(product)), status
    tell(made, t("log.logged", lot=made.lot, name=product.name))
    return redirect(url_for("log.one", lot=made.lot))


def made_today(product: Product) -> list[Batch]:
    """Today's batches of a product: a form sent twice is known by their number."""
    return [b for b in shop().made_on(shop().today()) if b.product == product.key]


def last_of(product: Product) -> Batch | None:
    return next(iter(shop().recent_batches(product.key, 1)), None)


def draw_form(
    product: Product, values: Values, last: Batch | None, wrong: dict[str, str] | None = None,
    refused: str = "", old: Batch | None = None,
) -> str:  # fmt: skip
    """The form with ``values`` in it; ``old`` is the batch that is being corrected."""
    catalogue, ledger = shop().catalogue, shop().standing()
    recent = shop().recent_batches(product.key, CURVE_BATCHES)
    stock = [row.lot.lot for row in ledger.rows.values() if row.on_hand > 0]
    rows = batch_form.rows_of(product, old or last)
    return render_template(
        "log_form.html", product=product, values=values, last=last, wrong=wrong or {},
        day_words=batch_form.day_words,
        refused=refused, old=old, rows=rows, stock=stock, mixed=batch_form.MIXED,
        others=batch_form.OTHERS, same=len(made_today(product)),
        more=[i for i in catalogue.ingredients.values() if i not in rows],
        taken={p.ingredient: weight(p.grams) for p in old.ingredients} if old else {},
        curve=curve_of(recent, product.usual.get("brix")),
        now=batch_form.clock24(shop().now()),
        cook=batch_form.cook_values(last.cook if last else None, ended=False),
    )  # fmt: skip


def tell(batch: Batch, sentence: str) -> None:
    """What was written, and every gate and warning in words, on the next page."""
    note(sentence)
    for said in gates(batch, state_of(batch).stopped):
        note(said["sentence"], said["kind"])


def gates(batch: Batch, stopped: str = "") -> list[dict[str, Any]]:
    """Sentences about a batch: what stops it, what is missing, what is unusual."""
    found: list[dict[str, Any]] = []
    if stopped:
        found.append({"kind": "stop", "sentence": t("log.gate_stopped", why=stopped)})
    if batch.raw:
        found.append({"kind": "stop", "sentence": t("log.gate_cook", why=batch.raw)})
    warned = [w for w in batch.warnings if not (batch.raw and batch.raw in w)]
    found += [{"kind": "warn", "sentence": f"{w[:1].upper()}{w[1:]}."} for w in warned]
    if batch.uncooled and not stopped:
        found.append({"kind": "", "sentence": t("log.gate_cooling")})
    return found


@page.get("/preview.json")
def preview() -> Response:
    """Lot, date and its reason, and every gate, for a form half filled in. Writes nothing."""
    product = shop().catalogue.product(field("product"), "log a batch")
    values = batch_form.typed()
    read, wrong = batch_form.read_form(values, product)
    refused = ""
    try:
        shown = shop().preview_batch(product.key, read, batch_form.moment_of(values), by())
    except (CounterError, LabelError) as error:
        refused = t("log.mixed_missing") if is_unmixed(product, read) else str(error)
        return jsonify(wrong=wrong, refused=refused, gates=[])
    batch = shown.batch
    return jsonify(
        wrong=wrong, refused=refused, lot=batch.lot, kind=t(f"log.{batch.mark.kind}"),
        day=words().date(batch.mark.day, "full"), reason=batch.mark.reason,
        gates=gates(batch, shown.stopped),
        parts={p.ingredient: weight(p.grams) for p in batch.ingredients if not p.written},
    )  # fmt: skip


def is_unmixed(product: Product, read: BatchNote) -> bool:
    return product.cook is None and not read.mixed


def weight(grams: Any) -> str:
    return words().amount(round(grams), "g")


@page.get("/lot/<lot>")
@unhurried
def one(lot: str) -> str:
    """One batch: its figures, what is still missing, its corrections, its stops."""
    found = shop().trace(lot)
    batch = found.batch
    return render_template(
        "log_lot.html", batch=batch, name=name_of(batch), state=state_of(batch), trace=found,
        gates=gates(batch, state_of(batch).stopped), today=lot_day(lot) == shop().today(),
        ingredients=shop().catalogue.ingredients, pressure=batch_form.pressure, weight=weight,
        labels=sum(p.labels for p in found.printed),
    )  # fmt: skip


@page.post("/lot/<lot>/cooled")
def cooled(lot: str) -> AnyResponse:
    """21 °C / 70 °F, or 5 °C / 41 °F, was reached: now, or at the time that is given."""
    batch, step, text = shop().batch(lot), field("step"), field("clock", "")
    clock = parse_clock(text) if text else shop().now().time().replace(second=0, microsecond=0)
    times = cooling_times(batch, step, clock)
    if not text and lot_day(lot) != shop().today():
        do = "Write the times under Correct"
        raise Refused(f"note the cooling of lot {lot} now", f"it was made on {lot_day(lot)}", do)
    made = shop().amend_batch(lot, BatchNote(cooled=times), t("log.why_cooling"), by=by())
    tell(made, t("log.cooling_noted", lot=lot, clock=f"{clock:%H:%M}"))
    return redirect(url_for("log.one", lot=lot))


def cooling_times(batch: Batch, step: str, clock: time) -> tuple[time, time | None]:
    """The cooling with one time more; refused out of turn or a second time."""
    tried = f"note the cooling of lot {batch.lot}"
    if step not in ("21", "5"):
        raise BadInput(tried, f"there is no step '{step}'", "Reload the page")
    first = batch.cooling.to_21 if batch.cooling else None
    second = batch.cooling.to_5 if batch.cooling else None
    if second if step == "5" else first:
        raise Refused(tried, "that time is noted already", "Correct it if it is wrong")
    if step == "21":
        return clock, None
    if first is None:
        why = "when it reached 21 °C / 70 °F is not noted"
        raise Refused(tried, why, "Write both times under Correct")
    return parse_clock(batch_form.clock24(first)), clock


@page.post("/lot/<lot>/hold")
def hold(lot: str) -> AnyResponse:
    """Stop a lot everywhere, or release it, with the reason."""
    what = field("what")
    if what not in ("stop", "release"):
        raise BadInput(f"stop or release lot {lot}", f"it cannot be '{what}'", "Reload the page")
    made = shop().hold(lot, what == "stop", field("why"), by=by())
    done = t("log.stopped", lot=lot) if made.stopped else t("log.released", lot=lot)
    note(done, "warn" if made.stopped else "good")
    return redirect(url_for("log.one", lot=lot))


@page.get("/lot/<lot>/amend")
@unhurried
def amend_form(lot: str) -> str:
    """The form with the figures of a batch, to correct or complete it."""
    old = shop().batch(lot)
    product = shop().catalogue.product(old.product, f"correct lot {lot}")
    return draw_form(product, batch_form.values_of(old), old, old=old)


@page.post("/lot/<lot>/amend")
@unhurried
def amend(lot: str) -> AnyResponse | tuple[str, int]:
    """Write the correction down; the old record stays. What was not touched stays as it was."""
    old = shop().batch(lot)
    product = shop().catalogue.product(old.product, f"correct lot {lot}")
    values = batch_form.typed()
    different = batch_form.changed(values, batch_form.values_of(old))
    read, wrong = batch_form.read_form(different, product)
    if not any(different.values()):
        wrong["made"] = t("log.nothing_changed")
    if not field("because", ""):
        wrong["because"] = t("log.because_missing")
    if wrong:
        return draw_form(product, values, old, wrong, old=old), 400
    try:
        made = shop().amend_batch(lot, read, field("because"), by=by())
    except (CounterError, LabelError) as error:
        status = told(error)
        return draw_form(product, values, old, old=old), status
    tell(made, t("log.amended", lot=lot))
    return redirect(url_for("log.one", lot=lot))
