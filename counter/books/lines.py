"""The line every book is made of, and the link that ties it to the line before.

A line is one JSON object, UTF-8, ended by LF::

    {"n":17,"entered":"2026-11-24T08:12:03.123456-05:00","records":{...},"link":"<64 hex>"}

``link`` is the SHA-256 of the link before (as hexadecimal text) and of the exact bytes that stand
before ``,"link":"``. It is taken over bytes, not over values: a changed blank is found like a
changed figure, and no rule for writing JSON "canonically" is needed. Line 0 is the header; it
names the book and, in a day book, the last line of the book before it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from hashlib import sha256
from typing import Any, NamedTuple

import msgspec

from counter.errors import BooksError

ORIGIN = "0" * 64  # what line 0 follows from
_KEY = b',"link":"'
_TAIL = len(_KEY) + 64 + len(b'"}')

Records = Mapping[str, Sequence[Any]]


class Misfit(Exception):
    """Why a line cannot be what was once written. The journal adds the book and the line."""


class After(msgspec.Struct, frozen=True):
    """The last line of an earlier book, as it stood when the new book was begun."""

    book: str
    n: int
    link: str


class Header(msgspec.Struct, frozen=True, omit_defaults=True):
    """Line 0 of a book."""

    n: int
    book: str
    after: After | None = None


class Entry(NamedTuple):
    """One commit as read: its line number, when it was entered, its records by table."""

    n: int
    entered: datetime
    records: Mapping[str, list[msgspec.Struct]]


class _Written(msgspec.Struct):
    n: int
    entered: datetime
    records: dict[str, Sequence[Any]]


class _Read(msgspec.Struct):
    n: int
    entered: datetime
    records: dict[str, msgspec.Raw]


class _Numbered(msgspec.Struct):
    n: int


class _Dated(msgspec.Struct):
    day: date


class _DatedLine(msgspec.Struct):
    records: dict[str, list[_Dated]]


def _plain(value: object) -> object:
    # Documents that TinyDB's users hand in may be any mapping, read-only ones of ours included.
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError(f"a {type(value).__name__} cannot be written as JSON")


_encoder = msgspec.json.Encoder(enc_hook=_plain)
_decode_line = msgspec.json.Decoder(_Read).decode
_decode_header = msgspec.json.Decoder(Header).decode
_decode_number = msgspec.json.Decoder(_Numbered).decode
_decode_dated = msgspec.json.Decoder(_DatedLine).decode


def seal_line(written: bytes, before: str) -> tuple[bytes, str]:
    """A JSON object and the link before it -> the finished line with its LF, and its own link."""
    body = written[:-1]  # without the closing brace: the link becomes the last member
    link = sha256(before.encode() + body).hexdigest()
    return b"".join((body, _KEY, link.encode(), b'"}\n')), link


def stated_link(line: bytes) -> str:
    """The link a line (without LF) carries. Misfit where it carries none."""
    key, link = line[-_TAIL : -_TAIL + len(_KEY)], line[-66:-2]
    if key != _KEY or line[-2:] != b'"}' or not link.isalnum():
        raise Misfit("it does not end as a line of a book ends")
    return link.decode("ascii", "replace")


def follow_link(line: bytes, before: str) -> str:
    """The link of a line (without LF), once it is proved to follow from the line before."""
    link = stated_link(line)
    if sha256(before.encode() + line[:-_TAIL]).hexdigest() != link:
        raise Misfit("its link does not follow from the line before and its own content")
    return link


def number_and_link(line: bytes) -> tuple[int, str]:
    """What a line (without LF) says of itself, unproved: where reading begins in the middle."""
    link = stated_link(line)
    try:
        return _decode_number(line).n, link
    except (msgspec.MsgspecError, UnicodeDecodeError) as error:
        raise Misfit(f"it is not a line of a book ({error})") from None


def header_line(book: str, after: After | None) -> tuple[bytes, str]:
    """Line 0 of a new book, and its link."""
    return seal_line(_encoder.encode(Header(0, book, after)), ORIGIN)


def read_header(line: bytes, book: str) -> Header:
    """Line 0 (without LF) of the named book."""
    try:
        header = _decode_header(line)
    except (msgspec.MsgspecError, UnicodeDecodeError) as error:
        raise Misfit(f"it is not the first line of a book ({error})") from None
    if header.n != 0 or header.book != book:
        raise Misfit(f"it is line {header.n} of book '{header.book}'")
    return header


def day_of_line(line: bytes) -> date | None:
    """The trading day a line of the closings speaks of, read without its other contents."""
    try:
        records = _decode_dated(line).records
    except (msgspec.MsgspecError, UnicodeDecodeError):
        return None
    return next((record.day for table in records.values() for record in table), None)


class Types:
    """Which record stands in which table. Without types, records are plain dictionaries.

    >>> book = Types({"dates": _Dated})
    >>> moment = datetime.fromisoformat("2026-11-24T08:12:03-05:00")
    >>> book.write(1, moment, {"dates": [_Dated(date(2026, 11, 24))]})
    b'{"n":1,"entered":"2026-11-24T08:12:03-05:00","records":{"dates":[{"day":"2026-11-24"}]}}'
    """

    def __init__(self, types: Mapping[str, type[msgspec.Struct]] | None = None) -> None:
        self._any: msgspec.json.Decoder[Any] | None = None
        if types is None:
            self._any = msgspec.json.Decoder(list[dict[str, Any]])
        self._tables: dict[str, msgspec.json.Decoder[Any]] = {
            name: msgspec.json.Decoder(list[kind])  # type: ignore[valid-type] # made at run time
            for name, kind in (types or {}).items()
        }

    def write(self, n: int, entered: datetime, records: Records) -> bytes:
        """One commit as JSON. BooksError for what cannot be written, or was entered at no zone."""
        kept = {table: rows for table, rows in records.items() if rows}
        tried = f"write {', '.join(kept) or 'a commit'}"
        if not kept:
            raise BooksError(tried, "it holds no record", "Write at least one record")
        if entered.utcoffset() is None:
            raise BooksError(tried, f"the moment {entered} has no time zone", "Give it a zone")
        try:
            return _encoder.encode(_Written(n, entered, kept))
        except (TypeError, ValueError, OverflowError, msgspec.MsgspecError) as error:
            raise BooksError(tried, str(error), "Write values that JSON can hold") from None

    def read(self, line: bytes, n: int) -> Entry:
        """A line (LF or not) as the commit number ``n`` it should be."""
        try:
            read = _decode_line(line)
        except (msgspec.MsgspecError, UnicodeDecodeError) as error:
            raise Misfit(f"it is not a line of a book ({error})") from None
        if read.n != n:
            raise Misfit(f"it carries number {read.n}")
        return Entry(n, read.entered, {t: self._table(t, raw) for t, raw in read.records.items()})

    def _table(self, table: str, raw: msgspec.Raw) -> list[msgspec.Struct]:
        decoder = self._any or self._tables.get(table)
        if decoder is None:
            raise Misfit(f"it writes into '{table}', a table this program does not know")
        try:
            rows: list[msgspec.Struct] = decoder.decode(raw)
        except (msgspec.MsgspecError, UnicodeDecodeError) as error:
            raise Misfit(f"its record does not fit table '{table}' ({error})") from None
        return rows
