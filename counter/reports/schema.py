"""What a table of an export is: columns declared once, each with its name, its type, where in a
record its value stands, and what it says. Rows, CSV, Parquet and the documentation follow.

Amounts of a lot are whole pieces, millilitres or grams, by the ``unit`` of its batch. No name is a
reserved word of SQL (``tests/records/test_export_names.py``). Names of columns are never changed;
new ones are added at the end of a table's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Literal, NamedTuple

import msgspec

from labels.units import parse_measure

Type = Literal["text", "day", "moment", "whole", "number", "money", "flag"]
Cell = str | int | bool | date | datetime | Decimal | None
Parts = Callable[[Any], Iterable[Any]]

TYPES = {
    "text": "text",
    "day": "a day, 2026-11-24",
    "moment": "a moment on the shop's clock with its zone, 2026-11-24T08:12:03-08:00",
    "whole": "a whole number",
    "number": "a decimal number, exact",
    "money": "an amount of money in the shop's currency, 3.50",
    "flag": "true or false",
}


class Whose(msgspec.Struct, frozen=True, kw_only=True):
    """The shop that rows come from. ``mark`` stays the same whatever the shop is called."""

    mark: str
    name: str
    currency: str
    zone: str


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """Where a record stands in the books, whose they are, and which of its revisions it is.

    ``latest`` is None where later ones cannot be known.
    """

    whose: Whose
    day: date
    line: int | None = None
    entered: datetime | None = None
    revision: int = 0
    latest: bool | None = None
    since: datetime | None = None
    book: str = ""
    number: int | None = None


class Column(NamedTuple):
    """A column. ``path`` leads to its value: into the record, into a part of it that rows are made
    of, or with ``@`` into its :class:`Place`; ``#`` counts the parts from 1."""

    name: str
    type: Type
    path: str
    says: str


class Item(NamedTuple):
    """One entry of a record's plain table."""

    key: str
    item: Any


class Revised(NamedTuple):
    """Of what there are revisions: the table with a row for each, and its column that names it
    ("" where it is the shop's only one)."""

    table: str
    key: str


def columns(text: str) -> tuple[Column, ...]:
    """Columns from lines of ``name type path what it says``; a path ``=`` is the name."""
    found = []
    for line in filter(None, text.splitlines()):
        name, kind, path, says = line.split(maxsplit=3)
        found.append(Column(name, msgspec.convert(kind, Type), name if path == "=" else path, says))
    return tuple(found)


LEAD = columns("""
trading_day day @day trading day of the book it stands in
line whole @line line of that book; one line is one commit
entered moment @entered when it was written down
""")
CLOSED = LEAD[:1]
HELD = columns("""
trading_day day @day trading day on which the catalogue came to hold
revision whole @revision the catalogues of the shop, counted from 0
since moment @since from when it held
""")
LATEST = columns("latest flag @latest whether it is the latest revision of it, by all books")
TAIL = columns("""
shop_id text @whose.mark the shop, by an id that stays the same
shop_name text @whose.name what the shop is called
currency text @whose.currency of all money in the row, ISO 4217
time_zone text @whose.zone of the shop's clock, as in the IANA time zone database
""")


class Kind:
    """A table of an export.

    ``source`` is the table of the day books its rows come from, or ``closings``, ``reopenings``,
    ``catalogues``, ``changes``, ``mendings``, ``lost``. ``over`` names the list of a record, or the
    list within a list ("lines.draws"), of which each part is a row, or is a function that gives the
    parts, called ``*`` in paths; without it a record is a row.
    """

    def __init__(
        self,
        name: str,
        source: str,
        says: str,
        own: str,
        *,
        over: str | Parts = "",
        lead: Sequence[Column] = LEAD,
        revised: Revised | None = None,
    ) -> None:
        self.name, self.source, self.says, self.revised = name, source, says, revised
        self.lasting = (*lead, *columns(own), *TAIL)  # nothing that comes later makes them untrue
        latest = LATEST if revised else ()
        self.columns = (*self.lasting[: -len(TAIL)], *latest, *TAIL)
        self._parts: list[Parts] = []
        levels = ["@", ""]
        if callable(over):
            self._parts, levels = [over], [*levels, "*"]
        else:
            for part in over.split(".") if over else ():
                self._parts.append(lambda one, part=part: _listed(getattr(one, part)))  # type: ignore[misc]
                levels.append(f"{levels[-1]}.{part}".lstrip("."))
        self._cells = {c: _reader(c, levels) for c in self.columns}

    def rows(self, place: Place, record: Any, of: Sequence[Column]) -> Iterator[tuple[Cell, ...]]:
        """The rows of a record, with the cells of some columns."""
        readers = [self._cells[column] for column in of]
        for found in self._walk([(0, place), (0, record)]):
            yield tuple([read(found) for read in readers])

    def _walk(self, found: list[tuple[int, Any]]) -> Iterator[list[tuple[int, Any]]]:
        if len(found) - 2 == len(self._parts):
            yield found
            return
        for numbered in enumerate(self._parts[len(found) - 2](found[-1][1]), 1):
            yield from self._walk([*found, numbered])


def _reader(column: Column, levels: list[str]) -> Callable[[list[tuple[int, Any]]], Cell]:
    """What reads a cell out of place, record and parts."""
    path, kind, at = column.path, column.type, 0
    for i, name in enumerate(levels[1:] if not path.startswith("@") else (), 1):
        at = i if not name or f"{path}.".startswith(f"{name}.") else at
    rest = path[len(levels[at]) :].lstrip(".")
    if rest == "#":
        return lambda found: found[at][0]
    names = rest.split(".") if rest else []
    return lambda found: _cell(_dig(found[at][1], names), kind)


def _dig(record: Any, names: Iterable[str]) -> Any:
    for name in names:
        if record is None:
            break
        record = getattr(record, name)
    return record


def _listed(value: Any) -> Iterable[Any]:
    """The parts of a list; of a plain table its records, or its entries where it has none."""
    if not isinstance(value, dict):
        return value or ()
    return [v if isinstance(v, msgspec.Struct) else Item(k, v) for k, v in value.items()]


def _cell(value: Any, kind: Type) -> Cell:
    """A value as one cell: lists and tables as text, or as their sum; weights in grams."""
    if isinstance(value, str):
        return str(value) if kind != "number" else parse_measure(value).base if value else None
    if isinstance(value, tuple):
        return "+".join(map(str, value))
    if isinstance(value, dict):
        parts = (f"{key}x{item}" for key, item in value.items())
        return sum(value.values()) if kind == "whole" else " ".join(parts)
    return value  # type: ignore[no-any-return]


def schema_text(all_kinds: Iterable[Kind]) -> str:
    """The documentation of the tables, as Markdown."""
    lines = ["# Tables of an export", ""]
    lines += ["CSV by RFC 4180: a first line of names, commas, CR LF, UTF-8. An empty cell was not"]
    lines += ["written down. A text that a spreadsheet would take for a formula begins with '."]
    lines += ["Parquet holds the same columns: moments in UTC, money as decimal; a lake has them"]
    lines += [
        "without `latest`, which `views.sql` in it adds, since a later day may correct it.",
        "",
    ]
    lines += ["| type | what it is |", "|---|---|"]
    lines += [f"| {name} | {says} |" for name, says in TYPES.items()]
    for kind in all_kinds:
        lines += ["", f"## {kind.name}", "", kind.says, "", "| column | type | what it says |"]
        lines += ["|---|---|---|"]
        lines += [f"| {c.name} | {c.type} | {c.says} |" for c in kind.columns]
    return "\n".join(lines) + "\n"
