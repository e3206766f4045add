"""Random bits flipped, and files cut, under a shop: what it shows, and what a mending brings back.

``python -m tests.crash.flips [N]`` plays N of them on one small shop: three closed days and an open
one, sold by the piece and by the scoop, with refunds, waste, corrections and keys. After each:

- what a program shows that opens the shop then is the truth, or an error, or ``check`` finds it;
- nothing is written before it is mended where the open days are hit;
- a mending brings back all lines but those of the page that was hit, ``check`` has no finding then,
  and the next sale goes through, under a number that was never given.
"""

from __future__ import annotations

import shutil
import sqlite3
import sys
import traceback
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import partial
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from counter.books.check import check_books
from counter.books.engine import FILE
from counter.books.mend import PAGE
from counter.errors import CounterError
from counter.shop import Shop, make_shop
from counter.shop.mending import mend_shop
from counter.trade.sales import Sale
from tests.conftest import CATALOGUE, SAID, SETTINGS, Clock, ShopInHand

KINDS = ("a bit of the database", "a bit of the log", "the database cut", "the log cut")
SOLD = 12  # sales a day


@dataclass
class Outcome:
    """What came of one damage."""

    kind: str
    noticed: str  # at the first look, when it was read, by the check, or nothing was hit
    untrue: list[str]  # shown as true, and not so
    lost: int
    allowed: int  # lines that stand on the page that was hit
    faults: list[str]


def make(folder: Path, to: Path) -> None:
    """The shop that is damaged. Its last lines are in the log only."""
    clock = Clock("2026-11-20 04:10")
    shop = make_shop(folder, SETTINGS, clock)
    shop.products.load_catalogue(CATALOGUE)
    hand = ShopInHand(shop, clock)
    for day in range(20, 24):
        clock.set(f"2026-11-{day} 04:10")
        shop.desk.questions.given = SAID
        lot = hand.batch("firm", 96).lot
        clock.set(f"2026-11-{day} 09:00")
        _, tub = hand.pudding()
        for i in range(SOLD):
            clock.forward(minutes=7)
            hand.sell("firm-block*2", "cup-small", key=f"{day}/{i}")
        sale = hand.sell("firm-block", cash=2000)
        shop.counter.refund(sale.number, "broken")
        shop.waste.throw_away(lot, 2, "broken")
        shop.tubs.check_tub(tub, Decimal(4))
        if day < 23:
            clock.set(f"2026-11-{day} 18:30")
            shop.evening.count(lot, shop.desk.ledger().rows[lot].on_hand)
            shop.evening.close_day(cash=shop.desk.ledger().drawer.expected)
    shop.closed_days.correct(date(2026, 11, 22), "counted wrong", lot="26326-01", amount=1)
    shop.holds.stop([hand.batch("firm", 96).lot], "a stone in it")
    shutil.copytree(folder, to)  # as it lies there while a program has it open
    shop.desk.books.close()


def opened(folder: Path) -> Shop:
    shop = Shop.open(folder, Clock("2026-11-23 14:00"))
    shop.desk.questions.given = SAID
    return shop


def shown(shop: Shop) -> dict[str, object]:
    """All that the shop shows: each answer, or the error it gave."""
    days = [date(2026, 11, day) for day in range(20, 24)]
    lots = [f"26{day:%j}-0{n}" for day in days for n in (1, 2)]
    asked: dict[str, Callable[[], object]] = {
        "days": lambda: list(shop.desk.books.days()),
        "shelf": shop.counter.shelf,
        "sealed": shop.desk.sealed_until,
        "stops": shop.desk.stops.last,
        "catalogue": lambda: shop.desk.catalogue,
        "drawer": lambda: shop.desk.ledger().drawer.expected,
    }
    asked |= {f"trace {lot}": partial(shop.closings.trace, lot) for lot in lots}
    for day in days:
        asked |= {
            f"sales {day}": partial(shop.desk.recorded, Sale, day),
            f"records {day}": partial(shop.desk.records_of, day),
            f"closing {day}": partial(shop.closings.of, day),
            f"corrections {day}": partial(shop.closed_days.corrections_about, day, day),
        }
        asked |= {
            f"key {day}/{i}": partial(shop.counter.booked, f"{day.day}/{i}") for i in range(SOLD)
        }
    found: dict[str, object] = {}
    for name, ask in asked.items():
        try:
            found[name] = ask()
        except CounterError as error:
            found[name] = error
    return found


def bodies(folder: Path) -> dict[int, bytes]:
    """The lines of a shop, by number; read by nobody but the engine."""
    with closing(sqlite3.connect(folder / FILE)) as con:
        return {n: body.encode() for n, body in con.execute("SELECT n, body FROM lines")}


class Damaged:
    """A shop that is damaged over and over, and what is true of it."""

    def __init__(self, place: Path) -> None:
        self.sound, self.folder = place / "sound", place / "shop"
        make(place / "made", self.sound)
        shutil.copytree(self.sound, place / "true")
        shop = opened(place / "true")
        self.truth = shown(shop)
        assert not [one for one in self.truth.values() if isinstance(one, CounterError)]
        assert check_books(shop.desk.books).sound
        shop.desk.books.close()
        self.lines = bodies(place / "true")
        self.numbers = {
            s.number for d in range(20, 24) for s in shop.desk.recorded(Sale, date(2026, 11, d))
        }

    def hit(self, random: Random) -> tuple[str, int]:
        """Damage a new copy of the shop; how, and how many lines stand on the page that is hit."""
        shutil.rmtree(self.folder, ignore_errors=True)
        shutil.copytree(self.sound, self.folder)
        kind = random.choices(KINDS, (6, 3, 1, 1))[0]
        file = self.folder / (f"{FILE}-wal" if "log" in kind else FILE)
        data = bytearray(file.read_bytes())
        at = random.randrange(len(data))
        if "cut" in kind:
            file.write_bytes(data[:at])
            allowed = len(self.lines)
        else:
            data[at] ^= 1 << random.randrange(8)
            file.write_bytes(data)
            allowed = self._on_page(file, at)
        return f"{kind} ({at})", allowed

    def _on_page(self, file: Path, at: int) -> int:
        """How many lines have a part of theirs on the page that holds a byte of a file."""
        begin = at - at % PAGE if file.name == FILE else 32 + (at - 32) // (24 + PAGE) * (24 + PAGE)
        page = (self.sound / file.name).read_bytes()[begin : begin + 24 + PAGE]
        return max(1, sum(body[-60:-1] in page or body[:60] in page or body[100:160] in page
                          for body in self.lines.values()))  # fmt: skip

    def look(self) -> tuple[str, list[str], list[str]]:
        """What a program that is started now shows: where it noticed, what is untrue, faults."""
        shop, faults = opened(self.folder), list[str]()
        try:
            found = shown(shop)
            untrue = [k for k, v in found.items()
                      if not isinstance(v, CounterError) and v != self.truth[k]]  # fmt: skip
            noticed = "at the first look" if shop.desk.books.notices else ""
            if not noticed and any(isinstance(v, CounterError) for v in found.values()):
                noticed = "when it was read"
            sound = shop.audit.check().sound
            if not noticed:
                noticed = "nothing was hit" if sound else "by the check"
            if sound and (untrue or noticed != "nothing was hit"):
                faults.append(f"{noticed}, and check finds nothing: {untrue}")
        except CounterError as error:
            noticed, untrue = "at the first look", []
            if "counter mend" not in str(error):
                faults.append(f"it says {error}")
        except Exception as error:  # a traceback at a user is a fault, whatever it is
            traceback.print_exc()
            noticed, untrue = "by a traceback", []
            faults.append(f"{type(error).__name__}: {error}")
        finally:
            shop.desk.books.close()
        return noticed, untrue, faults

    def mend(self, allowed: int) -> tuple[int, list[str]]:
        """Mend it and go on selling; how many lines are lost, and what is not as it should be."""
        faults = list[str]()
        try:
            record = mend_shop(self.folder, clock=Clock("2026-11-23 14:05"))
        except Exception as error:
            traceback.print_exc()
            return 0, [f"mend: {type(error).__name__}: {error}"]
        lost = record.lost if record else ()
        if len(lost) > allowed:
            faults.append(f"{len(lost)} lines are lost, and {allowed} stand on the page")
        shop = opened(self.folder)
        try:
            faults += [f"after it: {f.sentence}" for f in shop.audit.check().findings]
            unproved = record.unproved if record else ()
            now = bodies(self.folder)
            wrong = [n for n, body in self.lines.items()
                     if n not in lost and now[n] != body]  # fmt: skip
            if wrong:
                faults.append(f"lines {wrong} are not as they were (unproved {unproved})")
            hand = ShopInHand(shop, Clock("2026-11-23 14:10"))
            if not shop.desk.catalogue.portions:  # it is lost, and said to be: it is loaded again
                shop.products.load_catalogue(CATALOGUE)
            item = f"firm-block@{hand.batch('firm', 96).lot}" if lost else "firm-block"
            if hand.sell(item).number in self.numbers:
                faults.append("a number is given twice")
        except Exception as error:
            traceback.print_exc()
            faults.append(f"after it: {type(error).__name__}: {error}")
        finally:
            shop.desk.books.close()
        return len(lost), faults

    def play(self, seed: int) -> Outcome:
        kind, allowed = self.hit(Random(seed))
        noticed, untrue, faults = self.look()
        lost, more = self.mend(allowed)
        return Outcome(kind, noticed, untrue, lost, allowed, [*faults, *more])


def play(count: int, first: int = 0) -> list[Outcome]:
    """So many damages, each of its own seed."""
    with TemporaryDirectory() as place:
        damaged = Damaged(Path(place))
        return [damaged.play(seed) for seed in range(first, first + count)]


def table(outcomes: list[Outcome]) -> str:
    """What came of them, by kind of damage and where it was noticed."""
    rows = Counter((o.kind.partition(" (")[0], o.noticed) for o in outcomes)
    lines = [f"{kind:24} {noticed:20} {count:6}" for (kind, noticed), count in sorted(rows.items())]
    untrue = sum(bool(o.untrue) and o.noticed == "nothing was hit" for o in outcomes)
    hidden = sum(bool(o.untrue) and o.noticed == "by the check" for o in outcomes)
    lost = [o.lost for o in outcomes if "bit" in o.kind]
    lines.append(f"shown as true that is not: {untrue} unnoticed, {hidden} named only by check")
    lines.append(f"lines lost by a bit: {max(lost, default=0)} at most, {sum(lost)} in all")
    lines += [f"FAULT {o.kind}: {fault}" for o in outcomes for fault in o.faults]
    return "\n".join(lines)


if __name__ == "__main__":
    made = play(int(sys.argv[1]) if sys.argv[1:] else 2000)
    print(table(made))
    sys.exit(any(one.faults for one in made))
