"""The last sales, one sale, its refund and its receipt."""

from __future__ import annotations

import io
import secrets

from flask import Blueprint, Response, redirect, render_template, request, send_file, url_for
from msgspec import structs
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, CounterError, Refused
from counter.trade.payments import kind_named
from counter.trade.refunds import Refund, RefundLine, refund_lines
from counter.trade.sales import PaperSale, Sale, each_alone
from counter.trade.units import clock_on, parse_clock, parse_day
from counter.web.forms import told, typed
from counter.web.here import by, field, shop, t, unhurried, words
from counter.web.notes import note
from counter.web.receipt import draw_receipt, receipt_of
from labels.say import say

page = Blueprint("sales", __name__, url_prefix="/sales")

SHOWN = 30
PAPER_ROWS = 12


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
    today = shop().desk.today()  # also where it is closed by now
    sales = shop().desk.recorded(Sale, today)[-SHOWN:][::-1]
    refunded = {refund.sale for refund in shop().desk.recorded(Refund, today)}
    return render_template("sales.html", sales=sales, refunded=refunded, place_of=place_of)


def paper_page() -> str:
    catalogue = shop().desk.for_sale()
    return render_template(
        "sales_paper.html",
        typed=typed,
        rows=range(PAPER_ROWS),
        today=shop().desk.today(),
        key=typed("key") or secrets.token_hex(8),
        portions=[("", ""), *((p.key, p.name) for p in catalogue.portions.values() if not p.off)],
    )


@page.get("/paper")
def paper() -> str:
    """The form for sales that were written on paper."""
    return paper_page()


@page.post("/paper")
def enter() -> AnyResponse | tuple[str, int]:
    """Book the sales of a paper list, all or none."""
    rows: list[int] = []
    try:
        made = shop().counter.sell_from_paper(written(rows), field("key", most=40), by())
    except CounterError as error:
        if error.row is not None:
            note(t("sales.paper_row", n=rows[error.row] + 1), "stop")
        status = told(error)
        return paper_page(), status
    paid = sum(sale.total + sale.rounding for sale in made)
    note(t("sales.paper_entered", n=len(made), money=words().money(paid)))
    return redirect(url_for("records.sales", day=shop().desk.day_of(made[0].at)))


def written(rows: list[int]) -> list[PaperSale]:
    """The sales of the form; ``rows`` takes the row that each began in.

    A row without a time belongs to the sale above it.
    """
    found: list[PaperSale] = []
    day, settings = parse_day(field("day", most=20)), shop().desk.settings
    for n in range(PAPER_ROWS):
        portion, clock = field(f"portion-{n}", "", 60), field(f"clock-{n}", "", 10)
        if not portion:
            continue
        if not clock and not found:
            do = say("Write the time into its row")
            raise BadInput(say("enter sales from paper"), say("the first has no time"), do)
        per = shop().desk.for_sale().portion(portion, say("sell {name}", name=portion)).per
        many = field(f"many-{n}", "1", 12)
        item = shop().counter.read_item(f"{portion}:{many}" if per else f"{portion}*{many}")
        if not clock:
            found[-1] = structs.replace(found[-1], items=(*found[-1].items, item))
            continue
        at = clock_on(day, parse_clock(clock), settings.shop.day_starts, settings.zone)
        paid = kind_named(field(f"paid-{n}", "cash", 20)) or "cash"
        sale = PaperSale(items=(item,), at=at, paid=paid)
        alone = each_alone(sale) if field(f"each-{n}", "", 4) == "yes" else [sale]
        found += alone
        rows += [n] * len(alone)
    return found


@page.get("/<day>/<number>")
def one(day: str, number: str) -> str:
    """One sale, and what of it can still be refunded."""
    return sale_page(day, number)


def sale_page(day: str, number: str) -> str:
    sale = shop().counter.sale(f"{day}/{number}")
    before = shop().counter.refunds_of(sale.number)
    return render_template(
        "sale.html",
        sale=sale,
        typed=typed,
        before=before,
        left=left_of(sale, before),
        place=place_of(sale.number),
        receipt=receipt_of(sale, shop(), words()),
    )


def left_of(sale: Sale, before: list[Refund]) -> list[RefundLine]:
    """What can still be refunded; empty when nothing can."""
    try:
        return refund_lines(sale, before, None)
    except Refused:
        return []


@page.post("/<day>/<number>/refund")
def refund(day: str, number: str) -> AnyResponse | tuple[str, int]:
    """Give money back. A form sent twice is refused: it names the refunds it was made after."""
    sale = shop().counter.sale(f"{day}/{number}")
    try:
        give_back(sale)
    except CounterError as error:
        status = told(error)
        return sale_page(day, number), status
    return redirect(url_of("one", sale.number))


def give_back(sale: Sale) -> None:
    """Book the refund that a form asks for, and say so on the next page."""
    before = shop().counter.refunds_of(sale.number)
    tried = say("refund sale {number}", number=sale.number)
    if field("before") != str(len(before)):
        raise Refused(tried, say("a refund of it was booked meanwhile"), say("Look at it again"))
    wanted = {line.line: quantity(line) for line in left_of(sale, before)}
    made = shop().counter.refund(
        sale.number,
        field("why"),
        {k: n for k, n in wanted.items() if n} or {0: 1},
        kind_named(field("kind", most=20)),  # else as it was paid
        field("restock", "") == "yes",
        field("reference", "", 40),
        by=by(),
    )
    back = words().money(made.back)
    kind = t("sales.as_paid") if made.by_card else t(f"slip.{made.kind}")
    note(t("sales.refunded", money=back, number=made.number, kind=kind))


def quantity(line: RefundLine) -> int:
    """How many of a line the form wants back."""
    text = request.form.get(f"line-{line.line}", "0").strip() or "0"
    if not (text.isascii() and text.isdigit() and len(text) <= 4):
        raise BadInput(
            say("read how many of line {n}", n=line.line),
            say("it is not a whole number"),
            say("Write 1"),
        )
    return int(text)


@page.get("/<day>/<number>/receipt")
def receipt(day: str, number: str) -> str:
    """The receipt as a page 80 mm wide, to be printed by the browser."""
    sale = shop().counter.sale(f"{day}/{number}")
    return render_template("receipt.html", receipt=receipt_of(sale, shop(), words()))


@page.get("/<day>/<number>/receipt.pdf")
@unhurried
def receipt_pdf(day: str, number: str) -> Response:
    """The receipt as PDF, 80 mm wide."""
    sale = shop().counter.sale(f"{day}/{number}")
    data = draw_receipt(receipt_of(sale, shop(), words()))
    return send_file(
        io.BytesIO(data), "application/pdf", download_name=f"{sale.number.replace('/', '-')}.pdf"
    )
