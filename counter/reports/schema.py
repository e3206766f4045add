"""Every kind of record as a flat table: the one list of columns that exports and their
documentation are made from.

Amounts of a lot are whole pieces, millilitres or grams, by the ``unit`` of its batch. Names of
columns are never changed; new ones are added at the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Literal, NamedTuple

import msgspec

Type = Literal["text", "day", "moment", "whole", "number", "money", "flag"]
Cell = str | int | bool | date | datetime | Decimal | None

TYPES = {
    "text": "text",
    "day": "a day, 2026-11-24",
    "moment": "a moment on the shop's clock with its zone, 2026-11-24T08:12:03-08:00",
    "whole": "a whole number",
    "number": "a decimal number, exact",
    "money": "an amount of money in the shop's currency, 3.50",
    "flag": "true or false",
}


class Field(NamedTuple):
    """A column: its name, the type of what is in it, and what it says."""

    name: str
    type: Type
    says: str = ""


class Kind(NamedTuple):
    """A table of an export. ``source`` is the table of the day books that its rows come from, or
    ``closings`` and ``reopenings``; ``rows`` gives the cells of a record without the lead."""

    name: str
    source: str
    says: str
    fields: tuple[Field, ...]
    rows: Callable[[Any], Iterable[tuple[Cell, ...]]]

    @property
    def columns(self) -> tuple[Field, ...]:
        """All columns, those first that say where the record stands in the books."""
        return (*LEAD, *self.fields) if self.source not in CLOSED else self.fields


LEAD = (
    Field("day", "day", "trading day of the book it stands in"),
    Field("line", "whole", "line of that book; one line is one commit"),
    Field("entered", "moment", "when it was written down"),
)
CLOSED = ("closings", "reopenings")


def fields_of(says: str) -> tuple[Field, ...]:
    """Fields from lines of ``name type what it says``."""
    fields = []
    for line in says.strip().splitlines():
        name, kind, *words = line.split(maxsplit=2)
        fields.append(Field(name, msgspec.convert(kind, Type), words[0] if words else ""))
    return tuple(fields)


def plain(*names: str) -> Callable[[Any], Iterator[tuple[Cell, ...]]]:
    """Rows that are attributes of the record, one row a record; a dot goes into a part of it."""

    def rows(record: Any) -> Iterator[tuple[Cell, ...]]:
        yield tuple(_dig(record, name) for name in names)

    return rows


def _dig(record: Any, name: str) -> Cell:
    for part in name.split("."):
        record = None if record is None else getattr(record, part)
    return record  # type: ignore[no-any-return] # the records' own types decide


def each(
    many: str, head: tuple[str, ...], part: tuple[str, ...]
) -> Callable[[Any], Iterator[tuple[Cell, ...]]]:
    """One row for each of ``many`` in a record: the record's names, a number from 1, the part's."""

    def rows(record: Any) -> Iterator[tuple[Cell, ...]]:
        for number, one in enumerate(getattr(record, many), 1):
            yield (
                *(_dig(record, name) for name in head), number, *(_dig(one, n) for n in part),
            )  # fmt: skip

    return rows


def ingredients(batch: Any) -> Iterator[tuple[Cell, ...]]:
    """What went in with its supplier code, and codes of what carries no amount."""
    head = batch.lot, batch.revision
    for part in batch.ingredients:
        code = batch.codes.get(part.ingredient, "")
        yield *head, part.ingredient, part.grams, part.written, code
    for key in sorted(set(batch.codes) - {p.ingredient for p in batch.ingredients}):
        yield *head, key, None, "", batch.codes[key]


def warnings(batch: Any) -> Iterator[tuple[Cell, ...]]:
    for text in batch.warnings:
        yield batch.lot, batch.revision, text


def draws(head: tuple[str, ...]) -> Callable[[Any], Iterator[tuple[Cell, ...]]]:
    """Lots that lines of a sale or a refund drew on. A sale's lines are counted from 1; those of a
    refund carry the line of the sale."""

    def rows(record: Any) -> Iterator[tuple[Cell, ...]]:
        for number, line in enumerate(record.lines, 1):
            for draw in line.draws:
                which = getattr(line, "line", number)
                yield (
                    *(_dig(record, n) for n in head), which, draw.lot, draw.amount, draw.tub,
                    draw.how,
                )  # fmt: skip

    return rows


def lines_of(sale: Any) -> Iterator[tuple[Cell, ...]]:
    for number, line in enumerate(sale.lines, 1):
        yield (
            sale.number, number, line.portion, line.product, line.name, line.quantity, line.weight,
            "+".join(line.toppings), line.kind, line.price, line.discount, line.net,
            line.tax_class, line.tax,
        )  # fmt: skip


def coins(move: Any) -> Iterator[tuple[Cell, ...]]:
    counted = " ".join(f"{value}x{count}" for value, count in move.coins.items())
    yield move.kind, move.amount, move.why, counted, move.at, move.by


def closing_lots(closing: Any) -> Iterator[tuple[Cell, ...]]:
    for n in closing.lots:
        yield (
            closing.day, n.lot, n.product, n.unit, n.carried_in, n.made, n.sold, n.used,
            sum(n.wasted.values()), n.carried_out, n.variance, n.counted, n.oversold, n.stopped,
            n.corrected, n.out,
        )  # fmt: skip


def closing_waste(closing: Any) -> Iterator[tuple[Cell, ...]]:
    for lot in closing.lots:
        for reason, amount in lot.wasted.items():
            yield closing.day, lot.lot, reason, amount


def closing_sums(closing: Any) -> Iterator[tuple[Cell, ...]]:
    for what, sums in (("paid by", closing.payments), ("tax", closing.taxes)):
        for key, amount in sums.items():
            yield closing.day, what, key, amount


def schema_text(all_kinds: Iterable[Kind]) -> str:
    """The documentation of the tables, as Markdown."""
    lines = ["# Tables of an export", ""]
    lines += ["CSV by RFC 4180: a first line of names, commas, CR LF, UTF-8. An empty cell was not"]
    lines += ["written down. A text that a spreadsheet would take for a formula begins with '."]
    lines += ["Parquet holds the same columns: moments in UTC, money as decimal.", ""]
    lines += ["| type | what it is |", "|---|---|"]
    lines += [f"| {name} | {says} |" for name, says in TYPES.items()]
    for kind in all_kinds:
        lines += ["", f"## {kind.name}", "", kind.says, "", "| column | type | what it says |"]
        lines += ["|---|---|---|"]
        lines += [f"| {f.name} | {f.type} | {f.says} |" for f in kind.columns]
    return "\n".join(lines) + "\n"
