"""A command that was cut off between its writing and its answer: the next one says what it wrote.

Nobody sends a command a second time by itself, as a browser does with a payment and its key: who
typed it must hear that it was booked.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from counter.cli import echo
from counter.errors import BooksError
from labels.say import Said, join, say, term

if TYPE_CHECKING:
    from counter.books import Entry
    from counter.shop import Shop


def follow(shop: Shop) -> Callable[[], None]:
    """Say what was cut off before, on standard error, and have it noted what this command writes;
    to be called when all of that has been said."""
    books = shop.desk.books
    with suppress(BooksError):  # of damage and of the disk the command itself will speak
        for program, written in books.unanswered().items():
            if not runs(program):
                echo(sentence(shop, written), err=True)
                books.answered(program)
    books.program = f"{os.getpid()} {started(os.getpid())}"

    def answered() -> None:
        with suppress(BooksError):
            if books.untold:
                books.answered(books.program)
        books.close()

    return answered


def runs(program: str) -> bool:
    """Whether a command, by its number and the moment it was started, is still at it."""
    number, _, moment = program.partition(" ")
    return bool(moment) and moment == started(int(number))


def started(number: int) -> str:
    """When the program of this number was started, in ticks since the computer was: no later one
    of that number shares it. "" where none runs, and where no ``/proc`` tells (then a command that
    is still at it is taken for one that was cut off, and told of once too often)."""
    with suppress(OSError, IndexError):
        told = Path(f"/proc/{number}/stat").read_text("utf-8", "replace")
        fields = told.rpartition(")")[2].split()  # behind the name, which may hold anything
        return fields[19] if fields[0] != "Z" else ""
    return ""


def noun_of(record: object) -> Said:
    """What a record is: "sale"; so also "tub opened", "tub ended", "drawer move", "reopening",
    "thermometer check", "settings change"."""
    return term(re.sub(r"(?<!^)(?=[A-Z])", " ", type(record).__name__).lower())


def sentence(shop: Shop, written: list[Entry]) -> Said:
    """What a command wrote before it was cut off."""
    from counter.commands.say import Words

    words, said = Words(shop), list[Said]()
    for entry in written:
        for record in (record for rows in entry.records.values() for record in rows):
            named = (getattr(record, name, "") for name in ("number", "tub", "lot", "place", "day"))
            money = getattr(record, "total", getattr(record, "back", None))
            parts = [noun_of(record), str(next(filter(None, named), ""))]
            if money is not None:
                parts.append(say("over {money}", money=words.money(money)))
            parts.append(say("at {clock}", clock=words.clock(entry.entered)))
            said.append(join(" ", filter(None, parts)))
    return say(
        "The command before this one was cut off after it booked: {records}."
        " Nobody was told. Look before you enter it again.",
        records=join(", ", said),
    )
