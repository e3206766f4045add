"""The last sales, one sale, its refund and its receipt."""

from __future__ import annotations

import io
from typing import Literal

from flask import Blueprint, Response, redirect, render_template, request, send_file, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, Refused
from counter.trade.refunds import Refund, RefundLine, refund_lines
from counter.trade.sales import Sale
from counter.web.here import by, field, shop, t, unhurried, words
from counter.web.notes import note
from counter.web.receipt import draw_receipt, receipt_of

page = Blueprint("sales", __name__, url_prefix="/sales")

SHOWN = 30


def place_of(number: str) -> dict[str, str]:
    """The parts of a sale's number, as they stand in its address."""
    day, _, rest = number.partition("/")
    return {"day": day, "number": rest}


def url_of(view: str, number: str) -> str:
    """The address of a sale, of its receipt, or of its receipt as PDF."""
    place = place_of(number)
    return url_for(f"sales.{view}", day=place["day"], number=place["number"])


@page.get("/")
def index() -> str:
    """The last sales of today, newest first."""
    commits = shop().records_of(shop().today())  # also of a day that is closed by now
    sales = [r for c in commits for r in c.get("sales", ())][-SHOWN:][::-1]
    refunded = {r.sale for c in commits for r in c.get("refunds", ()) if isinstance(r, Refund)}
    return render_template("sales.html", sales=sales, refunded=refunded, place_of=place_of)


@page.get("/<day>/<number>")
def one(day: str, number: str) -> str:
    """One sale, and what of it can still be refunded."""
    sale = shop().sale(f"{day}/{number}")
    before = shop().refunds_of(sale.number)
    return render_template(
        "sale.html", sale=sale, before=before, left=left_of(sale, before),
        place=place_of(sale.number), receipt=receipt_of(sale, shop(), words()),
    )  # fmt: skip


def left_of(sale: Sale, before: list[Refund]) -> list[RefundLine]:
    """What can still be refunded; empty when nothing can."""
    try:
        return refund_lines(sale, before, None)
    except Refused:
        return []


@page.post("/<day>/<number>/refund")
def refund(day: str, number: str) -> AnyResponse:
    """Give money back. A form sent twice is refused: it names the refunds it was made after."""
    sale = shop().sale(f"{day}/{number}")
    before = shop().refunds_of(sale.number)
    tried = f"refund sale {sale.number}"
    if field("before") != str(len(before)):
        raise Refused(tried, "a refund of it was booked meanwhile", "Look at it again")
    wanted = {line.line: quantity(line) for line in left_of(sale, before)}
    kinds: dict[str, Literal["cash", "card"]] = {"cash": "cash", "card": "card"}
    made = shop().refund(
        sale.number, field("why"), {k: n for k, n in wanted.items() if n} or {0: 1},
        kinds.get(field("kind", most=8)),  # else as it was paid
        field("restock", "") == "yes", field("reference", "", 40), by=by(),
    )  # fmt: skip
    back = words().money(made.back)
    kind = t("sales.as_paid") if made.by_card else t(f"slip.{made.kind}")
    note(t("sales.refunded", money=back, number=made.number, kind=kind))
    return redirect(url_of("one", sale.number))


def quantity(line: RefundLine) -> int:
    """How many of a line the form wants back."""
    text = request.form.get(f"line-{line.line}", "0").strip() or "0"
    if not (text.isascii() and text.isdigit() and len(text) <= 4):
        raise BadInput(f"read how many of line {line.line}", "it is not a whole number", "Write 1")
    return int(text)


@page.get("/<day>/<number>/receipt")
def receipt(day: str, number: str) -> str:
    """The receipt as a page 80 mm wide, to be printed by the browser."""
    sale = shop().sale(f"{day}/{number}")
    return render_template("receipt.html", receipt=receipt_of(sale, shop(), words()))


@page.get("/<day>/<number>/receipt.pdf")
@unhurried
def receipt_pdf(day: str, number: str) -> Response:
    """The receipt as PDF, 80 mm wide."""
    sale = shop().sale(f"{day}/{number}")
    data = draw_receipt(receipt_of(sale, shop(), words()))
    return send_file(
        io.BytesIO(data), "application/pdf", download_name=f"{sale.number.replace('/', '-')}.pdf"
    )
