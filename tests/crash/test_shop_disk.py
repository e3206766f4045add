"""A disk that fills while selling: refused in one sentence, nothing lost, and on it goes."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from counter.errors import DiskRefused
from counter.shop import Shop
from counter.trade.sales import Slip, SlipItem, Tender
from tests.conftest import Clock, ShopInHand
from tests.crash.sellers import Say, in_a_process, said

resource = pytest.importorskip("resource", reason="file size limits are set otherwise there")


def selling_till_the_disk_is_full(folder: Path, room: int) -> object:
    def work(say: Say) -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        book = folder / "days/2026/2026-11-24.jsonl"
        shop = Shop.open(folder, Clock("2026-11-24 12:00"))
        shop.ledger()
        _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (book.stat().st_size + room, hard))
        for i in range(200):
            slip = Slip((SlipItem("firm-block", 1),), key=f"k/{i}")
            before = book.read_bytes()
            try:
                say(f"sold {shop.sell(slip, [Tender('card')]).number}")
            except DiskRefused as refusal:
                say(f"refused {refusal}")
                say(f"untouched {book.read_bytes() == before}")
                say(f"known {len(shop.ledger().sales)}")
                resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
                say(f"sold {shop.sell(slip, [Tender('card')]).number}")
                return

    return work


@pytest.mark.parametrize("room", [0, 1, 300, 1500, 5000])
def test_a_full_disk_refuses_the_sale_and_keeps_the_book(
    folder_shop: ShopInHand, room: int
) -> None:
    folder = folder_shop.shop.folder
    assert folder is not None
    made = folder_shop.batch(made=500)
    pid, pipe = in_a_process(selling_till_the_disk_is_full(folder, room))  # type: ignore[arg-type]
    lines = said(pipe)
    assert os.waitpid(pid, 0)[1] == 0
    sold = [line.removeprefix("sold ") for line in lines if line.startswith("sold ")]
    assert sold == [f"2026-11-24/{n + 1:04d}" for n in range(len(sold))]
    assert lines[-4:] == [
        "refused Cannot write into days/2026/2026-11-24.jsonl: the file may not grow further, "
        "nothing was written. Raise the limit, then do it again.",
        "untouched True",
        f"known {len(sold) - 1}",
        f"sold {sold[-1]}",
    ]
    ledger = folder_shop.shop.ledger()
    assert list(ledger.sales) == sold
    assert ledger.rows[made.lot].on_hand == 500 - len(sold)
    assert folder_shop.shop.books.check().sound


def test_a_closing_the_disk_refuses_leaves_the_day_open(folder_shop: ShopInHand) -> None:
    folder = folder_shop.shop.folder
    assert folder is not None
    made = folder_shop.batch(made=5)
    folder_shop.shop.throw_away(made.lot, 5, "tasting")  # nothing is there to be asked about

    def work(say: Say) -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        shop = Shop.open(folder, Clock("2026-11-24 18:00"))
        _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (10, hard))
        try:
            shop.close_day()
        except DiskRefused as refusal:
            say(str(refusal))
        resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
        say(str(shop.sealed_until()))
        say(str(shop.close_day().day))

    pid, pipe = in_a_process(work)
    lines = said(pipe)
    assert os.waitpid(pid, 0)[1] == 0
    assert lines[0].startswith("Cannot write into closings.jsonl: the file may not grow further")
    assert lines[1:] == ["None", "2026-11-24"]
    assert folder_shop.shop.books.check().sound
