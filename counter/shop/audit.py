"""Whether the books say what they say: every closed day folded anew and compared with its closing,
seals, numbers that stand once, settings, and the copies read back.

A seal is the link of a closing's line: it covers the figures, and through the chain all that was
written before. It proves nothing against somebody who can write the folder, since he can make the
whole chain anew; what proves is a seal on paper, or a copy, that left the house.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date

import msgspec

from counter.books import CATALOGUE, CLOSINGS, Entry
from counter.books.check import Checked, Finding, check_books
from counter.books.engine import MEND
from counter.books.lines import Line
from counter.errors import BadInput, BooksError, CounterError, NotFound, SealedCopy
from counter.shop.closings import Closings
from counter.shop.copies import Copies
from counter.shop.desk import Desk
from counter.shop.files import Progress
from counter.trade.asking import Answers
from counter.trade.catalogue import Catalogue
from counter.trade.catalogues import timeline, with_all
from counter.trade.closing import Closing, Reopening, begin_day, close_ledger, grouped, with_words
from counter.trade.dayfigures import with_figures
from counter.trade.mendings import Mending
from counter.trade.numbers import ABOUT, Least, least_after, next_number
from counter.trade.production import Hold, Stops
from counter.trade.settings import SettingsChange
from counter.trade.tables import records_in
from labels.say import NOTHING, Said, bare, full, join, say

_MOST = 20  # days that are told one by one
_SEAL = re.compile(r"[0-9a-f]{16,64}")


class Audit:
    """The check of a shop."""

    def __init__(self, desk: Desk, closings: Closings, copies: Copies) -> None:
        self.desk = desk
        self.closings = closings
        self.copies = copies

    def check(self, progress: Progress | None = None) -> Checked:
        """Read every line of every book and every copy, and say what does not follow."""
        audit = _Audit(self.desk, self.closings)
        found = check_books(self.desk.books, progress, audit)
        wrong, known = list(found.findings), [*audit.known, *audit.unsure[:_MOST]]
        for is_wrong, said in self._beside(audit):
            wrong.append(Finding("", None, said)) if is_wrong else known.append(said)
        damage = self.damage(lambda _n, _all: None) if found.findings else NOTHING
        return msgspec.structs.replace(
            found, findings=tuple(wrong), known=tuple(known), damage=damage
        )

    def damage(self, progress: Progress) -> Said:
        """What is damaged in the books, in words; "" where all lines are whole. Nothing is held
        while ``progress`` is told, every hundred lines."""
        found = check_books(self.desk.books, progress).findings
        if not found or found[0].advised:
            return found[0].sentence if found else NOTHING
        return join(" ", (found[0].sentence, full(MEND)))

    @property
    def mending(self) -> Mending | None:
        """The last mending; None where there was none."""
        last = self.desk.books.last("mendings")
        return last if isinstance(last, Mending) else None

    @property
    def lost(self) -> int:
        """How many lines are lost for good."""
        return len(self.desk.books.select(name="lost").entries())

    @property
    def mended_last(self) -> str:
        """The link of the last mending; "" where there was none."""
        last = self.desk.books.last_entry(CATALOGUE, "mendings")
        return last.link if last else ""

    def _beside(self, audit: _Audit) -> Iterator[tuple[bool, Said]]:
        """What is said of settings and copies, and whether it is wrong."""
        if len(audit.unsure) > _MOST:
            yield False, say("There are {n} more such days.", n=len(audit.unsure) - _MOST)
        if audit.tax is not None and self.desk.settings.tax != audit.tax:
            yield False, say("The taxes in shop.toml are other than the books noted last.")
        if not self.desk.settings.backup.folder or self.desk.folder is None:
            return
        try:
            for copy in self.copies.listed():
                try:
                    self.copies.prove_copy(copy.name)
                except CounterError as error:
                    yield not isinstance(error, SealedCopy), error.said
        except BooksError as error:  # a stick that is not in is no fault of the books
            yield False, say("The copies were not read: {why}", why=error)

    # -- seals

    def check_seal(self, text: str) -> tuple[date, Said]:
        """The closed day whose seal a text is, and in one sentence what that proves. All lines up
        to it must follow. BadInput for no seal, NotFound where no closing has it."""
        seal = "".join(text.rpartition(":")[2].split()).casefold()  # of a scanned code, its end
        tried = say("compare seal {seal}", seal=text[:100])
        if not _SEAL.fullmatch(seal):
            do = say("Write its first 16 characters or more, as they stand on the closing report")
            raise BadInput(tried, say("a seal is written in 0 to 9 and a to f"), do)
        audit = _Audit(self.desk, self.closings)
        found = check_books(self.desk.books, None, audit)
        day = next((d for link, d in audit.seals.items() if link.startswith(seal)), None)
        if day is None:
            do = say("The books are not those that it was printed from, or a figure is misread")
            raise NotFound(tried, "closing with the seal", grouped(seal), (), do)
        if not found.sound:
            raise BooksError(
                tried,
                say("the books have {n} findings", n=len(found.findings)),
                say("Run `counter check`"),
            )
        if any(m.lost for m in audit.mendings):
            return day, say(
                "It is the seal of day {date}: its figures and all that was written before stand as"
                " they were when it was printed, but for what a mending names as lost.",
                date=day,
            )
        return day, say(
            "It is the seal of day {date}: its figures and all that was written before stand as"
            " they were when it was printed.",
            date=day,
        )


class _Audit:
    """Looks on while the lines of a shop go by."""

    def __init__(self, desk: Desk, closings: Closings) -> None:
        self.desk, self.closings = desk, closings
        self.known, self.mendings = list[Said](), list[Mending]()
        self.unsure = list[Said]()  # a day each
        self.seals: dict[str, date] = {}
        self.heads: dict[str, tuple[int, frozenset[str]]] = {}
        self.hurt: set[str] = set()  # books of which a line is lost
        self.last: Closing | Reopening | None = None
        self.sealed: dict[date, Closing] = {}
        self.catalogues: list[tuple[object, list[Catalogue]]] = []
        self.stops: Mapping[str, Hold] = {}
        self.tax: object = None
        self.leasts: list[Answers] = []
        self.numbers: dict[str, str] = {}

    def take(self, line: Line, entry: Entry, links: frozenset[str]) -> Iterator[Said]:
        records = entry.records
        if "lost" in records:
            self.hurt.add(line.book)
        elif line.book == CATALOGUE:
            self._take_catalogue(entry)
        elif line.book == CLOSINGS:
            for closing in records_in(Closing, [records]):
                yield from self._take_closing(closing, entry)
                self.seals |= dict.fromkeys(links, closing.day)
        elif line.book < "a":
            day = date.fromisoformat(line.book)
            yield from self._take_numbers(day, entry)
        for opened in records_in(Reopening, [records]):
            self.last = opened
            self.sealed = {d: c for d, c in self.sealed.items() if d < opened.day}
        self.heads[line.book] = line.line, links

    def _take_catalogue(self, entry: Entry) -> None:
        catalogues = records_in(Catalogue, [entry.records])
        if catalogues:
            self.catalogues.append((entry.entered, catalogues))
        for record in (r for rows in entry.records.values() for r in rows):
            if isinstance(record, Stops):
                self.stops = record.stops
            elif isinstance(record, SettingsChange):
                self.tax = record.tax or self.tax
            elif isinstance(record, Answers) and ABOUT in record.answers:
                self.leasts.append(record)
            elif isinstance(record, Mending):
                self.mendings.append(record)
                self.known.append(
                    say(
                        "Mended on {moment}: {said}",
                        moment=f"{record.at:%Y-%m-%d %H:%M}",
                        said=record.said,
                    )
                )

    def _take_numbers(self, day: date, entry: Entry) -> Iterator[Said]:
        """Nothing is written into a closed day. Numbers of sales and refunds go on one by one, but
        behind a restore or a mending."""
        if day in self.sealed:
            yield say(
                "Line {n} of book {book} was written after the day was closed.", n=entry.n, book=day
            )
        desk = self.desk
        leasts = [
            Least(),
            *(
                least_after(a.answers[ABOUT], day, desk.day_of(a.answers[ABOUT].at))
                for a in self.leasts
            ),
        ]
        for kind, table in (("sales", "sales"), ("refunds", "refunds")):
            for record in entry.records.get(table, ()):
                number = str(getattr(record, "number", ""))
                last = self.numbers.get(f"{kind} {day}", "")
                wanted = {next_number(last, getattr(least, kind)) for least in leasts}
                own = next_number(number, 0) - 1
                hurt = str(day) in self.hurt or "lost" in self.hurt
                if own not in wanted and not (hurt and own > min(wanted)):
                    yield say(
                        "{number} follows {last} in book {book}.",
                        number=number,
                        last=last or say("nothing"),
                        book=day,
                    )
                self.numbers[f"{kind} {day}"] = number

    def _take_closing(self, closing: Closing, entry: Entry) -> Iterator[Said]:
        day, before = closing.day, self.last
        line, links = self.heads.get(str(day), (0, frozenset({""})))
        as_sealed = line == closing.book_lines and closing.book_link in links
        hurt = [book for book in (str(day), CLOSINGS, CATALOGUE, "lost") if book in self.hurt]
        if not as_sealed and not {str(day), CLOSINGS} & self.hurt:
            yield say(
                "Day {date} was closed at line {n} of its book, and it ends otherwise at line "
                "{line}.",
                date=day,
                n=closing.book_lines,
                line=line,
            )
        elif (wrong := list(self._folded(closing, entry, before))) and hurt:
            self.unsure.append(
                say(
                    "Day {date} cannot be compared with its closing:"
                    " a line of book {book} is lost.",
                    date=day,
                    book=hurt[0],
                )
            )
        elif wrong:
            yield from wrong
        elif not as_sealed:
            self.unsure.append(
                say("The seal of day {date} cannot be compared since a mending.", date=day)
            )
        self.last = self.sealed[day] = closing

    def _folded(
        self, closing: Closing, entry: Entry, before: Closing | Reopening | None
    ) -> Iterator[Said]:
        """What a closing says otherwise than the book of its day does. What people typed is taken
        from the closing: what was counted, what stays in the drawer, notes, explanations."""
        desk, day = self.desk, closing.day
        try:
            # The first of all began with the usual float, whatever that is by now.
            usual, coins = closing.cash.opening or 0, self.desk.settings.cash.coins
            ledger = begin_day(day, before, usual, coins, self.stops)
            for commit in desk.books.entries(str(day))[: closing.book_lines]:
                ledger.add(commit.records)
            later = any(book < "a" and book > str(day) for book in self.heads)
            folded = close_ledger(
                ledger,
                closing.at,
                closing.by,
                closing.cash.counted,
                closing.cash.left,
                closing.notes,
                later,
            )
            zone = desk.settings.zone
            line = timeline(((e, c) for e, c in self.catalogues), zone)  # type: ignore[misc]
            sale_of = self.closings.sale_before(day)
            back = self.closings.taken_back(ledger, sale_of)
            catalogue = with_all(line, entry.entered)
            folded = with_figures(
                with_words(folded, closing.explained), ledger, catalogue, sale_of, back
            )
        except (CounterError, LookupError) as error:
            why = bare(getattr(error, "said", str(error)))
            yield say("Day {date} cannot be folded anew ({why}).", date=day, why=why)
            return
        for field in Closing.__struct_fields__:
            if field in ("book_lines", "book_link"):
                continue
            said, found = getattr(closing, field), getattr(folded, field)
            if _figures(said) != _figures(found):
                yield say(
                    "The closing of day {date} says otherwise than its book: {differs}.",
                    date=day,
                    differs=_differs(field, said, found),
                )


def _figures(value: object) -> object:
    """What a closing says, and of its texts whether something is said: a later program may word
    them otherwise, and that they are as they were written the links prove."""
    return msgspec.to_builtins(value, enc_hook=bool)


def _differs(field: str, said: object, found: object) -> Said:
    """What differs in a field of a closing, the innermost that can be named."""
    if isinstance(said, msgspec.Struct) and type(said) is type(found):
        for name in said.__struct_fields__:
            one, other = getattr(said, name), getattr(found, name)
            if _figures(one) != _figures(other):
                return _differs(f"{field}.{name}", one, other)
    if isinstance(said, tuple) and isinstance(found, tuple) and len(said) == len(found):
        for number, (one, other) in enumerate(zip(said, found, strict=True), 1):
            if _figures(one) != _figures(other):
                return _differs(f"{field} {getattr(one, 'lot', number)}", one, other)
    return say(
        "{field} is {said}, and by its book {found}",
        field=field,
        said=str(said)[:80],
        found=str(found)[:80],
    )
