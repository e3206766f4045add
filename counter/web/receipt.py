"""A receipt: lines of text for the page and for a PDF 80 mm wide, the paper of counter printers."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

import msgspec

from counter.errors import Refused
from counter.shop import Shop
from counter.trade.sales import Sale
from counter.web.words import Wording
from labels.fonts import FONT_LOCK, MM, Faces, house_faces, register

WIDTH_MM = 80.0
MARGIN_MM = 5.0  # printers of 80 mm paper print 72 mm of it (common practice, no source)
MOST_LINES = 800


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
    us, toppings = shop.settings.shop, shop.catalogue_of(None).toppings
    place = " ".join(p for p in (us.zip, us.city) if p) if us.market == "eu" else (
        ", ".join(p for p in (us.city, f"{us.state} {us.zip}".strip()) if p)
    )  # fmt: skip
    lines = []
    for n in sale.lines:
        count = n.weight or (f"{w.number(n.quantity)} ×" if n.quantity > 1 else "")
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
    face = next(iter(shop.settings.fonts.values()), "")
    return Receipt(f"{us.name} {sale.number}", w.language, head, tuple(lines), foot, face)


def draw_receipt(receipt: Receipt) -> bytes:
    """The receipt as PDF: as long as it needs to be, all faces embedded, same input same bytes.

    Raises NoGlyph for a character that no face of the shop can write.
    """
    from reportlab.pdfgen.canvas import Canvas

    faces = house_faces(receipt.second_face or None)
    rows = list(_rows(receipt, faces))
    if len(rows) > MOST_LINES:
        raise Refused(f"draw the receipt {receipt.title}", "it is too long", "Print it as a page")
    height = sum(row.advance for row in rows) + 2 * MARGIN_MM * MM
    with FONT_LOCK:
        buffer = io.BytesIO()
        canvas = Canvas(
            buffer, pagesize=(WIDTH_MM * MM, height), invariant=1, lang=receipt.language,
            initialFontName=register(faces.regular),
        )  # fmt: skip
        canvas.setTitle(receipt.title)
        canvas.setAuthor("tofu-counter")
        canvas.setCreator("tofu-counter")
        y = height - MARGIN_MM * MM
        for row in rows:
            y -= row.advance
            _draw_row(canvas, row, y, faces)
        canvas.showPage()
        canvas.save()
    return buffer.getvalue()


class _Row(msgspec.Struct, frozen=True):
    left: str
    right: str = ""
    size: float = 9.5
    bold: bool = False
    centred: bool = False
    rule: bool = False

    @property
    def advance(self) -> float:
        return self.size * 1.3 + (6 if self.rule else 0)


def _rows(receipt: Receipt, faces: Faces) -> Iterator[_Row]:
    """The rows of the receipt, each of which fits its width."""
    for i, text in enumerate(receipt.head):
        yield from _fitted(_Row(text, size=9.5 if i else 15, bold=not i, centred=True), faces)
    for i, line in enumerate(receipt.lines):
        size = 15 if line.strong else (9.5 if line.faint else 11)
        row = _Row(line.left, line.right, size, line.strong, False, line.rule or not i)
        yield from _fitted(row, faces)
    for i, text in enumerate(receipt.foot):
        yield from _fitted(_Row(text, centred=True, rule=not i), faces)


def _fitted(row: _Row, faces: Faces) -> Iterator[_Row]:
    """A row broken between words, or within a word that is too long; the price goes to the last."""
    room = (WIDTH_MM - 2 * MARGIN_MM) * MM
    price = _width(row.right, row, faces)
    room -= price + row.size if row.right else 0
    lines = [""]
    for word in row.left.split(" "):
        for piece in _pieces(word, row, room, faces):
            longer = f"{lines[-1]} {piece}" if lines[-1] else piece
            if _width(longer, row, faces) <= room:
                lines[-1] = longer
            else:
                lines.append(piece)
    for i, text in enumerate(lines):
        last = i == len(lines) - 1
        yield msgspec.structs.replace(
            row, left=text, right=row.right if last else "", rule=row.rule and not i
        )


def _pieces(word: str, row: _Row, room: float, faces: Faces) -> Iterator[str]:
    piece = ""
    for character in word:
        if piece and _width(piece + character, row, faces) > room:
            yield piece
            piece = ""
        piece += character
    yield piece


def _draw_row(canvas: Any, row: _Row, y: float, faces: Faces) -> None:
    left, right = MARGIN_MM * MM, (WIDTH_MM - MARGIN_MM) * MM
    if row.rule:
        canvas.setLineWidth(0.8)
        canvas.line(left, y + row.size + 2, right, y + row.size + 2)
    at = (left + right - _width(row.left, row, faces)) / 2 if row.centred else left
    for text, x in ((row.left, at), (row.right, right - _width(row.right, row, faces))):
        for face, stretch in faces.split(text, bold=row.bold, statement="name"):
            canvas.setFont(register(face), row.size)
            canvas.drawString(x, y, stretch)
            x += face.width(stretch, row.size)


def _width(text: str, row: _Row, faces: Faces) -> float:
    stretches = faces.split(text, bold=row.bold, statement="name")
    return sum(face.width(stretch, row.size) for face, stretch in stretches)
