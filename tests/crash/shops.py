"""A shop to be broken, programs that work in it, and the law they are held to."""

from __future__ import annotations

import os
import queue
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any, Self

import msgspec

from counter.books.check import check_books
from counter.errors import DaySealed
from counter.shop import Shop, make_shop
from counter.trade.sales import Sale
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand
from tests.crash.driver import SAID, sell

ROOT = Path(__file__).parents[2]
PATIENCE_S = 120  # far more than anything here takes: who waits longer hangs
ENV = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": str(ROOT)}
COUNTER = (sys.executable, "-m", "counter")
DRIVER = (sys.executable, "-m", "tests.crash.driver")
MADE = 100_000


def noon_zone() -> str:
    """A zone in which it is about noon now: no day ends while programs are at work."""
    ahead = 12 - datetime.now(UTC).hour
    return f"Etc/GMT{-ahead:+d}"  # the sign of these names is turned round


def stocked(folder: Path) -> Path:
    """A shop by the computer's own clock, with more blocks than anybody sells here."""
    clock = Clock()
    settings = SETTINGS.replace("America/Los_Angeles", noon_zone())
    shop = make_shop(folder, settings)
    clock.moment = shop.desk.now()
    shop.desk.questions.given = SAID
    shop.products.load_catalogue(CATALOGUE)
    ShopInHand(shop, clock).batch("firm", MADE)
    shop.desk.books.close()
    return folder


class Law:
    """What was answered, and what must hold of the books ever after."""

    def __init__(self) -> None:
        self.answered: dict[str, str] = {}  # key -> number of the sale
        self.asked: set[str] = set()
        self.states = self.found = 0

    def answer(self, key: str, number: str) -> None:
        before = self.answered.setdefault(key, number)
        assert before == number, f"key {key} was answered with {before}, then with {number}"

    def judge(self, folder: Path, *, answered: Mapping[str, str] | None = None) -> None:
        """Open the shop as the next program does: nothing answered is gone, nothing stands twice,
        the books are sound, and the next sale works."""
        answered = self.answered if answered is None else answered
        shop = Shop.open(folder)
        shop.desk.questions.given = SAID
        try:
            booked = self._booked(shop, answered)
            self.found += len(booked.keys() - answered.keys())
            checked = check_books(shop.desk.books)
            assert checked.sound, [finding.sentence for finding in checked.findings]
            self._sell_on(shop, booked)
        finally:
            shop.desk.books.close()
        self.states += 1

    def _booked(self, shop: Shop, answered: Mapping[str, str]) -> dict[str, str]:
        sales = [sale for day in shop.desk.books.days() for sale in shop.desk.recorded(Sale, day)]
        booked = {sale.key: sale.number for sale in sales}
        assert len(booked) == len(sales), "a key was booked twice"
        lost = {key: n for key, n in answered.items() if booked.get(key) != n}
        assert not lost, f"answered and gone: {lost}"
        assert booked.keys() <= self.asked, f"nobody asked: {booked.keys() - self.asked}"
        for day in shop.desk.books.days():
            numbers = [n for n in booked.values() if n.startswith(str(day))]
            assert numbers == [f"{day}/{n + 1:04d}" for n in range(len(numbers))]
        return booked

    def _sell_on(self, shop: Shop, booked: Mapping[str, str]) -> None:
        """The next sale works, a key that is there is answered with its own, and stock adds up."""
        key = f"next/{self.states}"
        self.asked.add(key)
        try:
            assert sell(shop, key) not in booked.values()
        except DaySealed:
            return
        if booked:
            last = next(reversed(booked))
            assert sell(shop, last) == booked[last]
        [row] = shop.desk.ledger().rows.values()
        assert row.sold == len(shop.desk.ledger().sales), (
            "the ledger counts what the books do not hold"
        )


class Program:
    """A program of ours that is told what to do, line by line, and answers each.

    ``before`` is what stands before its command: strace, say; ``answers`` a file for its answers.
    It never waits without a limit.
    """

    def __init__(
        self, folder: Path, law: Law, before: Sequence[str] = (), answers: Path | None = None
    ) -> None:
        self.may_say: tuple[str, ...] = ("DiskRefused",)
        self._law, self._watched = law, bool(before)
        self._process = subprocess.Popen(
            [*before, *DRIVER, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True, cwd=ROOT,
            env=ENV | ({"ANSWERS": str(answers)} if answers else {}),
        )  # fmt: skip
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._errors = list[str]()
        self._threads = [
            threading.Thread(target=self._listen, args=(self._process.stdout,)),
            threading.Thread(target=self._errors.extend, args=(self._process.stderr,)),
        ]
        for thread in self._threads:
            thread.start()

    @property
    def pid(self) -> int:
        return self._process.pid

    def say(self, *words: str) -> None:
        """Tell it to do something, without waiting for its answer."""
        if words[0] == "sell":
            self._law.asked.add(words[1])
        assert self._process.stdin is not None
        with suppress(BrokenPipeError):
            self._process.stdin.write(" ".join(words) + "\n")
            self._process.stdin.flush()

    def hear(self) -> dict[str, Any]:
        """Its next answer; {} when it is gone."""
        line = self._lines.get(timeout=PATIENCE_S)
        if not line:
            self._lines.put("")
            return {}
        said: dict[str, Any] = msgspec.json.decode(line)
        if "number" in said:
            self._law.answer(said["key"], said["number"])
        return said

    def ask(self, *words: str) -> dict[str, Any]:
        """Tell it to do something; its answer."""
        self.say(*words)
        return self.hear()

    def kill(self) -> None:
        """Kill it and what it has started, not what watches it."""
        children = Path(f"/proc/{self.pid}/task/{self.pid}/children").read_text().split()
        if not self._watched:
            self._process.kill()
        for child in children:
            below = Path(f"/proc/{child}/task/{child}/children").read_text().split()
            for pid in (child, *below):
                os.kill(int(pid), signal.SIGKILL)

    def _listen(self, pipe: IO[str]) -> None:
        for line in pipe:
            if line.endswith("\n"):  # half an answer is none
                self._lines.put(line)
        self._lines.put("")

    def gone(self) -> int:
        """Wait until it has ended and all its answers are heard; its status. A traceback fails."""
        assert self._process.stdin is not None
        with suppress(BrokenPipeError):
            self._process.stdin.close()
        status = self._process.wait(PATIENCE_S)
        for thread in self._threads:
            thread.join(PATIENCE_S)
        while self.hear():
            pass
        for pipe in (self._process.stdout, self._process.stderr):
            assert pipe is not None
            pipe.close()
        assert not self._errors, "".join(self._errors)
        return status

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._process.poll() is None:
            self.kill()
            self._process.wait(PATIENCE_S)
        for thread in self._threads:
            thread.join(PATIENCE_S)
        for pipe in (self._process.stdin, self._process.stdout, self._process.stderr):
            with suppress(OSError):
                assert pipe is not None
                pipe.close()


def copy_of(folder: Path, to: Path) -> Path:
    """A folder as it stands, while no program has it open."""
    shutil.rmtree(to, ignore_errors=True)
    return Path(shutil.copytree(folder, to))


def row(name: str, **counts: object) -> str:
    """One line of a table."""
    return f"{name:<34}" + "".join(f"  {key} {value}" for key, value in counts.items())


def sold_in(folder: Path, law: Law, keys: Sequence[str]) -> None:
    """Sell a block under each key."""
    with Program(folder, law) as program:
        for key in keys:
            program.ask("sell", key)
        program.gone()
