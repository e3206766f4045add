"""Records as CSV or Parquet, one pass over the books whatever is asked for.

CSV: RFC 4180, CR LF, UTF-8. A text cell that a spreadsheet would take for a formula gets an
apostrophe in front, unless it is a plain number: OWASP, "CSV Injection" (from memory).
"""

from __future__ import annotations

import csv
import io
import os
import re
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from datetime import UTC, date, datetime
from decimal import Decimal
from importlib import import_module
from pathlib import Path
from typing import IO, Any, Literal, Protocol

import msgspec

from counter.errors import BadInput, NotFound, Refused
from counter.reports.schema import Cell, Column, Kind, Place, schema_text
from counter.reports.tables import kinds
from labels.errors import NotWritten, answer_of
from labels.files import write_whole
from labels.say import say

Format = Literal["csv", "parquet"]
_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?", re.ASCII)
# The wide forms are read as the narrow ones where wide letters are usual.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_ROWS_A_GROUP = 10_000
PARQUET_PLACES = 12
MONEY_PLACES = 4
"""Of money in Parquet, whatever the currency, so that files of many shops are of one schema: no
currency of ISO 4217 has more (from memory)."""


Records = Iterable[tuple[str, Place, Any]]
"""Records with the source they are of and where they stand; see :class:`.Kind`."""


class Writer(Protocol):
    """Takes the rows of one table."""

    @property
    def columns(self) -> Sequence[Column]: ...

    def write(self, row: Sequence[Cell]) -> None: ...

    def close(self) -> None: ...


class Exported(msgspec.Struct, frozen=True):
    """A file that was written, and how many rows are in it."""

    path: str
    rows: int


def defuse(text: str) -> str:
    """A text cell that no spreadsheet takes for a formula.

    >>> defuse("=1+1"), defuse("-5"), defuse("@home")
    ("'=1+1", '-5', "'@home")
    """
    if text.startswith(_FORMULA) and not _PLAIN_NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def csv_line(cells: Sequence[str]) -> str:
    """One line of CSV with its CR LF, texts defused."""
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\r\n").writerow([defuse(cell) for cell in cells])
    return buffer.getvalue()


def cell_text(value: Cell, column: Column, places: int) -> str:
    """A value as it stands in CSV; nothing for what was not written down."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if column.type == "money" and isinstance(value, int):
        return f"{Decimal(value).scaleb(-places):f}"
    if isinstance(value, Decimal):
        return f"{value:f}"
    return str(value) if isinstance(value, int) else defuse(value)


class CsvWriter:
    """Rows to a stream of text that was opened with ``newline=""``."""

    def __init__(self, stream: IO[str], kind: Kind, places: int) -> None:
        self._stream, self.columns, self._places = stream, kind.columns, places
        self._csv = csv.writer(stream, lineterminator="\r\n")
        self._csv.writerow([column.name for column in self.columns])

    def write(self, row: Sequence[Cell]) -> None:
        cells = zip(row, self.columns, strict=True)
        self._csv.writerow([cell_text(value, column, self._places) for value, column in cells])

    def close(self) -> None:
        self._stream.flush()


class ParquetWriter:
    """Rows to a Parquet file, a group at a time. Refused where pyarrow is not installed."""

    def __init__(self, path: Path, kind: Kind, places: int, columns: Sequence[Column]) -> None:
        arrow, parquet = load_pyarrow()
        self._arrow, self.columns, self._places = arrow, columns, places
        types = {
            "text": arrow.string(),
            "day": arrow.date32(),
            "moment": arrow.timestamp("us", tz="UTC"),
            "whole": arrow.int64(),
            "number": arrow.decimal128(38, PARQUET_PLACES),
            "money": arrow.decimal128(18, MONEY_PLACES),
            "flag": arrow.bool_(),
        }
        fields = [
            arrow.field(c.name, types[c.type], metadata={"says": c.says, "type": c.type})
            for c in columns
        ]
        self.schema = arrow.schema(fields, metadata={"table": kind.name, "says": kind.says})
        self._file = parquet.ParquetWriter(str(path), self.schema, compression="zstd")
        self._rows: list[Sequence[Cell]] = []

    def write(self, row: Sequence[Cell]) -> None:
        self._rows.append(row)
        if len(self._rows) >= _ROWS_A_GROUP:
            self._flush()

    def close(self) -> None:
        if self._rows:
            self._flush()
        self._file.close()

    def _flush(self) -> None:
        cells = zip(self.columns, zip(*self._rows, strict=True), self.schema, strict=True)
        arrays = [
            self._arrow.array(parquet_values(column, values, self._places), type=field.type)
            for column, values, field in cells
        ]
        self._file.write_table(self._arrow.Table.from_arrays(arrays, schema=self.schema))
        self._rows.clear()


def parquet_values(column: Column, values: Sequence[Cell], places: int) -> Sequence[object]:
    """A column as Parquet holds it: moments in UTC, money and numbers as exact decimals."""
    if column.type not in _FOR_PARQUET:
        return values
    convert = _FOR_PARQUET[column.type]
    return [None if value is None else convert(value, places) for value in values]


_FOR_PARQUET: dict[str, Callable[[Any, int], object]] = {
    "moment": lambda moment, _: moment.astimezone(UTC),
    "money": lambda minor, places: Decimal(minor).scaleb(-places),
    "number": lambda number, _: number.quantize(Decimal(1).scaleb(-PARQUET_PLACES)),
}


def load_pyarrow() -> tuple[Any, Any]:
    """The pyarrow library, or a sentence that says how to get it."""
    try:
        return import_module("pyarrow"), import_module("pyarrow.parquet")
    except ImportError:
        do = say("Install it with `pip install pyarrow`, or export as CSV")
        raise Refused(say("export as Parquet"), say("pyarrow is not installed"), do) from None


def chosen_kinds(name: str) -> list[Kind]:
    """The kind of that name, or all of them."""
    known = kinds()
    if name == "all":
        return list(known.values())
    if name not in known:
        raise NotFound(say("export '{text}'", text=name), "kind of record", name, ["all", *known])
    return [known[name]]


def export_to_stream(kind: Kind, stream: IO[str], records: Records, places: int) -> int:
    """CSV of one kind to an open stream; how many rows."""
    writer = CsvWriter(stream, kind, places)
    counts = write_rows({kind.name: writer}, records)
    writer.close()
    return counts[kind.name]


def export_to_files(
    files: dict[str, Path], records: Records, places: int, form: Format = "csv"
) -> list[Exported]:
    """Each kind in ``files`` to its file: all of them whole, or none. NotWritten when the disk
    refuses."""
    known = kinds()
    if form == "parquet":
        load_pyarrow()
    with ExitStack() as stack:
        writers: dict[str, Writer] = {}
        for name, path in files.items():
            beside = stack.enter_context(whole_file(path))
            if form == "parquet":
                writers[name] = ParquetWriter(beside, known[name], places, known[name].columns)
            else:
                stream = stack.enter_context(beside.open("w", encoding="utf-8", newline=""))
                writers[name] = CsvWriter(stream, known[name], places)
        counts = write_rows(writers, records)
        for writer in writers.values():
            writer.close()
    return [Exported(str(path), counts[name]) for name, path in files.items()]


def write_rows(writers: Mapping[str, Writer], records: Records) -> dict[str, int]:
    """The rows of records to the writers of their kinds, in one pass; how many rows of each."""
    counts = dict.fromkeys(writers, 0)
    by_source: dict[str, list[tuple[Kind, Writer]]] = {}
    for kind in (kinds()[name] for name in writers):
        by_source.setdefault(kind.source, []).append((kind, writers[kind.name]))
    for source, place, record in records:
        for kind, writer in by_source.get(source, ()):
            for row in kind.rows(place, record, writer.columns):
                writer.write(row)
                counts[kind.name] += 1
    return counts


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A file beside ``path`` to write to; it takes its place when the block ends without error."""
    beside = Path()
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        os.close(handle)
        beside = Path(name)
        yield beside
        with beside.open("rb+") as file:
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        do = say("Make room, or choose another folder")
        raise NotWritten(
            say("write {name} in {file}", name=path.name, file=path.parent), answer_of(error), do
        ) from error
    finally:
        if beside.name:
            beside.unlink(missing_ok=True)


def file_names(wanted: Sequence[Kind], output: Path, form: Format) -> dict[str, Path]:
    """Where each kind goes: a folder takes one file a kind, a file takes one kind."""
    if len(wanted) == 1 and not output.is_dir():
        return {wanted[0].name: output}
    if output.exists() and not output.is_dir():
        do = say("Name a folder; each kind becomes a file in it")
        raise BadInput(say("export all to '{text}'", text=output), say("it is a file"), do)
    output.mkdir(parents=True, exist_ok=True)
    write_whole(output / "columns.md", schema_text(wanted).encode())
    return {kind.name: output / f"{kind.name}.{form}" for kind in wanted}
