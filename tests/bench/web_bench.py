"""Four tills at once through HTTP against waitress: nothing lost, nothing twice, and how long.

The floor is a request to the same server that writes nothing, in turn with the payments.
"""

from __future__ import annotations

import http.client
import json
import re
import tempfile
import threading
import time
from pathlib import Path

from counter.shop import make_shop
from counter.web.server import make_server
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand

TILLS = 4


class Till:
    """One browser at the counter, with its session and its token."""

    def __init__(self, port: int, name: int) -> None:
        self.wire = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        self.name = name
        self.wire.request("GET", "/who/")
        page = self.wire.getresponse()
        text = page.read().decode()
        found = re.search(r'name="token" content="([^"]+)"', text)
        assert found
        cookie = (page.getheader("Set-Cookie") or "").split(";")[0]
        self.headers = {"X-Token": found[1], "Cookie": cookie, "Content-Type": "application/json"}
        self.took: list[float] = []
        self.floor: list[float] = []
        self.numbers: list[str] = []

    def pay(self, number: int) -> None:
        slip = {"items": [{"portion": "firm-block"}], "key": f"till-{self.name}-{number}"}
        sent = {"slip": slip, "tenders": [{"kind": "card"}], "seen": 325}
        start = time.perf_counter()
        self.wire.request("POST", "/slip/pay", json.dumps(sent), self.headers)
        answer = self.wire.getresponse()
        found = json.loads(answer.read())
        self.took.append(time.perf_counter() - start)
        assert answer.status == 200, found
        self.numbers.append(found["number"])
        start = time.perf_counter()
        self.wire.request("GET", "/icon.svg", headers=self.headers)
        self.wire.getresponse().read()
        self.floor.append(time.perf_counter() - start)


def measure(sales: int = 2000) -> dict[str, dict[str, float]]:
    """Seconds of ``sales`` payments by four tills, and of as many requests that write nothing."""
    with tempfile.TemporaryDirectory() as folder:
        clock = Clock("2026-11-24 08:30")
        hand = ShopInHand(make_shop(Path(folder) / "shop", SETTINGS, clock), clock)
        hand.shop.products.load_catalogue(CATALOGUE)
        hand.batch("firm", sales)
        server = make_server(Path(folder) / "shop", 0, clock=clock)
        runner = threading.Thread(target=server.run, daemon=True)
        runner.start()
        tills = [Till(int(server.effective_port), i) for i in range(TILLS)]

        def run(till: Till) -> None:
            for number in range(sales // TILLS):
                till.pay(number)

        threads = [threading.Thread(target=run, args=(till,)) for till in tills]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        numbers = [n for till in tills for n in till.numbers]
        assert len(set(numbers)) == len(numbers) == sales // TILLS * TILLS
        assert sorted(hand.shop.desk.ledger().sales) == sorted(numbers), "lost, or booked twice"
        server.trigger.pull_trigger(lambda: [c.close() for c in list(server._map.values())])
        runner.join(10)
        return {
            name: figures([t for till in tills for t in getattr(till, name)])
            for name in ("took", "floor")
        }


def figures(seconds: list[float]) -> dict[str, float]:
    ordered = sorted(seconds)
    at = len(ordered) - 1
    return {"p50": ordered[at // 2], "p99": ordered[at * 99 // 100]}


def run() -> list[tuple[str, float, float]]:
    """(what, seconds, seconds of the floor) for the table of ``python -m tests.bench``."""
    made = measure()
    return [
        (
            f"a sale through HTTP, four tills at once, {part}",
            made["took"][part],
            made["floor"][part],
        )
        for part in ("p50", "p99")
    ]
