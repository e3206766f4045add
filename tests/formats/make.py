"""Make the small shop of the format of today, once, when a format is released::

    python -m tests.formats.make tests/formats/1

Three days, of which two are closed, and every table of records in use; written by the program
itself. A folder of a released format is never made anew.
"""

from __future__ import annotations

import shutil
import sqlite3
import sys
from contextlib import closing
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from counter.books.formats import FILE
from counter.shop import make_shop
from counter.shop.mending import mend_shop
from counter.shop.staffing import set_pin
from counter.trade.asking import Question
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand

MONDAY = date(2026, 11, 23)


def make(folder: Path) -> None:
    """Play three days in an invented shop, and lose a measured temperature on the way."""
    clock = Clock("2026-11-23 05:00")
    shop = make_shop(folder, SETTINGS, clock)
    hand = ShopInHand(shop, clock)
    shop.desk.questions.given = dict.fromkeys(
        ("day", "cash", "uncounted", "cooling", "copy"), "so it is"
    )
    shop.products.load_catalogue(CATALOGUE)
    set_pin(shop.desk, "rosa", "2580")
    shop.desk.questions.confirm(
        [Question(about="copy", tried="sell", text="no copy is kept")], "Rosa"
    )
    for day in range(3):
        clock.set(f"{MONDAY + timedelta(days=day)} 05:00")
        _day(hand, day)
    shop.evening.move_cash("in", 2000, "coins")
    shop.desk.books.close()
    with closing(sqlite3.connect(folder / FILE)) as con, con:
        sql = "SELECT max(n) FROM lines WHERE instr(body, 'temperatures')"
        con.execute(f"UPDATE lines SET body = '' WHERE n = ({sql})")
    assert mend_shop(folder, "Rosa", clock=clock) is not None
    _tidy(folder)


def _day(hand: ShopInHand, day: int) -> None:
    shop, clock = hand.shop, hand.clock
    firm = hand.batch("firm", 20)
    soft = hand.batch("soft", 10)
    pudding, tub = hand.pudding(8000)
    clock.forward(hours=3)
    shop.tubs.check_tub(tub, Decimal(4))
    sale = hand.sell("firm-block*2", cash=1000)
    hand.sell("cup-small", key=f"slip-{day}")
    hand.sell(f"soft-block@{soft.lot}", "firm-block")
    shop.counter.refund(sale.number, "one too many", {1: 1}, restock=True)
    shop.waste.throw_away(firm.lot, 1, "broken")
    if day == 0:
        shop.labels.print_labels([(firm.lot, 4)])
        shop.records.move_lot(firm.lot, "display", Decimal(3))
        shop.holds.hold(soft.lot, True, "a bad smell")
    if day == 1:
        shop.records.note_temperature("fridge", Decimal(4))
        shop.records.note_temperature("fridge", Decimal(3))
        shop.records.check_thermometer("probe 1", "ice", Decimal(0))
        shop.closed_days.correct(MONDAY, "one more was sold", lot="26327-01", amount=1)
    shop.tubs.end_tub(tub, 7700, kept=True)
    clock.forward(hours=9)
    if day < 2:
        for lot in (firm.lot, pudding.lot):
            shop.evening.count(lot, hand.on_hand(lot))
        shop.evening.close_day(cash=shop.evening.closing_preview().cash.expected, by="Rosa")
    if day == 1:
        shop.evening.reopen_day("a forgotten sale", "Rosa")
        shop.evening.close_day(cash=None, by="Rosa")


def _tidy(folder: Path) -> None:
    """Leave the books alone, whole in one file, and what stands beside them."""
    with closing(sqlite3.connect(folder / FILE, isolation_level=None)) as con:
        con.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        con.execute("VACUUM")
    for path in folder.iterdir():
        if path.is_dir():
            shutil.rmtree(path)
        elif path.name not in (FILE, "shop.toml", "catalogue.toml"):
            path.unlink()


if __name__ == "__main__":
    make(Path(sys.argv[1]))
