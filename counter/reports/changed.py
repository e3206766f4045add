"""Who changed what: lines of settings, catalogue, PINs and standing answers, from the commits of
the catalogue book. Never a PIN, nor its hash."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

import msgspec

from counter.trade.asking import Answer, Answers
from counter.trade.catalogue import Catalogue
from counter.trade.catalogue_changes import changes
from counter.trade.people import Pins
from counter.trade.settings import SettingsChange


class Changed(msgspec.Struct, frozen=True, kw_only=True):
    """One line of a change; see the table ``changes``."""

    at: datetime
    by: str
    about: str
    what: str
    kind: str = ""
    thing: str = ""
    old: str = ""
    new: str = ""


def changed(
    commits: Iterable[Mapping[str, Sequence[Any]]],
    held: Sequence[tuple[datetime, Catalogue]],
    places: int,
) -> list[Changed]:
    """Every line in order. ``held`` are the catalogues with the moment each came to hold."""
    found = [*_of_catalogues(held, places), *_of_records(commits)]
    return sorted(found, key=lambda line: line.at.timestamp())


def _of_catalogues(held: Sequence[tuple[datetime, Catalogue]], places: int) -> Iterator[Changed]:
    before = [Catalogue(), *(catalogue for _, catalogue in held)]
    for old, (came, new) in zip(before, held, strict=False):
        for line in changes(old, new, places):
            yield Changed(
                at=came,
                by=new.by,
                about="catalogue",
                kind=line.kind,
                thing=line.key,
                what=line.what,
                old=line.old,
                new=line.new,
            )


def _of_records(commits: Iterable[Mapping[str, Sequence[Any]]]) -> Iterator[Changed]:
    last: dict[str, object] = {}  # a commit takes along what held before it
    for record in (r for commit in commits for rows in commit.values() for r in rows):
        before = last.get(type(record).__name__)
        if record == before:
            continue
        last[type(record).__name__] = record
        if isinstance(record, SettingsChange):
            for line in record.lines:
                yield Changed(at=record.at, by=record.by, about="settings", what=line)
        elif isinstance(record, Pins):
            old = before.pins if isinstance(before, Pins) else {}
            yield from _of_pins(old, record)
        elif isinstance(record, Answers):
            known = before.answers if isinstance(before, Answers) else {}
            for answer in (a for key, a in record.answers.items() if known.get(key) != a):
                yield _of_answer(answer)
        elif isinstance(record, Answer):
            yield _of_answer(record)


def _of_answer(answer: Answer) -> Changed:
    return Changed(
        at=answer.at,
        by=answer.by,
        about="answer",
        thing=answer.about,
        what=answer.asked,
        new=answer.words,
    )


def _of_pins(old: Mapping[str, str], new: Pins) -> Iterator[Changed]:
    for person in dict.fromkeys((*old, *new.pins)):
        if old.get(person) != new.pins.get(person):
            was, now = ("set" if person in pins else "" for pins in (old, new.pins))
            yield Changed(
                at=new.at,
                by=new.by,
                about="pin",
                kind="person",
                thing=person,
                what="PIN",
                old=was,
                new="another" if was and now else now,
            )
