"""A seller killed at any moment loses no acknowledged sale and books none twice."""

from __future__ import annotations

import os
import random
import select
import signal
import time
from datetime import date

import pytest

from counter.shop import Shop
from counter.trade.sales import Slip, SlipItem, Tender
from tests.conftest import Clock, ShopInHand
from tests.crash.sellers import in_a_process, said, sell_on

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="sellers are forked")
KILLS = 100
BLOCK = Slip((SlipItem("firm-block", 1),))


def keyed(key: str) -> Slip:
    return Slip(BLOCK.items, key=key)


def test_a_seller_killed_a_hundred_times_loses_and_doubles_nothing(folder_shop: ShopInHand) -> None:
    folder, chance = folder_shop.shop.folder, random.Random(26328)
    assert folder is not None
    folder_shop.shop.given = {"made": "more than can be sold"}
    made = folder_shop.batch(made=10_000)
    acknowledged: dict[str, str] = {}
    retried = 0
    for kill in range(KILLS):
        pid, pipe = in_a_process(sell_on(folder, f"seller-{kill}"))
        select.select([pipe], [], [], 20)  # the first sale is booked: the seller is at work
        time.sleep(chance.uniform(0, 0.012))
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        mine = dict(reversed(line.split(" ")) for line in said(pipe))
        assert mine, "the seller sold nothing"
        acknowledged.update(mine)

        shop = Shop.open(folder, Clock("2026-11-24 12:00"))
        ledger = shop.ledger()
        booked = {sale.key: number for number, sale in ledger.sales.items()}
        assert len(booked) == len(ledger.sales), "a key was booked twice"
        assert acknowledged.items() <= booked.items(), "an acknowledged sale is gone"
        assert list(ledger.sales) == [f"2026-11-24/{n + 1:04d}" for n in range(len(booked))]
        # The client that heard nothing sends its last sale again: booked once, whichever it was.
        for key in (f"seller-{kill}/{len(mine) - 1}", f"seller-{kill}/{len(mine)}"):
            before = booked.get(key)
            again = shop.sell(keyed(key), [Tender("card")])
            retried += before is None
            assert before in (None, again.number)
            assert shop.sell(keyed(key), [Tender("card")]) == again
            acknowledged[key] = again.number
        if kill % 20 == 0 or kill == KILLS - 1:
            torn = [f for f in shop.books.check().findings if "unfinished line" not in f.sentence]
            assert torn == []
    assert retried, "no kill ever fell between two sales"
    last = Shop.open(folder, Clock("2026-11-24 12:00")).ledger()
    assert last.rows[made.lot].sold == len(last.sales) >= len(acknowledged)


def test_two_sellers_at_once_share_numbers_without_gap_and_stock_without_loss(
    folder_shop: ShopInHand,
) -> None:
    folder = folder_shop.shop.folder
    assert folder is not None
    made = folder_shop.batch(made=900)
    sellers = [in_a_process(sell_on(folder, who, 250)) for who in ("left", "right")]
    lines = [said(pipe) for _, pipe in sellers]
    assert [os.waitpid(pid, 0)[1] for pid, _ in sellers] == [0, 0]
    numbers = sorted(line.split(" ")[0] for told in lines for line in told)
    assert numbers == [f"2026-11-24/{n + 1:04d}" for n in range(500)]
    ledger = folder_shop.shop.ledger()  # a shop that was open all the while sees all of it
    assert len({sale.key for sale in ledger.sales.values()}) == len(ledger.sales) == 500
    assert ledger.rows[made.lot].on_hand == 400
    sides = [sale.key.split("/")[0] for sale in ledger.sales.values()]
    assert sides != sorted(sides), "one seller had to wait for the other to finish"
    assert folder_shop.shop.books.check().sound


def test_a_seller_and_an_owner_who_closes_at_once_never_write_past_the_seal(
    folder_shop: ShopInHand,
) -> None:
    folder = folder_shop.shop.folder
    assert folder is not None
    folder_shop.shop.given = {"made": "more than can be sold"}
    folder_shop.batch(made=10_000)
    pid, pipe = in_a_process(sell_on(folder, "late"))
    select.select([pipe], [], [], 20)
    closing = Shop.open(folder, Clock("2026-11-24 12:00")).close_day()
    lines = said(pipe)  # the seller is refused, and ends
    assert os.waitpid(pid, 0)[1] == 0
    assert closing.sales == len(lines)
    shop = folder_shop.shop
    assert shop.closing(date(2026, 11, 24)) == closing
    assert shop.books.check().sound
