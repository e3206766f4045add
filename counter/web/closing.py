"""Closing: count by lot, cash by coin, differences in words, look at it, seal. And the drawer."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal

from flask import Blueprint, Response, jsonify, redirect, render_template, request, url_for
from msgspec import Struct
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, CounterError, DaySealed, NotFound
from counter.trade.closing import Closing, grouped
from counter.trade.counting import Counting
from counter.trade.drawer import Move, worth
from counter.trade.units import parse_day
from counter.web.cash import coins, counted_coins, money_field, plain
from counter.web.charts import summary_of
from counter.web.forms import told, typed, typed_amount
from counter.web.here import body, by, field, shop, t, unhurried, words
from counter.web.notes import note
from labels.say import figure, say

page = Blueprint("closing", __name__, url_prefix="/closing")


def day_asked() -> date:
    """The day that is being closed: the one named, else the oldest that is still open."""
    opened = shop().closings.open_days()
    text = field("day", "", 20)
    if not text:
        return opened[0] if opened else shop().desk.today()
    day = parse_day(text)
    if day not in opened:
        sealed = shop().desk.sealed_until()
        if sealed is not None and day <= sealed:
            do = say("Look at it under Records")
            today = shop().desk.today()
            raise DaySealed(
                say("close day {date}", date=day), say("it is closed already"), do, today=today
            )
        raise NotFound(say("close day {date}", date=day), "open day", str(day), map(str, opened))
    return day


@page.get("/")
def index() -> str:
    """The counts and the cash of the day to be closed; or the day as it was closed."""
    if not shop().closings.open_days():
        return render_template("closed.html", **closed())
    return counts()


def closed() -> dict[str, Any]:
    """What stands on the page when nothing is open: today's closing, or that of a day ahead."""
    sealed = shop().desk.sealed_until()
    done = sealed is not None and sealed >= shop().desk.today()
    closing = shop().closings.of(sealed) if sealed and done else None
    summary = summary_of(closing, shop(), words()) if closing else None
    seal = grouped(shop().closings.seal_of(closing.day)) if closing else ""
    return {"closing": closing, "s": summary, "typed": typed, "seal": seal}


def counts() -> str:
    day = day_asked()
    return render_template(
        "closing.html",
        at=day,
        late=day != shop().desk.today(),
        lots=shop().evening.to_count(day),
        names=shop().desk.catalogues.names(),
        coins=coins(),
        typed=typed,
        shown=field("show", "", 4) == "yes",
        said=said,
        state=state,
        plain=plain,
        expected=shop().desk.ledger(day).drawer.expected,
        usual=shop().desk.settings.cash.float,
        places=shop().desk.settings.places,
        currency=shop().desk.settings.cash.currency,
    )


def said(lot: Counting) -> str:
    """How a count compares, in words; "" for what nobody has counted."""
    if lot.missing is None:
        return ""
    if not lot.missing:
        return t("closing.exact")
    key = "closing.missing" if lot.missing > 0 else "closing.more"
    return t(key, amount=words().amount(abs(lot.missing), lot.unit))


def state(lot: Counting) -> str:
    if lot.missing is None:
        return ""
    return "warn" if lot.missing else "good"


class Counted(Struct, frozen=True, forbid_unknown_fields=True):
    lot: str
    amount: str
    day: str


@page.post("/count.json")
def count_one() -> Response:
    """Write down one count as soon as it is typed; answers with what the log expected."""
    sent = body(Counted)
    day = parse_day(sent.day[:20])
    tried = say("count lot {lot}", lot=sent.lot[:40])
    unit = shop().desk.ledger(day).row(sent.lot, tried).lot.unit
    shop().evening.count(
        sent.lot, typed_amount(sent.amount[:40], unit), shop().evening.end_of(day), by()
    )
    [lot] = [c for c in shop().evening.to_count(day) if c.lot == sent.lot]
    return jsonify(
        lot=lot.lot,
        says=said(lot),
        state=state(lot),
        counted=words().amount(lot.counted or 0, unit),
        expected=words().amount(lot.expected, unit),
    )


@page.post("/count")
def count() -> AnyResponse | tuple[str, int]:
    """Write down all counts that were typed and are new."""
    try:
        day = day_asked()
        found = []
        for lot in shop().evening.to_count(day):
            text = field(f"lot-{lot.lot}", "", 40)
            if text:
                counted = typed_amount(text, lot.unit)
                if counted != lot.counted:
                    found.append((lot.lot, counted))
        if found:
            shop().evening.count_lots(found, shop().evening.end_of(day), by())
    except CounterError as error:
        status = told(error)
        return index(), status
    note(t("closing.counts_kept", n=len(found)))
    return redirect(url_for("closing.index", day=day, _anchor="cash"))


@page.get("/preview")
def preview() -> str | tuple[str, int]:
    """The closing as it would be; nothing is written."""
    try:
        return previewed()
    except CounterError as error:
        status = told(error)
        return index(), status


def previewed() -> str:
    day = day_asked()
    by_coin, cash = counted_coins(), money_field("cash", "cash")
    if by_coin is not None and cash is not None and worth(by_coin) != cash:
        raise BadInput(
            say("count the cash"),
            say("the coins make {money}", money=figure(plain(worth(by_coin)))),
            say("Count again"),
        )
    leave = money_field("leave", "amount to leave")
    closing = shop().evening.closing_preview(cash, leave, day, by_coin)
    explain = to_explain(closing)
    fields = {key for key, _, _ in explain if key == "cash"}
    asked = [q for q in shop().evening.asked_at_closing(closing) if q.about not in fields]
    return render_template(
        "closing_preview.html",
        closing=closing,
        s=summary_of(closing, shop(), words()),
        seen=shop().evening.closing_line(day),
        ask=explain,
        asked=asked,
        typed=typed,
        open=[lot for lot in closing.lots if lot.open_question],
        kept=[(name, typed(name)) for name in cash_fields() if typed(name)],
        names=shop().desk.catalogues.names(),
    )


def cash_fields() -> list[str]:
    """The fields that go on from the cash to the preview and to the seal."""
    return ["cash", "leave", *(f"coin-{value}" for value in shop().desk.settings.cash.coins)]


def to_explain(closing: Closing) -> list[tuple[str, str, str]]:
    """Lots that differ, and the cash if it does: key, its name, and how much in words."""
    found = []
    names = shop().desk.catalogues.names()
    for lot in closing.lots:
        what = f"{names.get(lot.product, lot.product)} {lot.lot}"
        if lot.variance:
            key = "closing.missing" if lot.variance > 0 else "closing.more"
            missing = t(key, amount=words().amount(abs(lot.variance), lot.unit))
            found.append((lot.lot, what, missing))
        elif lot.oversold:
            found.append((lot.lot, what, t("closing.oversold")))
    off = closing.cash.variance
    if off:
        key = "closing.missing" if off > 0 else "closing.more"
        found.append(("cash", t("records.cash"), t(key, amount=words().money(abs(off)))))
    return found


@page.post("/seal")
@unhurried
def seal() -> AnyResponse | tuple[str, int]:
    """Close the day. Refused when something was written down since it was looked at."""
    try:
        day = day_asked()
        explained = {
            name.removeprefix("why-"): field(name, "")
            for name in request.form
            if name.startswith("why-")
        }
        seen = field("seen", most=12)
        closing = shop().evening.close_day(
            money_field("cash", "cash"),
            money_field("leave", "amount to leave"),
            day,
            counted_coins(),
            field("notes", "", 1000),
            None,
            by(),
            explained,
            int(seen) if seen.isascii() and seen.isdigit() else -1,
        )
    except CounterError as error:
        return again(error)
    note(t("closing.sealed", day=words().date(closing.day)))
    told_of_papers(closing.day)
    return redirect(url_for("closing.index"))


def told_of_papers(day: date) -> None:
    """Say what became of the report and the copy of a day just closed."""
    if shop().evening.report_trouble:
        note(t("closing.no_report", why=words().said(shop().evening.report_trouble)), "warn")
    copy = shop().copies.back_up_after_closing(day)
    if copy:
        note(copy.said, "good" if copy.good else "warn")


def again(error: CounterError) -> tuple[str, int]:
    """The preview once more, made anew, with the sentence; the counts where that cannot be."""
    status = told(error)
    try:
        return previewed(), status
    except CounterError:
        return index(), status


@page.post("/reopen")
def reopen() -> AnyResponse | tuple[str, int]:
    """Open today's closed day again, with a reason; both closings stay on record."""
    try:
        made = shop().evening.reopen_day(field("why", ""), by())
    except CounterError as error:
        status = told(error)
        return index(), status
    note(t("closing.reopened", day=words().date(made.day)), "warn")
    return redirect(url_for("closing.index"))


# -- the drawer


def drawer_page() -> str:
    ledger = shop().desk.standing()
    return render_template(
        "drawer.html",
        moves=ledger.moves,
        coins=coins(),
        typed=typed,
        shown=field("show", "", 4) == "yes",
        state=ledger.drawer,
        usual=shop().desk.settings.cash.float,
        plain=plain,
        places=shop().desk.settings.places,
        currency=shop().desk.settings.cash.currency,
    )


@page.get("/drawer")
def drawer() -> str:
    """What the drawer began with, and money put in and taken out."""
    return drawer_page()


@page.post("/drawer")
def move() -> AnyResponse | tuple[str, int]:
    """Say what the drawer starts with, or put money in or take it out, with a reason."""
    try:
        kind = move_kind(field("kind", most=8))
        by_coin = counted_coins() if kind == "float" else None
        amount = money_field("amount", "amount")
        if amount is None:
            if by_coin is None:
                raise BadInput(say("move money"), say("no amount is given"), say("Write how much"))
            amount = worth(by_coin)
        why = field("float_why" if kind == "float" else "why", "")
        made = shop().evening.move_cash(kind, amount, why, by_coin, by=by())
    except CounterError as error:
        status = told(error)
        return drawer_page(), status
    note(t(f"closing.moved_{made.kind}", money=words().money(made.amount)))
    return redirect(url_for("closing.drawer"))


def move_kind(text: str) -> Move:
    kinds: tuple[Literal["float"], Literal["in"], Literal["out"]] = ("float", "in", "out")
    for kind in kinds:
        if text == kind:
            return kind
    why = say("it is none of float, in, out")
    raise BadInput(say("move money '{text}'", text=text), why, say("Pick one of the buttons"))
