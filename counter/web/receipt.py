"""A receipt: lines of text for the page and for a PDF 80 mm wide, the paper of counter printers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec

from counter.errors import Refused
from counter.shop import Shop
from counter.trade.sales import Sale
from counter.web.words import Wording
from labels.fonts import FONT_LOCK, MM, house_faces
from labels.pdf import open_canvas
from labels.say import figure, say

if TYPE_CHECKING:
    from counter.reports.paper import Setter

WIDTH_MM = 80.0
MARGIN_MM = 5.0  # printers of 80 mm paper print 72 mm of it (common practice, no source)
ROOM = (WIDTH_MM - 2 * MARGIN_MM) * MM
LONGEST = 14_400.0  # points; a page of a PDF is no longer (ISO 32000-1, Annex C.2, from memory)


class ReceiptLine(msgspec.Struct, frozen=True):
    """``left`` and ``right`` on one line; ``strong`` is larger, ``rule`` draws a line above."""

    left: str
    right: str = ""
    strong: bool = False
    rule: bool = False
    faint: bool = False


class Receipt(msgspec.Struct, frozen=True):
    """What stands on the receipt of one sale; ``head`` lines are centred."""

    title: str
    language: str
    head: tuple[str, ...]
    lines: tuple[ReceiptLine, ...]
    foot: tuple[str, ...]
    second_face: str = ""


def receipt_of(sale: Sale, shop: Shop, w: Wording) -> Receipt:
    """The receipt of a booked sale, in the words of the page."""
    us, toppings = shop.desk.settings.shop, shop.desk.catalogues.of(None).toppings
    place = (
        " ".join(p for p in (us.zip, us.city) if p)
        if us.market == "eu"
        else (", ".join(p for p in (us.city, f"{us.state} {us.zip}".strip()) if p))
    )
    lines = []
    for n in sale.lines:
        count = w.said(figure(n.weight)) or (f"{w.number(n.quantity)} ×" if n.quantity > 1 else "")
        said = f"{count} {n.name}".strip()
        lines.append(ReceiptLine(said, w.money(n.price)))
        chosen = [toppings[k].name if k in toppings else k for k in n.toppings]
        under = [f"+ {', '.join(chosen)}"] if chosen else []
        if n.kind != "price":
            under.append(w.t(f"slip.kind_{n.kind.replace(' ', '_')}"))
        lines += [ReceiptLine(text, faint=True) for text in under]
    if sale.discount:
        lines.append(ReceiptLine(f"{w.t('slip.discount')}: {sale.why}", w.money(-sale.discount)))
    key = "slip.tax_in" if sale.included else "slip.tax"
    for x in sale.taxes:
        lines.append(
            ReceiptLine(f"{w.t(key, name=x.tax_class)} {w.percent(x.rate)}", w.money(x.tax))
        )
    lines.append(ReceiptLine(w.t("slip.total"), w.money(sale.total), strong=True, rule=True))
    if sale.rounding:
        lines.append(ReceiptLine(w.t("slip.rounding"), w.money(sale.rounding)))
    for paid in sale.payments:
        given = paid.given or paid.amount
        lines.append(ReceiptLine(w.t(f"slip.{paid.kind}"), w.money(given)))
    if sale.change:
        lines.append(ReceiptLine(w.t("slip.change"), w.money(sale.change)))
    where = w.t(f"slip.{sale.where}")
    when = [w.moment(sale.at)]
    if sale.kept:
        booked = w.moment(sale.kept.booked)
        when = [w.t("sales.kept", paid=w.moment(sale.kept.paid), booked=booked)]
    foot = (*when, sale.number, where, w.t("slip.thanks"))
    head = tuple(p for p in (us.name, us.street, place, us.phone) if p)
    face = next(iter(shop.desk.settings.fonts.values()), "")
    return Receipt(f"{us.name} {sale.number}", w.language, head, tuple(lines), foot, face)


def draw_receipt(receipt: Receipt) -> bytes:
    """The receipt as PDF: as long as it needs to be, all faces embedded, same input same bytes.

    Raises NoGlyph for a character that no face of the shop can write.
    """
    from counter.reports.paper import Setter

    with FONT_LOCK:
        setter = Setter(house_faces(receipt.second_face or None), (WIDTH_MM * MM, LONGEST))
        rows = [
            _row(setter, ReceiptLine(text), 9.5 if i else 15, 1)
            for i, text in enumerate(receipt.head)
        ]
        for i, line in enumerate(receipt.lines):
            size = 15 if line.strong else (9.5 if line.faint else 11)
            rows.append(_row(setter, line, size, 0, line.rule or not i))
        for i, text in enumerate(receipt.foot):
            rows.append(_row(setter, ReceiptLine(text), 9.5, 1, not i))
        heights = [row.wrap(ROOM, LONGEST)[1] for row in rows]
        y = sum(heights) + 2 * MARGIN_MM * MM
        if y > LONGEST:
            do = say("Print it as a page")
            raise Refused(
                say("draw the receipt {number}", number=receipt.title), say("it is too long"), do
            )
        canvas, buffer = open_canvas((WIDTH_MM, y / MM), receipt.title, receipt.language)
        canvas.setSubject("Receipt")
        for row, height in zip(rows, heights, strict=True):
            y -= height
            row.drawOn(canvas, MARGIN_MM * MM, y - MARGIN_MM * MM)
        canvas.save()
    return buffer.getvalue()


def _row(setter: Setter, line: ReceiptLine, size: float, align: int, rule: bool = False) -> Any:
    """Words, as many lines as they need, and a figure at the right of the last of them."""
    from reportlab.platypus import Paragraph, Table

    bold = line.strong or size > 11
    cells = []
    for text, side in ((line.left, align), (line.right, 2)):
        setter.faces.split(text, bold=bold, statement="name")
        style = setter.style(size, bold=bold, leading=size * 1.3, alignment=side, textColor="black")
        cells.append(Paragraph(setter.markup(text, bold), style))
    figure = setter.pen.measure(line.right, size, bold=bold)
    rooms = [ROOM - figure - size, figure + size] if figure else [ROOM, 0]
    table = Table([["", ""], cells], rooms, [4, None] if rule else [0, None])
    table.setStyle([*setter.around(0, 0, 0, 0), ("VALIGN", (0, 0), (-1, -1), "BOTTOM")])
    ruled = [("LINEBELOW", (0, 0), (-1, 0), 0.8, "black"), ("TOPPADDING", (0, 1), (-1, 1), 3)]
    table.setStyle(ruled * rule)
    return table
