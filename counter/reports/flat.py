"""A summary as plain rows for a spreadsheet: section, item, figure, value.

Every figure of a summary is in it, under the name it has there. Money has a decimal point and no
sign of the currency; amounts are in the product's own unit; moments are ISO 8601.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from counter.reports.export import csv_line
from counter.trade.money import plain_money

HEAD = ("section", "item", "figure", "value")
_NAMED_BY = (
    "number", "sale", "tub", "lot", "portion", "kind", "hour", "tax_class", "product", "day",
    "first",
)  # fmt: skip
_MONEY = {
    "price", "discounts", "discount", "net", "added_tax", "total", "rounding", "tax", "base",
    "refunded", "cost", "wasted_cost", "wasted_price", "missing", "start", "moved_in", "moved_out",
    "expected", "counted", "left", "money", "before_total", "start_missing", "corrected_money",
    "by_card", "corrected_drawer", "drawer",
}  # fmt: skip
_MONEY_SECTIONS = {"cash", "payments", "taxes", "takings"}
_MONEY_AMOUNTS = {"payments", "discounted", "refunds", "kept"}
_NOT_MONEY = {
    ("tubs", "left"), ("payments", "payments"), ("payments", "refunds"),
    ("takings", "sales"), ("takings", "refunds"), ("takings", "taken_back"),
}  # fmt: skip


def csv_of(summary: msgspec.Struct, places: int) -> bytes:
    """The summary as CSV (RFC 4180, UTF-8, formulas defused)."""
    lines = [csv_line(HEAD), *(csv_line(row) for row in rows_of(summary, places))]
    return "".join(lines).encode()


def rows_of(summary: msgspec.Struct, places: int) -> Iterator[tuple[str, str, str, str]]:
    """All figures of a summary in its own order."""
    for section, value in msgspec.to_builtins(summary).items():
        if isinstance(value, list | tuple):
            for row in value:
                if isinstance(row, dict):
                    for figure, cell in _leaves(row):
                        yield section, _name_of(row), figure, _cell(section, figure, cell, places)
                else:
                    yield section, str(row), "", ""
        elif isinstance(value, dict):
            for figure, cell in _leaves(value):
                yield section, "", figure, _cell(section, figure, cell, places)
        else:
            yield section, "", "", _cell("", section, value, places)


def _leaves(row: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in row.items():
        name = f"{above}{key}"
        if isinstance(value, dict):
            yield from _leaves(value, f"{name}.")
        elif isinstance(value, list | tuple):
            for i, part in enumerate(value, 1):
                if isinstance(part, dict):
                    yield from _leaves(part, f"{name}.{i}.")
                else:
                    yield f"{name}.{i}", part
        else:
            yield name, value


def _name_of(row: dict[str, Any]) -> str:
    """What tells a row from its neighbours: a number, a lot, a portion, a product and a reason."""
    inner = row.get("day") if isinstance(row.get("day"), dict) else row.get("flow")
    row = inner if isinstance(inner, dict) else row
    if "reason" in row:
        return f"{row['product']} {row['reason']}"
    return next((str(row[key]) for key in _NAMED_BY if key in row), "")


def _cell(section: str, figure: str, value: Any, places: int) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    last = figure.rpartition(".")[2]
    money = last in _MONEY or section in _MONEY_SECTIONS
    money = money or (section in _MONEY_AMOUNTS and last == "amount")
    if isinstance(value, int) and money and (section, figure) not in _NOT_MONEY:
        return plain_money(value, places)
    return str(value)
