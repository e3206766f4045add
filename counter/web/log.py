"""The production log: a batch written down, completed, corrected; a lot stopped and released."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Literal

import msgspec
from flask import Blueprint, Response, jsonify, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, CounterError
from counter.trade.batch_note import BatchNote
from counter.trade.catalogue import Product
from counter.trade.cooling import Step
from counter.trade.lookback import brix_over_time
from counter.trade.production import Batch, Hold, lot_day
from counter.trade.stock import Due, due_of, lot_of, refusal_for
from counter.trade.tubs import MINUTES
from counter.trade.units import parse_clock, parse_day
from counter.web import batch_form
from counter.web.batch_form import Values
from counter.web.charts import strengths
from counter.web.forms import celsius, told
from counter.web.here import by, field, shop, t, unhurried, words
from counter.web.notes import note
from labels.errors import LabelError
from labels.say import NOTHING, Said, full, say

page = Blueprint("log", __name__, url_prefix="/log")

CURVE_BATCHES = 30
NAMED = 8


class State(msgspec.Struct, frozen=True):
    """What to say of a batch beside its figures."""

    stopped: Said = NOTHING
    raw: Said = NOTHING
    uncooled: bool = False
    warm: bool = False
    refused: str = ""
    past: bool = False
    cools: bool = False
    corrected: bool = False
    due: Due | None = None
    own: bool = False


def state_of(batch: Batch, written: Iterable[Batch] = ()) -> State:
    """Stopped, raw, not cooled yet (``warm``: 21 °C is noted; ``due``: by when the next step is;
    ``cools``: one may tap that it is colder now; ``own``: the program stopped it), past its date.

    ``written`` is what was written down of it. A cooling read later completes a batch; that alone
    does not make it ``corrected``.
    """
    ledger = shop().desk.standing()
    row = ledger.rows.get(batch.lot)
    lot = row.lot if row else lot_of(batch, lot_day(batch.lot) or ledger.day)
    late = refusal_for(row.lot, shop().desk.now(), "refuse", NOTHING) if row else None
    return State(
        stopped=ledger.held(batch.lot) or NOTHING,
        raw=batch.raw,
        uncooled=batch.uncooled,
        warm=batch.uncooled and batch.cooling is not None,
        refused=late.why if late else "",
        past=row is not None and row.lot.mark.day < shop().desk.now().date(),
        cools=shop().production.cools_still(batch),
        due=due_of(lot, shop().desk.now()),
        own=batch.lot in ledger.stops and ledger.stops[batch.lot].own,
        corrected=any(one.lot == batch.lot and one.revision and one.why for one in written),
    )


@page.get("/")
def index() -> str:
    """The batches of a day, today's if none is named, and the products to log one of."""
    today = shop().desk.today()
    day = parse_day(field("day")) if field("day", "") else today
    batches, written = shop().production.made_on(day), shop().desk.recorded(Batch, day)
    return render_template(
        "log.html",
        day=day,
        today=today,
        day_words=batch_form.day_words,
        products=shop().desk.catalogue.products.values(),
        batches=[(b, name_of(b), state_of(b, written)) for b in reversed(batches)],
        cooling=[(b, name_of(b), state_of(b)) for b in shop().production.cooling_of_before()]
        if day == today
        else [],
        before=shop().records.day_near(day, -1),
        after=shop().records.day_near(day, 1),
    )


def name_of(batch: Batch) -> str:
    return shop().desk.catalogues.names().get(batch.product, batch.product)


@page.get("/new")
@unhurried
def new() -> str:
    """The form of a new batch, as the last one of the product was."""
    product = shop().desk.catalogue.product(field("product"), say("log a batch"))
    last = last_of(product)
    return draw_form(product, batch_form.start_values(product, last), last)


@page.post("/new")
@unhurried
def log() -> AnyResponse | tuple[str, int]:
    """Write a batch down. What cannot be is said beside the form, with all that was typed."""
    product = shop().desk.catalogue.product(field("product"), say("log a batch"))
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
        made = shop().production.log_batch(product.key, read, batch_form.moment_of(values), by())
    except (CounterError, LabelError) as error:
        status = told(error)
        return draw_form(product, values, last_of(product)), status
    note(t("log.logged", lot=made.lot, name=product.name))
    return redirect(url_for("log.one", lot=made.lot))


def made_today(product: Product) -> list[Batch]:
    """Today's batches of a product: a form sent twice is known by their number."""
    return [b for b in shop().production.made_on(shop().desk.today()) if b.product == product.key]


def last_of(product: Product) -> Batch | None:
    return next(iter(shop().production.recent_batches(product.key, 1)), None)


def draw_form(
    product: Product,
    values: Values,
    last: Batch | None,
    wrong: dict[str, str] | None = None,
    refused: str = "",
    old: Batch | None = None,
) -> str:
    """The form with ``values`` in it; ``old`` is the batch that is being corrected."""
    catalogue, ledger = shop().desk.catalogue, shop().desk.standing()
    recent = shop().production.recent_batches(product.key, CURVE_BATCHES)
    points, usual = brix_over_time(recent, product.key), product.usual.get("brix")
    stock = [row.lot.lot for row in ledger.rows.values() if row.on_hand > 0]
    rows = batch_form.rows_of(product, old or last)
    return render_template(
        "log_form.html",
        product=product,
        values=values,
        last=last,
        wrong=wrong or {},
        day_words=batch_form.day_words,
        refused=refused,
        old=old,
        rows=rows,
        stock=stock,
        mixed=batch_form.MIXED,
        others=batch_form.OTHERS,
        same=len(made_today(product)),
        more=[i for i in catalogue.ingredients.values() if i not in rows],
        taken={p.ingredient: weight(p.grams) for p in old.ingredients} if old else {},
        points=points,
        usual=usual,
        curve=strengths(points, usual, words()),
        now=batch_form.clock24(shop().desk.now()),
        cook=batch_form.cook_values(last.cook if last else None, ended=False),
    )


def gates(batch: Batch, stopped: str = "", asked: Iterable[str] = ()) -> list[dict[str, Any]]:
    """Sentences about a batch: what stops it, what is missing, what is unusual."""
    found: list[dict[str, Any]] = []
    if stopped:
        found.append({"kind": "stop", "sentence": t("log.gate_stopped", why=words().said(stopped))})
    if batch.raw:
        found.append({"kind": "stop", "sentence": t("log.gate_cook", why=words().said(batch.raw))})
    warned = (*asked, *batch.warnings)
    found += [{"kind": "warn", "sentence": words().said(full(w))} for w in warned]
    if batch.uncooled and not stopped:
        found.append({"kind": "", "sentence": t("log.gate_cooling")})
    return found


@page.get("/preview.json")
def preview() -> Response:
    """Lot, date and its reason, and every gate, for a form half filled in. Writes nothing."""
    product = shop().desk.catalogue.product(field("product"), say("log a batch"))
    values = batch_form.typed()
    read, wrong = batch_form.read_form(values, product)
    try:
        shown = shop().production.preview_batch(
            product.key, read, batch_form.moment_of(values), by()
        )
    except (CounterError, LabelError) as error:
        refused = t("log.mixed_missing") if is_unmixed(product, read) else words().said(error)
        return jsonify(wrong=wrong, refused=refused, gates=[])
    return previewed(shown.batch, shown.stopped, shown.asked, wrong)


@page.get("/lot/<lot>/preview.json")
def preview_amended(lot: str) -> Response:
    """The same for a batch that is being corrected: as it would stand after the correction."""
    old = shop().desk.batch(lot)
    product = (
        shop().desk.catalogues.of(None).product(old.product, say("correct lot {lot}", lot=lot))
    )
    different = batch_form.changed(batch_form.typed(), batch_form.values_of(old))
    read, wrong = batch_form.read_form(different, product)
    try:
        shown = shop().amendments.preview_amended(lot, read, by())
    except (CounterError, LabelError) as error:
        return jsonify(wrong=wrong, refused=words().said(error), gates=[])
    return previewed(shown.batch, shown.stopped, shown.asked, wrong)


def previewed(batch: Batch, stopped: str, asked: Iterable[str], wrong: dict[str, str]) -> Response:
    """A batch as it would be written down, in words."""
    return jsonify(
        wrong=wrong,
        refused="",
        lot=batch.lot,
        kind=t(f"log.{batch.mark.kind}"),
        day=words().date(batch.mark.day, "full"),
        reason=words().said(batch.mark.reason),
        gates=gates(batch, stopped, asked),
        parts={p.ingredient: weight(p.grams) for p in batch.ingredients if not p.written},
    )


def is_unmixed(product: Product, read: BatchNote) -> bool:
    return product.cook is None and not read.mixed


def weight(grams: Any) -> str:
    return words().amount(round(grams), "g")


@page.get("/lot/<lot>")
@unhurried
def one(lot: str) -> str:
    """One batch: its figures, what is still missing, its corrections, its stops."""
    found = shop().closings.trace(lot)
    batch, state = shop().production.as_it_lies(found.batch), state_of(found.batch, found.batches)
    return render_template(
        "log_lot.html",
        batch=batch,
        name=name_of(batch),
        state=state,
        trace=found,
        gates=gates(batch, state.stopped),
        unstopped=shop().records.unstopped(lot) if state.stopped else [],
        names=shop().desk.catalogues.names(),
        ingredients=shop().desk.catalogues.of(None).ingredients,
        pressure=batch_form.pressure,
        weight=weight,
        labels=sum(p.labels for p in found.printed),
        places=shop().desk.settings.holding,
        row=shop().desk.standing().rows.get(lot),
        now=shop().desk.now(),
        fahrenheit=shop().desk.settings.fahrenheit,
    )


@page.post("/lot/<lot>/cooled")
def cooled(lot: str) -> AnyResponse:
    """21 °C / 70 °F, or 5 °C / 41 °F, was reached: now, or at the time that is given."""
    step, text = step_named(lot, field("step")), field("clock", "")
    clock = parse_clock(text) if text else None
    made = shop().amendments.note_cooling(lot, step, clock, by())
    assert made.cooling is not None
    reached = made.cooling.to_5 or made.cooling.to_21
    note(t("log.cooling_noted", lot=lot, clock=words().clock(reached)))
    if field("back", "") == "log" and not state_of(made).stopped:
        return redirect(url_for("log.index"))  # tapped there, and the next lot waits there
    return redirect(url_for("log.one", lot=lot))


def step_named(lot: str, text: str) -> Step:
    steps: tuple[Literal["21"], Literal["5"]] = ("21", "5")
    for step in steps:
        if text == step:
            return step
    raise BadInput(
        say("note the cooling of lot {lot}", lot=lot),
        say("there is no step '{text}'", text=text),
        say("Reload the page"),
    )


@page.post("/lot/<lot>/hold")
@unhurried
def hold(lot: str) -> AnyResponse:
    """Stop a lot everywhere, or release it, with the reason."""
    what = field("what")
    if what not in ("stop", "release"):
        raise BadInput(
            say("stop or release lot {lot}", lot=lot),
            say("it cannot be '{text}'", text=what),
            say("Reload the page"),
        )
    if what == "release":
        shop().holds.hold(lot, False, field("why"), by=by())
        note(t("log.released", lot=lot))
    else:
        note_stops(shop().holds.stop([lot], field("why"), by=by()))
    return redirect(url_for(place_after_stop(), lot=field("from", lot, 20)))


def note_stops(holds: Sequence[Hold]) -> None:
    """Say which lots are stopped now."""
    lots = ", ".join(h.lot for h in holds[:NAMED]) + (" …" if len(holds) > NAMED else "")
    note(t("log.stopped", n=len(holds), lot=lots), "warn")


@page.post("/lot/<lot>/move")
@unhurried
def move(lot: str) -> AnyResponse:
    """Say that it lies elsewhere from now on, and what the food measures."""
    text = field("celsius", "", 20)
    made = shop().records.move_lot(
        lot, field("place", most=60), celsius(text) if text else None, by=by()
    )
    note(t("log.moved", lot=lot, place=made.place))
    if made.bad:
        left = max(0, MINUTES - shop().desk.standing().rows[lot].lot.out_by(shop().desk.now()))
        note(t("log.moved_warm", lot=lot, n=left), "warn")
    return redirect(url_for("log.one", lot=lot))


@page.post("/lot/<lot>/void")
@unhurried
def void(lot: str) -> AnyResponse:
    """Say that a batch never was, with the reason."""
    made = shop().amendments.void_batch(lot, field("why_never"), by=by())
    note(t("log.voided", lot=lot), "warn")
    for warning in made.warnings:
        note(full(warning), "warn")
    return redirect(url_for("log.one", lot=lot))


def place_after_stop() -> str:
    """The page that the button to stop a lot stood on."""
    return "records.lot" if field("back", "") == "records.lot" else "log.one"


@page.get("/lot/<lot>/amend")
@unhurried
def amend_form(lot: str) -> str:
    """The form with the figures of a batch, to correct or complete it."""
    old = shop().desk.batch(lot)
    product = (
        shop().desk.catalogues.of(None).product(old.product, say("correct lot {lot}", lot=lot))
    )
    return draw_form(product, batch_form.values_of(old), old, old=old)


@page.post("/lot/<lot>/amend")
@unhurried
def amend(lot: str) -> AnyResponse | tuple[str, int]:
    """Write the correction down; the old record stays. What was not touched stays as it was."""
    old = shop().desk.batch(lot)
    product = (
        shop().desk.catalogues.of(None).product(old.product, say("correct lot {lot}", lot=lot))
    )
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
        shop().amendments.amend_batch(lot, read, field("because"), by=by())
    except (CounterError, LabelError) as error:
        status = told(error)
        return draw_form(product, values, old, old=old), status
    note(t("log.amended", lot=lot))
    return redirect(url_for("log.one", lot=lot))
