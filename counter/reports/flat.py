"""A summary as plain rows for a spreadsheet: section, item, figure, value.

Every figure of a summary is in it, under the name it has there. Money has a decimal point and no
sign of the currency; amounts are in the product's own unit; moments are ISO 8601.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any, get_args, get_type_hints

import msgspec

from counter.reports.export import csv_line
from counter.trade.money import Minor, plain_money

HEAD = ("section", "item", "figure", "value")
_NAMED_BY = (
    "number",
    "sale",
    "tub",
    "lot",
    "portion",
    "kind",
    "hour",
    "tax_class",
    "product",
    "day",
    "first",
)
Leaf = tuple[str, Any, bool]
"""The name of a figure, the figure, and whether it is money."""


def csv_of(summary: msgspec.Struct, places: int) -> bytes:
    """The summary as CSV (RFC 4180, UTF-8, formulas defused)."""
    lines = [csv_line(HEAD), *(csv_line(row) for row in rows_of(summary, places))]
    return "".join(lines).encode()


def rows_of(summary: msgspec.Struct, places: int) -> Iterator[tuple[str, str, str, str]]:
    """All figures of a summary in its own order."""
    for section, value, money in _parts(summary, False):
        for row in value if isinstance(value, list | tuple) else [value]:
            if row is not value and not isinstance(row, msgspec.Struct):
                yield section, str(row), "", ""
                continue
            item = "" if row is value else _name_of(row)
            for figure, cell, is_money in _leaves("", row, money):
                yield section, item, figure, _cell(cell, is_money, places)


def _parts(value: Any, money: bool) -> Iterator[Leaf]:
    """What a record, a plain table or a list is made of, by name or by number from 1."""
    if isinstance(value, msgspec.Struct):
        for name, is_money in _fields(type(value)):
            yield name, getattr(value, name), is_money
    elif isinstance(value, dict):
        yield from ((str(name), part, money) for name, part in value.items())
    else:
        yield from ((str(i), part, money) for i, part in enumerate(value, 1))


def _leaves(name: str, value: Any, money: bool) -> Iterator[Leaf]:
    if isinstance(value, msgspec.Struct | dict | list | tuple):
        for part, found, is_money in _parts(value, money):
            yield from _leaves(f"{name}.{part}".lstrip("."), found, is_money)
    else:
        yield name, value, money


@lru_cache
def _fields(kind: type) -> list[tuple[str, bool]]:
    """The fields of a record, and which are money by their type."""
    hints = get_type_hints(kind, include_extras=True)
    return [(name, hint == Minor or Minor in get_args(hint)) for name, hint in hints.items()]


def _name_of(row: Any) -> str:
    """What tells a row from its neighbours: a number, a lot, a portion, a product and a reason."""
    inner = next((getattr(row, n) for n in ("day", "flow") if hasattr(row, n)), row)
    row = inner if isinstance(inner, msgspec.Struct) else row
    if hasattr(row, "reason"):
        return f"{row.product} {row.reason}"
    return next((str(getattr(row, key)) for key in _NAMED_BY if hasattr(row, key)), "")


def _cell(value: Any, money: bool, places: int) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if money:
        return plain_money(value, places)
    return str(msgspec.to_builtins(value, enc_hook=str))
