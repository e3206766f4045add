"""What the owner does: the drawer, counts, the closing, and looking back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from datetime import date, datetime, timedelta

import msgspec

from counter.books import CLOSINGS
from counter.errors import BadInput, CounterError, DaySealed, Refused
from counter.shop.closings import Closings
from counter.shop.desk import Desk, Entry
from counter.shop.reports import Reports
from counter.shop.tubs import empty_tub
from counter.trade import doubts
from counter.trade.asking import Question
from counter.trade.closing import (
    Closing,
    Reopening,
    close_ledger,
    out_of_tubs,
    scooping_losses,
    with_words,
)
from counter.trade.counting import Counting, to_count
from counter.trade.drawer import DrawerMove, Move, worth
from counter.trade.ledger import Count, Ledger
from counter.trade.money import said_money
from counter.trade.production import must_have_reason
from labels.errors import LabelError, answer_of
from labels.say import NOTHING, Said, at_terminal, full, option, say, term


class Evening:
    """Drawer, counts, closing, tracing."""

    report_trouble = NOTHING
    """Why the report of the last closing was not kept, or ""; the day is closed all the same."""

    def __init__(self, desk: Desk, closings: Closings, reports: Reports) -> None:
        self.desk = desk
        self.closings = closings
        self.reports = reports

    def move_cash(
        self,
        kind: Move,
        amount: int,
        why: str = "",
        coins: dict[str, int] | None = None,
        at: datetime | None = None,
        by: str = "",
    ) -> DrawerMove:
        """Say what the drawer starts with, or put money in or take it out.

        Once cash has gone in or out, another start needs a reason: it would hide what is missing.
        """
        coins = coins or {}
        tried = say(
            "book {money} {kind} of the drawer",
            money=said_money(amount, self.desk.settings.places),
            kind=term(kind),
        )
        if coins and worth(coins) != amount:
            counted = said_money(worth(coins), self.desk.settings.places)
            raise BadInput(tried, say("the coins make {money}", money=counted), say("Count again"))
        if kind != "float":
            must_have_reason(tried, why)
        if kind != "float" and amount == 0:
            raise BadInput(tried, say("nothing would move"), say("Say how much"))
        if amount < 0:
            raise BadInput(
                tried, say("it is below zero"), say("Write how much, and whether in or out")
            )
        with self.desk.writing(at, by) as entry:
            if kind == "float" and entry.ledger.drawer.touched and not why.strip():
                do = say("Say why it starts with another amount{how}", how=option("--because"))
                raise BadInput(tried, say("cash has gone in or out today already"), do)
            if kind == "out" and amount > entry.ledger.drawer.expected:
                holding = said_money(entry.ledger.drawer.expected, self.desk.settings.places)
                raise Refused(
                    tried,
                    say("the drawer should hold only {money}", money=holding),
                    say("Check the amount"),
                )
            usual, places = self.desk.settings.cash.float, self.desk.settings.places
            entry.ask(*doubts.of_move(kind, amount, usual=usual, places=places, tried=tried))
            return entry.add(
                DrawerMove(
                    kind=kind,
                    amount=amount,
                    at=entry.at,
                    why=Said(why.strip()[:200]),
                    coins=coins,
                    by=entry.by,
                )
            )

    def count(self, lot: str, amount: int, at: datetime | None = None, by: str = "") -> Count:
        """Write down what somebody counted of a lot; the closing compares it with the log."""
        return self.count_lots([(lot, amount)], at, by)[0]

    def count_lots(
        self, counts: Sequence[tuple[str, int]], at: datetime | None = None, by: str = ""
    ) -> list[Count]:
        """Write down counts of several lots, all of them or none."""
        for lot, amount in counts:
            tried = say("count lot {lot}", lot=lot)
            if sum(one == lot for one, _ in counts) > 1:
                do = say("Write it once, with all that is left of it")
                raise BadInput(tried, say("it is given twice"), do)
            if not 0 <= amount <= 10_000_000:
                do = say("Count what is left, 0 or more")
                raise BadInput(tried, say("{amount} is no count", amount=amount), do)
        with self.desk.writing(at, by) as entry:
            records = []
            for lot, amount in counts:
                tried = say("count lot {lot}", lot=lot)
                entry.ask(*doubts.of_count(entry.ledger.row(lot, tried), amount, tried))
                records.append(Count(lot=lot, amount=amount, at=entry.at, by=entry.by))
                entry.add(records[-1])
        return records

    def closing_preview(
        self,
        cash: int | None = None,
        leave: int | None = None,
        day: date | None = None,
        coins: dict[str, int] | None = None,
    ) -> Closing:
        """The closing as it would be now, with the tubs and scooping losses it would book.

        Nothing is written.
        """
        ledger = self.desk.ledger(day)
        cash = self._counted(say("close day {date}", date=ledger.day), cash, coins)
        return self._would_close(ledger, cash, leave)

    def _would_close(self, ledger: Ledger, cash: int | None, leave: int | None) -> Closing:
        """The closing of a ledger, which stays as it is."""
        ledger = deepcopy(ledger)
        entry = Entry(ledger, self.desk.now(), self.desk.now(), "")
        self._end_tubs(entry)
        ledger.add(entry.records)
        ledger.add(self._scooping(ledger, entry).records)
        later = bool(self.desk.books.days(ledger.day + timedelta(days=1)))
        closing = close_ledger(
            ledger, self.desk.now(), "", cash, self.closings.stays(leave), "", later
        )
        return self.closings.with_figures(closing, ledger)

    def asked_at_closing(
        self, closing: Closing, explained: Mapping[str, str] | None = None
    ) -> list[Question]:
        """What :meth:`close_day` asks, for a closing as it would be."""
        return doubts.of_closing(closing, explained or {}, self.desk.settings.places)

    def to_count(self, day: date | None = None) -> list[Counting]:
        """The lots of an open day, and how what was counted compares with the log."""
        return to_count(self.desk.ledger(day), list(self.desk.catalogue.products))

    def closing_line(self, day: date) -> int:
        """How many lines a day's book has: what a preview was made from."""
        return self.desk.books.head(str(day))[0]

    def end_of(self, day: date) -> datetime | None:
        """When something of an open day is noted: None (now) for today, else its last minute."""
        if day == self.desk.today():
            return None
        start = self.desk.settings.shop.day_starts
        night = datetime.combine(day + timedelta(days=1), start, self.desk.settings.zone)
        return night - timedelta(minutes=1)

    def close_day(
        self,
        cash: int | None = None,
        leave: int | None = None,
        day: date | None = None,
        coins: dict[str, int] | None = None,
        notes: str = "",
        at: datetime | None = None,
        by: str = "",
        explained: Mapping[str, str] | None = None,
        seen: int | None = None,
    ) -> Closing:
        """Close a day: book scooping losses and tubs past their time, compare, carry, seal.

        ``explained`` says what explains a difference, by lot, or by ``cash`` for the drawer; what
        nobody explained of cash, counts and cooling is asked (:func:`.doubts.of_closing`).
        ``seen`` is the :meth:`closing_line` of a preview: refused when the book has grown since.

        ``cash`` is what was counted, ``leave`` what stays in the drawer: by default the float of
        ``shop.toml``, so the rest is to be taken out. ``day`` is by default that of ``at``.
        """
        now = self.desk.now()
        moment = self.desk.check_moment(at, now)
        day = day or self.desk.day_of(moment)
        tried = say("close day {date}", date=day)
        cash = self._counted(tried, cash, coins)
        if leave is not None and leave < 0:
            raise BadInput(
                tried, say("less than nothing cannot stay"), say("Say how much stays, 0 or more")
            )
        with self.desk.books.exclusive():
            self._may_close(day, tried)
            ledger = self.desk.ledger(day)
            if seen is not None and seen != self.closing_line(day):
                raise Refused(
                    tried, say("something was written down meanwhile"), say("Look at it again")
                )
            words = self._explained(explained or {}, ledger, tried)
            entry = Entry(ledger, moment, now, by[:60])
            asked = self.asked_at_closing(self._would_close(ledger, cash, leave), words)
            for answer in self.desk.questions.answered(asked, entry.by):
                entry.add(answer)
            ledger = self._book_ends(entry)
            line, link = self.desk.books.head(str(day))
            stays = self.closings.stays(leave)
            closing = msgspec.structs.replace(
                close_ledger(
                    ledger,
                    entry.at,
                    entry.by,
                    cash,
                    stays,
                    notes[:1000],
                    later=bool(self.desk.books.days(day + timedelta(days=1))),
                ),
                book_lines=line,
                book_link=link,
            )
            closing = self.closings.with_figures(with_words(closing, words), ledger)
            self.desk.books.commit(CLOSINGS, {"closings": [closing]}, entry.now)
        self._keep_report(closing.day)
        return closing

    def _keep_report(self, day: date) -> None:
        """Keep the report of a closing; one that cannot be written never undoes it."""
        self.report_trouble = NOTHING
        if self.desk.folder is not None:
            try:
                self.reports.keep_report(day)
            except (CounterError, LabelError) as error:
                self.report_trouble = error.said
            except OSError as error:
                self.report_trouble = full(answer_of(error))

    def _book_ends(self, entry: Entry) -> Ledger:
        """Book what a closing ends, with what was answered: tubs past their time, and what was lost
        in scooping. The ledger after it."""
        self._end_tubs(entry)
        if entry.records:
            self.desk.books.commit(str(entry.day), entry.records, entry.now)
        losses = self._scooping(self.desk.ledger(entry.day), entry)
        if losses.records:
            self.desk.books.commit(str(entry.day), losses.records, entry.now)
        return self.desk.ledger(entry.day)

    def _explained(self, words: Mapping[str, str], ledger: Ledger, tried: Said) -> dict[str, str]:
        """What people wrote about differences, of lots that are there, and not too long."""
        for lot in words:
            if lot != "cash":
                ledger.row(lot, say("{tried}, explaining lot {lot}", tried=tried, lot=lot))
        return {k: text.strip()[:200] for k, text in words.items() if text.strip()}

    def _scooping(self, ledger: Ledger, entry: Entry) -> Entry:
        """What was lost in scooping, as waste."""
        losses = Entry(ledger, entry.at, entry.now, entry.by)
        for lot, loss in scooping_losses(ledger).items():
            for tub, part in out_of_tubs(ledger, lot, loss):
                losses.waste(lot, part, "scooping", tub=tub)
        return losses

    def _counted(self, tried: Said, cash: int | None, coins: dict[str, int] | None) -> int | None:
        if cash is not None and cash < 0:
            raise BadInput(tried, say("the cash counted is below zero"), say("Count again"))
        if coins is None:
            return cash
        if cash is not None and worth(coins) != cash:
            counted = said_money(worth(coins), self.desk.settings.places)
            raise BadInput(tried, say("the coins make {money}", money=counted), say("Count again"))
        return worth(coins)

    def _may_close(self, day: date, tried: Said) -> None:
        closed = self.desk.is_closed(day)
        if day > self.desk.today() and not closed:
            raise BadInput(tried, say("it has not come yet"), say("Close today, or a day before"))
        self.desk.must_have_book(day, tried)
        if closed:
            do = say("Look at it{how}", how=at_terminal(" with `counter day`"))
            raise DaySealed(tried, say("it is closed already"), do, today=self.desk.today())
        for older in self.desk.books.days(self.desk.first_open(), day - timedelta(days=1)):
            do = say("Close it first{how}", how=option(f"`counter close --day {older}`"))
            raise Refused(tried, say("day {date} before it is still open", date=older), do)

    def _end_tubs(self, entry: Entry) -> None:
        """Only a cold tub sees the next day. Where that has begun, the others stand on it to be
        thrown away there, and its closing ends them.

        Where less is missing of a counted lot than a tub holds, the tub was counted with it, and
        what is missing was lost in scooping; where as much or more is, it was away already.
        """
        if self.desk.books.days(entry.day + timedelta(days=1)):
            return
        missing = scooping_losses(entry.ledger)
        for tub in entry.ledger.open_tubs():
            if tub.mode == "cold":
                continue
            level = max(tub.level, 0)
            lost = missing.pop(tub.lot, 0) if missing.get(tub.lot, 0) < level else 0
            empty_tub(entry, tub, level - lost)

    def reopen_day(self, why: str, by: str = "") -> Reopening:
        """Open today's closed book again; both closings stay on record.

        So too the last of the days that were closed ahead of today, by a clock that was wrong:
        one after another, each as it was closed.
        """
        today = self.desk.today()
        with self.desk.books.exclusive():
            sealed = self.desk.sealed_until()
            day = today if sealed is None else max(today, sealed)
            tried = say("reopen day {date}", date=day)
            reason = must_have_reason(tried, why)
            if day != sealed:
                raise Refused(tried, say("it is not closed"), say("Only today can be reopened"))
            base = self.closings.before(day)
            record = Reopening(
                day=day,
                why=reason,
                at=self.desk.now(),
                carried=base.carried if base else (),
                tubs=base.tubs if base else (),
                cash=base.cash.left if base else self.desk.settings.cash.float,
                by=by[:60],
                sealed=base.day if base else today - timedelta(days=1),
                places=base.places if base else (),
            )
            self.desk.books.commit(CLOSINGS, {"reopenings": [record]}, self.desk.now())
        return record
