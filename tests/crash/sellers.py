"""Sellers in processes of their own, to be killed, to meet, and to run out of disk."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable
from pathlib import Path

from counter.errors import DaySealed
from counter.shop import Shop
from counter.trade.sales import Slip, SlipItem, Tender
from tests.conftest import Clock

Say = Callable[[str], None]


def in_a_process(work: Callable[[Say], None]) -> tuple[int, int]:
    """Run ``work(say)`` in a forked process; its number, and the pipe on which lines arrive."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid:
        os.close(writing)
        return pid, reading
    status = 1
    try:
        os.close(reading)
        work(lambda line: _write(writing, line))
        status = 0
    except BaseException:
        traceback.print_exc(file=sys.__stderr__)
    finally:
        os._exit(status)


def _write(pipe: int, line: str) -> None:
    os.write(pipe, f"{line}\n".encode())  # shorter than a pipe's atomic write


def said(pipe: int) -> list[str]:
    """All lines until the process is gone, whole ones only."""
    data = b""
    while block := os.read(pipe, 1 << 16):
        data += block
    os.close(pipe)
    return data[: data.rfind(b"\n") + 1].decode().splitlines()


def sell_on(folder: Path, who: str, count: int = 10**9) -> Callable[[Say], None]:
    """A seller who books one block after the other until the day is closed, and says number and
    key of each."""

    def work(say: Say) -> None:
        shop = Shop.open(folder, Clock("2026-11-24 12:00"))
        for i in range(count):
            key = f"{who}/{i}"
            try:
                sale = shop.sell(Slip((SlipItem("firm-block", 1),), key=key), [Tender("card")])
            except DaySealed:
                return
            say(f"{sale.number} {key}")

    return work
