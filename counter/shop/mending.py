"""A damaged shop brought back: all whole lines, and what is lost named in its place.

What an open day cannot be folded without (a lot of which pieces were sold, a tub) is made up of
what is known of it, and is not for sale: silence is never safe.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

from counter.books import CATALOGUE, CLOSINGS, Books
from counter.books.check import check_books
from counter.books.engine import FILE, LAST, Engine
from counter.books.lines import ORIGIN, Line, Misfit, Records, Types, link_of
from counter.books.mend import Kept, alone, bring_back, build, places_of, put_in_place, set_aside
from counter.errors import BookDamaged, BooksError
from counter.shop.desk import Desk, settings_in
from counter.shop.filling import kept_logs, newest_copy, own_key, read_copy, set_aside_so_far
from counter.shop.sealing import Seal
from counter.shop.shop import Shop
from counter.shop.sticks import MARK
from counter.shop.tables import found_by
from counter.trade.catalogue import Catalogue
from counter.trade.closing import Closing, Reopening
from counter.trade.dates import DateMark
from counter.trade.ledger import Ledger
from counter.trade.mendings import Lost, Mending
from counter.trade.numbers import Least
from counter.trade.production import LOT, Batch, Hold, Stops, lot_day
from counter.trade.settings import Settings
from counter.trade.tables import TABLES
from counter.trade.tubs import TubOpened
from labels.say import Said, say

LOST = say("its record in the books is lost")
_NUMBER = re.compile(r"(\d{4}-\d\d-\d\d)/(R?)(\d+)|(\d{5}-\d{2})")
_TRIED = say("mend the shop")
_COPY = say("Name a copy with --copy, or put one back with `counter restore`")
WHOLE = "whole.sqlite"  # the new books as one file
_MOST = 100  # lost lines that are told one by one


def mend_shop(
    folder: Path,
    by: str = "",
    copy: Path | Literal[False] | None = None,
    clock: Callable[[], datetime] | None = None,
    passphrase: str = "",
) -> Mending | None:
    """Mend the books in a folder; None where they are whole. What is missing is taken from
    ``copy``, or from the newest one in the folder that shop.toml names, where it has it; False:
    from none. A sealed one opens with ``passphrase``, or with the shop's own key.

    Raises BooksError where no line can be read, or another program has the books open, and
    SealedCopy for a copy that does not open; then all is as it was.
    """
    settings = settings_in(folder)
    now = clock or (lambda: datetime.now(settings.zone))
    if _is_whole(folder):
        return None
    made = folder / ".mended"
    with alone(folder) as file:
        at = now().astimezone(settings.zone)
        aside = folder / f"{FILE}.damaged-{at:%Y%m%d-%H%M%S}"
        last = Engine(folder).witnessed()
        shutil.rmtree(made, ignore_errors=True)
        made.mkdir(0o700)
        try:
            try:
                set_aside(file, aside)
                own, others = set_aside_so_far(folder, aside, last[0])
                lock = Seal(passphrase=passphrase) if passphrase else own_key(folder)
                if copy is None:
                    copy = newest_copy(settings, folder, own, lock)
                if copy:
                    read_copy(copy, others, lock)
                mended = _Mended(settings, at, by[:60], own, others, last)
                record = mended.write(made, kept=aside.name, copy=copy.name if copy else "")
            except BaseException:
                for part in folder.glob(f"{aside.name}*"):
                    part.unlink()  # the file itself is as it was
                raise
            put_in_place(made / WHOLE, file, folder)
            for log in kept_logs(folder):
                log.rename(f"{aside}-{log.name.rpartition('damaged-')[2]}")
            (folder / LAST).write_bytes((made / LAST).read_bytes())
        finally:
            shutil.rmtree(made, ignore_errors=True)
    return record


def _is_whole(folder: Path) -> bool:
    if not (folder / FILE).exists() and not Books.are_of_old(folder):
        return False
    books = Books.open(folder, TABLES, found_by)
    try:
        with suppress(BookDamaged):  # but what a newer program wrote is no damage
            books.engine.connection()
        return check_books(books).sound
    finally:
        books.close()


class _Mended:
    """The lines as they will stand: what was brought back, and what stands where one is lost."""

    def __init__(
        self,
        settings: Settings,
        at: datetime,
        by: str,
        own: Kept,
        others: Kept,
        last: tuple[int, str],
    ) -> None:
        self.settings, self.at, self.by, self.types = settings, at, by, Types(TABLES)
        self.lines: dict[int, Line] = {}
        self.records: dict[int, dict[str, Any]] = {}
        self.entered: dict[int, datetime] = {}
        self.lost, self.unproved, self.filled = list[int](), list[int](), list[int]()
        for n, brought in bring_back(own, others, last):
            if brought.line is None or not self._taken_in(brought.line):
                self.lost.append(n)
                continue
            if not brought.proved:
                self.unproved.append(n)
            if brought.copied:
                self.filled.append(n)
        if not self.lines:
            raise BooksError(_TRIED, say("no line of its books can be read"), _COPY)
        self.names = {n: tuple(sorted(own.names.get(n, ()))) for n in self.lost}
        places = places_of(self.lost, self.lines, own)
        places |= {n: (line.book, line.line) for n, line in self.lines.items()}
        self.places = dict(sorted(places.items()))
        self.made_up: dict[str, Batch | TubOpened] = {}
        self._say_what_is_lost()
        self.mark = self._mark(own.links, others.links)

    def _taken_in(self, line: Line) -> bool:
        try:
            entry = self.types.read(line)
        except Misfit:
            return False
        self.lines[line.n], self.records[line.n] = line, dict(entry.records)
        self.entered[line.n] = entry.entered
        return True

    def _say_what_is_lost(self) -> None:
        until: dict[int, datetime | None] = {}
        since: datetime | None = self.at
        for n in reversed(self.places):
            since = until[n] = self.entered.get(n, since)
        since = None
        for n in self.places:
            since = self.entered.get(n, since)
            if n not in self.lines:
                behind = self.lines[n + 1].link if n + 1 in self.lines else ""
                lost = Lost(
                    at=self.at, since=since, until=until[n], names=self.names[n], behind=behind
                )
                self.records[n] = {"lost": [lost]}

    def _mark(self, *kept: dict[int, set[str]]) -> str:
        """What tells this shop from others, where its first line is lost and its link is not."""
        before = [m.mark for rows in self.records.values() for m in rows.get("mendings", ())]
        first = next((n for n in self.lost if self.places[n] == (CATALOGUE, 1)), 0)
        links = [link for links in kept for link in links.get(first, ())]
        return "".join(before[-1:]) or "".join(links[:1])[:MARK]

    # -- what the shop goes on from

    def write(self, folder: Path, kept: str, copy: str) -> Mending:
        """Write the books anew into a folder, and what became of them; prove them."""
        last = self._reopen()
        sealed = last.sealed if isinstance(last, Reopening) else last.day if last else None
        days = self._days()
        self.sealed = str(sealed or "")
        for day in (d for d in days if d > self.sealed):
            self._fold(date.fromisoformat(day), last)
        build(folder, self._all(), TABLES, found_by)
        books = Books.open(folder, TABLES, found_by)
        record = Mending(
            at=self.at,
            by=self.by,
            kept=kept,
            lines=len(self.lines),
            lost=tuple(self.lost),
            unproved=tuple(self.unproved),
            filled=tuple(self.filled),
            made_up=tuple(self.made_up),
            copy=copy if self.filled else "",
            mark=self.mark,
            told=tuple(self._told()),
            least={d: least for d in days if (least := self._least(d)) != Least()},
        )
        shop = Shop(Desk(books, self.settings, lambda: self.at))
        shop.desk.catalogues.keep({"mendings": [record], **self._stops()})
        checked = check_books(books)
        books.engine.copy(folder / WHOLE)  # closing may leave the end in the log, and says nothing
        books.close()
        if not checked.sound:
            raise BooksError(_TRIED, checked.findings[0].sentence, _COPY)
        return record

    def _all(self) -> Iterator[Line]:
        """Each line under its new link."""
        before = ORIGIN
        for n, (book, at) in self.places.items():
            body = (
                self.lines[n].body
                if n in self.lines
                else self.types.write(n, book, at, self.at, self.records[n])
            )
            before = link_of(body, before)
            yield Line(n, book, at, before, body)

    def _told(self) -> Iterator[Said]:
        """What is known of each lost line."""
        for n in self.lost[:_MOST]:
            book, line = self.places[n]
            lost: Lost = self.records[n]["lost"][0]
            until = f"{lost.until:%Y-%m-%d %H:%M}"
            when = say("before {moment}", moment=until)
            if lost.since:
                since = f"{lost.since:%Y-%m-%d %H:%M}"
                when = say("{since} to {until}", since=since, until=until)
            if lost.names:
                when = say("{when}, of {names}", when=when, names=", ".join(lost.names[:8]))
            yield say(
                "Line {line} of book {book} (line {n} of the shop), {when}.",
                line=line,
                book=book,
                n=n,
                when=when,
            )
        hurt = {self.places[n][0] for n in self.lost}
        for records in self.records.values():
            for closing in records.get("closings", ()):
                if str(closing.day) in hurt:
                    yield say(
                        "Day {date} is closed, with {n} sales in all.",
                        date=closing.day,
                        n=closing.sales,
                    )
        for name in self.made_up:
            yield say(
                "{name} is made up of what is known, and is not for sale: {why}.",
                name=name,
                why=LOST,
            )
        if any(self.places[n][0] == CATALOGUE for n in self.lost):
            yield say(
                "Look at the catalogue, the people and their PINs: a change of them may be lost."
            )

    def _days(self) -> list[str]:
        return sorted({book for book, _ in self.places.values() if book[:1].isdigit()})

    def _of(self, book: str) -> list[int]:
        return [n for n, place in self.places.items() if place[0] == book]

    def _reopen(self) -> Closing | Reopening | None:
        """What the closings say last. Where one is lost, its day is open again."""
        last: Closing | Reopening | None = None
        held: dict[date, Closing] = {}
        for n in self._of(CLOSINGS):
            if n in self.lost:
                named = (d.removeprefix("closed ") for d in self.names[n] if d[:7] == "closed ")
                first = next(iter(self._days()), str(self.at.date()))
                after = max(held) + timedelta(days=1) if held else date.fromisoformat(first)
                day = next(map(date.fromisoformat, named), after)
                base = held[max(d for d in held if d < day)] if any(d < day for d in held) else None
                self.records[n]["reopenings"] = [
                    Reopening(
                        day=day,
                        why=LOST,
                        at=self.at,
                        carried=base.carried if base else (),
                        tubs=base.tubs if base else (),
                        cash=base.cash.left if base else self.settings.cash.float,
                        by=self.by,
                        sealed=base.day if base else day - timedelta(days=1),
                        places=base.places if base else (),
                    )
                ]
            for record in (r for rows in self.records[n].values() for r in rows):
                if isinstance(record, Closing):
                    last = held[record.day] = record
                elif isinstance(record, Reopening):
                    last = record
                    held = {d: c for d, c in held.items() if d < record.day}
        return last

    def _stops(self) -> Records:
        """Stops and releases as they were really written, whichever of both places was hit."""
        stops: dict[str, Hold] = {}
        kept: Mapping[str, Hold] = {}
        for n in sorted(self.records):
            for record in self.records[n].get("stops", ()):
                stops = dict(kept := record.stops)
            stops |= {hold.lot: hold for hold in self.records[n].get("holds", ())}
        self.held = stops
        return {} if stops == kept else {"stops": [Stops(stops=stops, at=self.at, by=self.by)]}

    def _least(self, day: str) -> Least:
        """Behind which numbers a day goes on: a lost line may have given the next one."""
        found = {"": 0, "R": 0, "lot": 0}
        code = f"{date.fromisoformat(day):%y%j}-"
        for n in self._of(day):
            said = " ".join(self.names[n]) if n in self.lost else self._numbers(n)
            if n in self.lost:
                found = {kind: number + 1 for kind, number in found.items()}
            for of, kind, number, lot in _NUMBER.findall(said):
                if of == day:
                    found[kind] = max(found[kind] if n in self.lost else 0, int(number))
                elif lot.startswith(code):
                    found["lot"] = max(found["lot"], int(lot[-2:]))
        if not any(n in self.lost for n in self._of(day)):
            return Least()
        return Least(min(found["lot"], 98), found[""], found["R"])

    def _numbers(self, n: int) -> str:
        records = self.records[n]
        numbered = (*records.get("sales", ()), *records.get("refunds", ()))
        return " ".join(
            [*(r.number for r in numbered), *(b.lot for b in records.get("batches", ()))]
        )

    # -- what an open day cannot be folded without

    def _fold(self, day: date, last: Closing | Reopening | None) -> None:
        """Fold the open days up to one, and make up what is missing in it."""
        for _ in range(1000):
            try:
                self._ledger(day, last)
                return
            except KeyError as error:
                name = str(error.args[0])
                if name in self.made_up or not self._make_up(name, day):
                    why = say(
                        "{name} is missing on {date}, and nothing is known of it",
                        name=name,
                        date=day,
                    )
                    raise BooksError(_TRIED, why, _COPY) from None

    def _ledger(self, day: date, last: Closing | Reopening | None) -> None:
        books = Books.memory(TABLES, found_by)
        shop = Shop(Desk(books, self.settings, lambda: self.at))
        if last is not None:
            kind = "reopenings" if isinstance(last, Reopening) else "closings"
            books.commit(CLOSINGS, {kind: [last]}, self.at)
        stops = self._stops().get("stops") or [Stops(stops=self.held, at=self.at)]
        books.commit(CATALOGUE, {"stops": stops}, self.at)
        for n, (book, _) in self.places.items():
            if book[:1].isdigit() and self.sealed < book <= str(day):
                books.commit(book, self.records[n], self.at)
        ledger: Ledger = shop.desk.ledger(day)
        shop.evening.closing_preview(day=ledger.day)

    def _make_up(self, name: str, day: date) -> bool:
        """Put what is known of a lot or a tub where a lost line of an open day stood."""
        n = self._line_for(name, day)
        if n is None:
            return False
        records = self.records[n]
        if LOT.fullmatch(name) is None:
            told = [one for m in self._of(str(day)) for one in self._draws(m)]
            lots = [one.lot for one in told if one.tub == name]
            if not lots:
                return False
            tub = TubOpened(
                tub=name, lot=lots[0], mode="time", level=1, at=self.entered_at(n), by=self.by
            )
            self.made_up[name] = tub
            records.setdefault("tubs", []).append(tub)
            return True
        product = self._product(name)
        known = self._catalogue().products.get(product)
        made_on = lot_day(name) or day
        batch = Batch(
            lot=name,
            product=product,
            unit=known.unit if known else "piece",
            made=0,
            at=self.entered_at(n),
            mark=DateMark("use-by", made_on, made_on, LOST),
            raw=LOST,
            chilled=False,
            by=self.by,
            notes=LOST,
        )
        self.made_up[name] = batch
        records.setdefault("batches", []).append(batch)
        return True

    def _line_for(self, name: str, day: date) -> int | None:
        """The lost line of an open day in whose place something made up is to stand."""
        made_on = str(lot_day(name) or day)
        for n in self.lost:
            if self.places[n][0] in {made_on, str(day)} and self.places[n][0] > self.sealed:
                return n
        for n in self.lost:
            ours = self._of(made_on)
            if self.places[n][0] == "lost" and all(m < n for m in ours):
                self.places[n] = made_on, len(ours) + 1
                return n
        return None

    def entered_at(self, n: int) -> datetime:
        lost = self.records[n]["lost"][0]
        moment: datetime = lost.since or lost.until or self.at
        return moment

    def _draws(self, n: int) -> Iterator[Any]:
        records = self.records[n]
        for one in (*records.get("sales", ()), *records.get("refunds", ())):
            for line in one.lines:
                yield from line.draws
        yield from records.get("waste", ())

    def _product(self, lot: str) -> str:
        for records in self.records.values():
            for line in (line for sale in records.get("sales", ()) for line in sale.lines):
                if any(draw.lot == lot for draw in line.draws):
                    return str(line.product)
        return next(iter(self._catalogue().products), "")

    def _catalogue(self) -> Catalogue:
        found = [c for r in self.records.values() for c in r.get("catalogues", ())]
        return found[-1] if found else Catalogue()
