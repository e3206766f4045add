"""The recall sheet: on paper for who must act, as a table for who must call."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from counter.reports.blocks import Column
from counter.reports.document import Document, Grid, Heading, Text
from counter.reports.export import csv_line
from counter.trade.recalling import CAUTION, Recall, RecalledLot, accounted_for
from counter.trade.units import show_amount

SHEET = ("lot", "product", "why here", "sale", "when", "portion", "amount", "unit", "paid")
_MINUTES = "%Y-%m-%d %H:%M"


def recall_document(recall: Recall, names: dict[str, str], shop: str) -> Document:
    """The sheet: what it is about, where it is, which sales, what went in.

    ``names`` maps a product to its name; ``shop`` is name and place of the shop.
    """
    reached = recall.reached
    before = [lot for lot in recall.lots if lot.side == "went in"]
    asked = ", ".join(recall.asked)
    what = f"Lot{'s' if len(recall.asked) > 1 else ''} {asked}" + (
        f", all with supplier code {recall.code}" if recall.code else ""
    )
    stopped = [lot.lot for lot in reached if not lot.stopped and lot.left > 0]
    intro = [shop, f"{what}. Drawn up {recall.at:{_MINUTES}}.", CAUTION]
    blocks: list[Heading | Text | Grid] = [Heading("Where the lots are")]
    if stopped:
        words = f"NOT STOPPED: of {', '.join(stopped)} some is still on the shelf."
        blocks.append(Text(f"{words} Stop it with `counter stop LOT --because ...`.", bold=True))
    blocks += [
        lots_grid(reached, names), Text(accounted_for(recall)),
        Heading("Sales"), _sales(recall),
        Heading("What went in"), _codes(recall),
        lots_grid(before, names, "No older stock went in."),
    ]  # fmt: skip
    return Document(
        f"Recall sheet {recall.asked[0]}" + (" and others" if len(recall.asked) > 1 else ""),
        tuple(intro), tuple(blocks), f"{shop} · recall sheet · {recall.at:{_MINUTES}}",
        contents=False,
    )  # fmt: skip


def lots_grid(lots: list[RecalledLot], names: dict[str, str], empty: str = "") -> Grid:
    def show(lot: RecalledLot, amount: int) -> str:
        return show_amount(amount, lot.unit) if amount else "-"

    columns = (
        Column("lot", 1.5), Column("product", 2.2), Column("why here", 1.7), Column("made on", 1.6),
        Column("date mark", 2.4), Column("made", 1.1, "right"), Column("sold", 1.1, "right"),
        Column("used", 1, "right"), Column("wasted", 1.1, "right"), Column("on hand", 1.1, "right"),
        Column("missing", 1.1, "right"), Column("state", 2.2),
    )  # fmt: skip
    rows = tuple(
        (
            lot.lot, names.get(lot.product, lot.product), lot.side, str(lot.made_on),
            f"{lot.mark} {lot.best_by}", show(lot, lot.made + lot.corrected), show(lot, lot.sold),
            show(lot, lot.used), show(lot, lot.wasted), show(lot, lot.left),
            show(lot, lot.missing), f"stopped: {lot.stopped}" if lot.stopped else "not stopped",
        )
        for lot in lots
    )  # fmt: skip
    return Grid(columns, rows, empty)


def _sales(recall: Recall) -> Grid:
    units = {lot.lot: lot.unit for lot in recall.lots}
    columns = (
        Column("lot", 1.2), Column("sale", 1.8), Column("when", 1.8), Column("portion", 1.8),
        Column("amount", 1, "right"), Column("paid", 3),
    )  # fmt: skip
    rows = tuple(
        (
            sale.lot, sale.sale, f"{sale.at:{_MINUTES}}", sale.portion,
            show_amount(sale.amount, units[sale.lot]), sale.paid,
        )
        for sale in recall.sales
    )  # fmt: skip
    return Grid(columns, rows, "None of it was sold.")


def _codes(recall: Recall) -> Grid:
    columns = (Column("ingredient", 1.5), Column("supplier code", 2), Column("in lots", 5))
    rows = tuple((i, code, ", ".join(lots)) for i, code, lots in recall.supplier_codes)
    return Grid(columns, rows, "No supplier code was written down.")


def recall_csv(recall: Recall, names: dict[str, str]) -> Iterator[str]:
    """The sheet as CSV lines: one row a sale, and one a lot for what was wasted and is left."""
    yield csv_line(SHEET)
    lots = {lot.lot: lot for lot in recall.lots}

    def row(lot: RecalledLot, sale: str, when: str, portion: str, amount: int, paid: str) -> str:
        name = names.get(lot.product, lot.product)
        return csv_line((lot.lot, name, lot.side, sale, when, portion, str(amount), lot.unit, paid))

    for sale in recall.sales:
        at = sale.at.isoformat(timespec="seconds")
        yield row(lots[sale.lot], sale.sale, at, sale.portion, sale.amount, sale.paid)
    for lot in recall.reached:
        parts: tuple[tuple[Literal["made", "used", "wasted", "on hand", "missing"], int], ...] = (
            ("made", lot.made + lot.corrected), ("used", lot.used), ("wasted", lot.wasted),
            ("on hand", lot.left), ("missing", lot.missing),
        )  # fmt: skip
        for word, amount in parts:
            yield row(lot, "", "", word, amount, "")
