"""Command lines and servers killed at any moment, at a system call or in the midst of nothing."""

from __future__ import annotations

import http.client
import json
import random
import re
import signal
import subprocess
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any, Self

from tests.crash.shops import COUNTER, ENV, PATIENCE_S, ROOT, Law, row, stocked
from tests.crash.traced import before

AT_CALLS = {"pwrite64": 30, "fdatasync": 5, "openat": 6, "ftruncate": 3, "unlink": 2, "fsync": 1}
TILLS = 3
TOKEN = re.compile(r'name="token" content="([^"]+)"')


def command(folder: Path, key: str) -> list[str]:
    return [*COUNTER, "--shop", str(folder), "sell", "firm-block", "--card", "--key", key]


def started(words: Sequence[str]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, env=ENV,
        text=True, cwd=ROOT,
    )  # fmt: skip


def heard(program: subprocess.Popen[str], key: str, law: Law) -> bool:
    """Wait for a command line; whether it answered with a sale. A traceback fails."""
    out, err = program.communicate(timeout=PATIENCE_S)
    assert "Traceback" not in err, err
    found = re.search(r"^Sale (\S+)$", out, re.MULTILINE)
    if found and out.endswith("\n"):
        law.answer(key, found[1])
    return found is not None


def commands_killed(many: int, chance: random.Random, law: Law, work: Path) -> int:
    """Kill so many command lines while they sell, each sent again until it is answered; how many
    had to be sent again."""
    folder = work / "shop"
    again, started_at = 0, time.monotonic()
    law.asked.add("first")
    assert heard(started(command(folder, "first")), "first", law)
    usual = time.monotonic() - started_at
    for i in range(many):
        key = f"command/{law.states}/{i}"
        law.asked.add(key)
        if i % 2:
            call = chance.choice([*AT_CALLS])
            inject = f"{call}:signal=KILL:when={chance.randrange(1, AT_CALLS[call] + 1)}"
            program = started([*before(work / "log", folder, inject=inject), *command(folder, key)])
        else:
            program = started(command(folder, key))
            time.sleep(chance.uniform(0.4, 1.1) * usual)
            program.kill()
        answered = heard(program, key, law)
        if i % 3 == 0 and not answered:
            assert heard(started(command(folder, key)), key, law), "sent again, and not answered"
            again += 1
        law.judge(folder)
    return again


class Server:
    """A server that can be killed, and its page."""

    def __init__(self, folder: Path) -> None:
        self._process = started([*COUNTER, "--shop", str(folder), "serve", "--port", "0"])
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        found = re.search(r"127\.0\.0\.1:(\d+)", line)
        assert found, line + self._process.communicate(timeout=PATIENCE_S)[1]
        self.port = int(found[1])

    def kill(self) -> None:
        ended = self._process.poll()
        self._process.kill()
        _, err = self._process.communicate(timeout=PATIENCE_S)
        assert "Traceback" not in err, err
        assert ended in (None, -signal.SIGKILL), f"it ended by itself with {ended}: {err}"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        assert self._process.stdout is not None
        if not self._process.stdout.closed:
            self.kill()


class Till:
    """A browser at the counter page: it pays with keys of its own, and sends again what was not
    answered. ``may_refuse`` is what a refusal may speak of, and the payment wait for."""

    def __init__(self, name: str, law: Law, may_refuse: str = "") -> None:
        self._name, self._law, self._may_refuse = name, law, may_refuse
        self._count = 0
        self.waiting: str | None = None  # the key that was sent and not answered
        self.refused = list[str]()

    def sell(self, port: int, stop: threading.Event, paid: threading.Event) -> None:
        """Sell until told to stop, or until the server is gone."""
        try:
            self._sell(port, stop, paid)
        except (OSError, http.client.HTTPException):
            pass
        except Exception as error:
            self.refused.append(repr(error))
        finally:
            paid.set()

    def _sell(self, port: int, stop: threading.Event, paid: threading.Event) -> None:
        with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)) as here:
            here.request("GET", "/shelf/")
            page = here.getresponse()
            cookie = (page.getheader("Set-Cookie") or "").partition(";")[0]
            token = TOKEN.search(page.read().decode())
            assert token
            headers = {"Cookie": cookie, "X-Token": token[1], "Content-Type": "application/json"}
            until = time.monotonic() + PATIENCE_S
            while not stop.is_set() or (self._owed and time.monotonic() < until):
                self._pay(here, headers)
                paid.set()

    @property
    def _owed(self) -> bool:
        """Whether it must not stop yet: a payment was sent, and is neither answered nor refused."""
        return self.waiting is not None and not self.refused

    def _pay(self, here: http.client.HTTPConnection, headers: dict[str, str]) -> None:
        again = self.waiting is not None
        if self.waiting is None:
            self._count += 1
            self.waiting = f"{self._name}/{self._count}"
            self._law.asked.add(self.waiting)
        sent: dict[str, Any] = {
            "slip": {"items": [{"portion": "firm-block"}], "key": self.waiting},
            "tenders": [{"kind": "card"}], "seen": 325, "again": again,
        }  # fmt: skip
        here.request("POST", "/slip/pay", json.dumps(sent), headers)
        answer = here.getresponse()
        said = answer.read()
        if answer.status != 200:
            if not self._may_refuse or self._may_refuse not in said.decode():
                self.refused.append(said.decode())
            return
        self._law.answer(self.waiting, json.loads(said)["number"])
        self.waiting = None


def servers_killed(many: int, chance: random.Random, law: Law, work: Path) -> int:
    """Kill so many servers while tills pay; how many payments had to be sent again."""
    tills = [Till(f"till-{law.states}-{i}", law) for i in range(TILLS)]
    again = 0
    for i in range(many + 1):  # the last one answers what is left
        stop, paid = threading.Event(), threading.Event()
        again += sum(till.waiting is not None for till in tills)
        with Server(work / "shop") as server:
            threads = [
                threading.Thread(target=till.sell, args=(server.port, stop, paid)) for till in tills
            ]
            for thread in threads:
                thread.start()
            paid.wait(PATIENCE_S)
            time.sleep(chance.uniform(0, 0.15))
            if i == many:
                stop.set()
            else:
                server.kill()
            for thread in threads:
                thread.join(PATIENCE_S)
        assert not [text for till in tills for text in till.refused]
        if i % 5 == 0 or i == many:  # else the next server is the one that finds what is left
            law.judge(work / "shop")
    assert all(till.waiting is None for till in tills)
    return again


def run(many: int, seed: int, work: Path, who: str = "both") -> Iterator[str]:
    """Kill so many programs, in shops of a hundred kills each; a line a kind."""
    chance = random.Random(seed)
    for name, killed in (("commands", commands_killed), ("servers", servers_killed)):
        if who not in (name, "both"):
            continue
        share = many if who == name else many // 2
        answered = again = 0
        for i in range(0, share, 100):
            law, place = Law(), work / f"{name}-{i}"
            place.mkdir()
            stocked(place / "shop")
            again += killed(min(100, share - i), chance, law, place)
            answered += len(law.answered)
        yield row(f"{name} killed", kills=share, answered=answered, sent_again=again, lost=0,
                  twice=0)  # fmt: skip
