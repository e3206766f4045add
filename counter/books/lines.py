"""A line of the books: one commit as text, and the link that ties it to the line before.

A line is one JSON object, UTF-8::

    {"n":1217,"book":"2026-11-24","line":17,"entered":"2026-11-24T08:12:03-05:00","records":{…}}

``n`` counts the lines of the shop, ``line`` those of one book. The link is the SHA-256 of the link
before (as hexadecimal text) and of the exact bytes of the line. It is taken over bytes, not over
values: a changed blank is found like a changed figure, and no rule for writing JSON "canonically"
is needed. Beside the database a line stands as text, with ``,"link":"<64 hex>"}`` at its end.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from typing import Any, NamedTuple

import msgspec

from counter.decoders import decoder_of
from counter.errors import BooksError
from labels.say import NOTHING, Said, as_kept, say

ORIGIN = "0" * 64  # what the first line follows from
_LINK = b',"link":"'
_TAIL = len(_LINK) + 64 + len(b'"}')

Records = Mapping[str, Sequence[Any]]


class Misfit(Exception):
    """Why a line cannot be what was once written. Who reads adds the book and the line."""

    def __init__(self, why: Said) -> None:
        super().__init__(why)
        self.why = why


class Entry(msgspec.Struct, frozen=True):
    """One commit as read: its line in its book, when it was entered, its records by table, its
    link, the book, its number in the shop."""

    n: int
    entered: datetime
    records: Mapping[str, list[msgspec.Struct]]
    link: str
    book: str
    number: int


class Line(NamedTuple):
    """A line as it stands in the database."""

    n: int
    book: str
    line: int
    link: str
    body: bytes


class Read(msgspec.Struct):
    """What a line says of itself."""

    n: int
    book: str
    line: int
    entered: datetime
    records: dict[str, msgspec.Raw]


class _Written(msgspec.Struct):
    n: int
    book: str
    line: int
    entered: datetime
    records: Mapping[str, Sequence[Any]]


def _plain(value: object) -> object:
    # Documents that TinyDB's users hand in may be any mapping, read-only ones of ours included.
    if isinstance(value, Mapping):
        return dict(value)
    return as_kept(value)


_encoder = msgspec.json.Encoder(enc_hook=_plain)
_decode = msgspec.json.Decoder(Read).decode


def link_of(body: bytes, before: str) -> str:
    """The link of a line that follows the one with link ``before``."""
    return sha256(before.encode() + body).hexdigest()


def unproved(line: Line, before: str, first: int = 0) -> Said:
    """Why a line does not follow from the one with link ``before``; "" where it does. Without that
    link the line before is missing, or all from the ``first`` one on."""
    last = line.n - 1
    if not before and 0 < first < last:
        return say(
            "lines {first} to {last} of the shop are missing before it", first=first, last=last
        )
    if not before:
        return say("line {n} of the shop is missing before it", n=last)
    if link_of(line.body, before) != line.link:
        return say("its link does not follow from the line before and its own content")
    return NOTHING


def as_text(line: Line) -> bytes:
    """A line as it stands beside the database: its text with its link, without LF."""
    return b"".join((line.body[:-1], _LINK, line.link.encode(), b'"}'))


def from_text(text: bytes) -> Line:
    """The line that a text says it is, not yet proved. Misfit where it is none."""
    text = text.rstrip(b"\r\n")
    key, link = text[-_TAIL : -_TAIL + len(_LINK)], text[-66:-2]
    if key != _LINK or text[-2:] != b'"}' or not link.isalnum():
        raise Misfit(say("it does not end as a line of a book ends"))
    body = text[:-_TAIL] + b"}"
    read = read_line(body)
    return Line(read.n, read.book, read.line, link.decode(), body)


def read_line(body: bytes) -> Read:
    """What a line says of itself. Misfit where it is no line."""
    try:
        return _decode(body)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise Misfit(say("it is not a line of a book ({why})", why=error)) from None


def _tried(records: Records) -> Said:
    return say("write {file}", file=", ".join(records))


class Types:
    """Which record stands in which table. Without types, records are plain dictionaries.

    >>> moment = datetime.fromisoformat("2026-11-24T08:12:03-05:00")
    >>> Types().write(1, "2026-11-24", 1, moment, {"notes": [{"word": "fresh"}]}).decode()[:58]
    '{"n":1,"book":"2026-11-24","line":1,"entered":"2026-11-24T'
    """

    def __init__(self, types: Mapping[str, type[msgspec.Struct]] | None = None) -> None:
        self._kinds = types
        self._made: dict[str, msgspec.json.Decoder[Any]] = {}

    def write(self, n: int, book: str, line: int, entered: datetime, records: Records) -> bytes:
        """One commit as JSON. BooksError for what cannot be written, or was entered at no zone."""
        kept = {table: rows for table, rows in records.items() if rows}
        if not kept:
            do = say("Write at least one record")
            raise BooksError(say("write a commit"), say("it holds no record"), do)
        if entered.utcoffset() is None:
            why = say("the moment {moment} has no time zone", moment=entered)
            raise BooksError(_tried(kept), why, say("Give it a zone"))
        try:
            return _encoder.encode(_Written(n, book, line, entered, kept))
        except (TypeError, ValueError, OverflowError, msgspec.MsgspecError) as error:
            do = say("Write values that JSON can hold")
            raise BooksError(_tried(kept), Said(str(error)), do) from None

    def read(self, line: Line) -> Entry:
        """A line as the commit it is. Misfit where it is not what its place says."""
        read = read_line(line.body)
        if (read.n, read.book, read.line) != line[:3]:
            why = say("it says that it is line {n} of book {book}", n=read.line, book=read.book)
            raise Misfit(why)
        records = {name: self._table(name, raw) for name, raw in read.records.items()}
        return Entry(line.line, read.entered, records, line.link, line.book, line.n)

    def _table(self, table: str, raw: msgspec.Raw) -> list[msgspec.Struct]:
        decoder = self._made.get(table) or self._decoder(table)
        try:
            rows: list[msgspec.Struct] = decoder.decode(raw)
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
            why = say("its record does not fit table '{table}' ({why})", table=table, why=error)
            raise Misfit(why) from None
        return rows

    def _decoder(self, table: str) -> msgspec.json.Decoder[Any]:
        """What reads a table, made for its first record: for all of them it takes 5 ms."""
        kind: Any = dict[str, Any] if self._kinds is None else self._kinds.get(table)
        if kind is None:
            why = say("it writes into '{table}', a table this program does not know", table=table)
            raise Misfit(why)
        made = self._made[table] = decoder_of(list[kind])
        return made
