"""A shop in a folder with two closed days, one open, and every kind of record in them."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from counter.books.engine import RESTORED
from tests.conftest import Filled, ShopInHand
from tests.lines import kept

BEANS = "AF-46"


def lived_in(hand: ShopInHand) -> None:
    """Lots of Tuesday: 26328-01 firm (stopped and released), 26328-02 pudding, 26328-03 smoked
    from 16 of the firm; of Wednesday: 26329-01 firm. Tuesday and Wednesday are closed."""
    shop, clock = hand.shop, hand.clock
    firm = hand.batch(made=96, codes={"soybeans": BEANS, "gypsum": "G-7"}, notes="=SUM(A1)")
    clock.set("2026-11-24 05:00")
    _, tub = hand.pudding()
    smoked = hand.batch("smoked", 8, boiled_minutes=None, mixed=((firm.lot, 16),))
    shop.evening.move_cash("float", 15000)
    clock.set("2026-11-24 08:00")
    shop.records.note_temperature("fridge", Decimal(4), by="Ida")
    shop.records.note_temperature("Hot Well", Decimal(50), "turned up", by="Ida")
    shop.records.check_thermometer("probe 1", "ice", Decimal("0.5"), by="Ida")
    hand.sell("firm-block*3", cash=5000)
    hand.sell("cup-small*2")
    sale = hand.sell("firm-block*2")
    hand.sell("smoked-block*2")
    shop.counter.refund(sale.number, "changed their mind", {1: 1}, restock=True)
    shop.holds.hold(firm.lot, True, "hair found", by="Ida")
    shop.holds.hold(firm.lot, False, "was a thread", by="Ida")
    shop.holds.hold(smoked.lot, False, "was a thread", by="Rosa")
    shop.waste.throw_away(firm.lot, 2, "broken", by="Ida")
    shop.waste.throw_away(firm.lot, 1, "other", "@dropped, by the delivery", by="Ida")
    shop.tubs.check_tub(tub, Decimal("3.5"), by="Ida")
    shop.evening.count(firm.lot, 72)
    clock.set("2026-11-24 11:30")
    shop.tubs.end_tub(tub, 7000, kept=True)
    clock.set("2026-11-24 18:00")
    shop.evening.close_day(cash=20000)
    clock.set("2026-11-25 04:10")
    hand.batch(made=48, codes={"soybeans": "AF-47"})
    clock.set("2026-11-25 09:00")
    hand.sell("firm-block*5", cash=10000)
    clock.set("2026-11-25 18:00")
    shop.evening.close_day()
    clock.set("2026-11-26 09:00")


@pytest.fixture
def hand(tmp_path: Path, filled: Filled) -> ShopInHand:
    return filled(tmp_path / "shop", lived_in)


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    place = tmp_path / "stick"
    place.mkdir()
    return place


def content(folder: Path) -> dict[str, bytes]:
    """All that lies in a folder but the mark that a restore leaves."""
    return {name: data for name, data in kept(folder).items() if name != RESTORED}
