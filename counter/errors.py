"""Every error of the counter.

    CounterError            one sentence: what was tried, the value, what was expected, what to do
    ├── BadInput            a text that means nothing, whatever the shop holds   (exit status 2)
    ├── Refused             a rule or the state of the shop says no              (exit status 1)
    │   ├── NotFound        no such product, lot, tub or sale; near names are given
    │   ├── NotSafe         food that may not be sold or labelled: cook, cooling, date, clock, stop
    │   │   └── WhichLot    whose lot nobody knows, while some of the product may not be sold
    │   ├── NotEnoughPaid   cash or payments below the total
    │   ├── KeyTaken        another sale stands under the key that was sent
    │   ├── Asked           it can hardly be meant: a person must say so first, with a word
    │   └── DaySealed       the day is closed: corrections go into the open day
    └── BooksError          the files of the shop                                (exit status 1)
        ├── NotAShop        the folder holds no shop
        ├── BookDamaged     a line that does not follow from the line before it
        ├── DiskRefused     the disk is full or does not answer; the book is as it was
        ├── BadArchive      a backup that is not as it was written, or was never one
        │   └── SealedCopy  a backup whose passphrase was not given, or does not fit
        └── NotAppendOnly   somebody tried to change what is written

The label package has its own tree (``labels.errors``) with the same mould.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

from labels.say import NOTHING, Said, any_of, join, say, sentence, term

if TYPE_CHECKING:
    from datetime import date

    from counter.trade.asking import Question


SAY_SO = say("If it is so, say so with a word why")


class CounterError(Exception):
    """Root of the tree. ``tried``, ``why`` and ``do`` are the three parts of the sentence; ``row``
    is the entry of a list that it is about, from 0, where it is about one."""

    exit_status = 1
    row: int | None = None

    def __init__(self, tried: Said, why: Said, do: Said = NOTHING) -> None:
        self.said = sentence(tried, why, do)
        super().__init__(self.said)
        self.tried, self.why, self.do = tried, why, do


class BadInput(CounterError):
    """A text that means nothing, whatever the shop holds."""

    exit_status = 2


class Refused(CounterError):
    """A rule of the trade or the state of the shop says no. Nothing was written."""


class NotFound(Refused):
    """No such product, lot, tub or sale. ``near`` holds names that are close to it."""

    def __init__(
        self, tried: Said, kind: str, key: str, known: Iterable[str], do: Said = NOTHING
    ) -> None:
        from difflib import get_close_matches

        self.kind, self.key = kind, key
        known = list(known)
        self.near = get_close_matches(key, known, n=3, cutoff=0.6)
        if self.near:
            do = say("Did you mean {names}?", names=any_of(self.near))
        elif not do and known:
            names = ", ".join(known[:12])
            do = say("Known are {names}", names=names)
            if len(known) > 12:
                do = say("Known are {names} and more", names=names)
        super().__init__(tried, say("there is no {kind} '{text}'", kind=term(kind), text=key), do)


class NotSafe(Refused):
    """Food that may not be sold or labelled. ``lot`` names it."""

    def __init__(self, tried: Said, why: Said, do: Said = NOTHING, *, lot: str = "") -> None:
        super().__init__(tried, why, do)
        self.lot = lot


class WhichLot(NotSafe):
    """Pieces of which nobody knows the lot, while stock that may not be sold is there. ``lots`` are
    those they may be of: code, date, and why it may not be sold ("" where it may)."""

    def __init__(
        self,
        tried: Said,
        why: Said,
        do: Said,
        *,
        portion: str,
        lots: tuple[tuple[str, date, str], ...],
    ) -> None:
        super().__init__(tried, why, do, lot=next(lot for lot, _, no in lots if no))
        self.portion, self.lots = portion, lots


class NotEnoughPaid(Refused):
    """Cash or payments below the total. ``missing`` is in minor units of the currency."""

    def __init__(self, tried: Said, why: Said, do: Said = NOTHING, *, missing: int = 0) -> None:
        super().__init__(tried, why, do)
        self.missing = missing


class KeyTaken(Refused):
    """A key that something else was booked under: ``sale`` is its number."""

    def __init__(self, tried: Said, why: Said, do: Said = NOTHING, *, sale: str) -> None:
        super().__init__(tried, why, do)
        self.sale = sale


class Asked(Refused):
    """It can hardly be meant. ``questions`` are what a person must answer, with a word, before it
    is written down; sent again with the answers it is done."""

    def __init__(self, tried: Said, questions: tuple[Question, ...]) -> None:
        super().__init__(tried, join("; ", (q.text for q in questions)), SAY_SO)
        self.questions = questions


class DaySealed(Refused):
    """The day is closed: corrections go into the open day and name what they correct. ``today`` is
    the day the computer believes in, and is said: its clock may be what is wrong."""

    def __init__(self, tried: Said, why: Said, do: Said = NOTHING, *, today: date) -> None:
        super().__init__(
            tried,
            say(
                "{why}, and this computer believes it is {weekday} {date}",
                why=why,
                weekday=term(f"{today:%A}"),
                date=today,
            ),
            do,
        )


class BooksError(CounterError):
    """The files of the shop."""


class NotAShop(BooksError):
    """The folder holds no shop."""


class BookDamaged(BooksError):
    """A line that does not follow from the line before it. ``book`` and ``line`` name it."""

    def __init__(self, tried: Said, why: Said, do: Said = NOTHING, *, book: str, line: int) -> None:
        super().__init__(tried, why, do)
        self.book, self.line = book, line


class DiskRefused(BooksError):
    """The disk is full or does not answer. The book is as it was before."""


class BadArchive(BooksError):
    """A backup that is not as it was written, or was never one. Nothing was restored."""


class SealedCopy(BadArchive):
    """A backup whose passphrase was not given, or does not fit. Nothing was restored."""


class NotAppendOnly(BooksError):
    """Somebody tried to change what is written. A correction is a new record."""
