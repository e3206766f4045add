"""A live server over a temporary shop, and a real Chromium.

Without a Chromium these tests are skipped and say so loudly; with CI=true they fail instead.
"""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from counter.web import faults
from counter.web.server import make_server
from tests.conftest import Filled, ShopInHand, a_morning, nothing
from tests.often import IN_CI

ARGS = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--no-first-run",
]  # fmt: skip
TABLET = {"width": 1024, "height": 768}
SIZES = {"phone": (390, 844), "upright": (768, 1024), "tablet": (1024, 768), "screen": (1920, 1080)}


def chromium_path() -> str | None:
    named = os.environ.get("COUNTER_CHROMIUM")
    return named or next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)  # fmt: skip


def need_chromium(why: str) -> None:
    if IN_CI:
        pytest.fail(f"CI must test the page in a real Chromium: {why}")
    pytest.skip(f"NOT TESTED IN A BROWSER: {why}. Install chromium, or name it in COUNTER_CHROMIUM")


class Live:
    """A shop served on a free port; it can be killed and started again on the same port."""

    def __init__(self, folder: Path, hand: ShopInHand) -> None:
        self.folder, self.hand, self.clock = folder, hand, hand.clock
        self.port = 0
        self._server: Any = None

    def start(self) -> None:
        self._server = make_server(self.folder, self.port, clock=self.clock)
        self.port = int(self._server.effective_port)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Close every socket at once, as when the power goes."""
        if self._server is None:
            return
        server, self._server = self._server, None
        server.trigger.pull_trigger(lambda: _close_all(server))
        self._thread.join(10)
        server.task_dispatcher.shutdown()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def shop(self) -> Any:
        return self.hand.shop


def _close_all(server: Any) -> None:
    for held in list(server._map.values()):
        held.close()


@pytest.fixture
def live(tmp_path: Path, filled: Filled, request: pytest.FixtureRequest) -> Iterator[Live]:
    """Firm 26328-01 (48), soft -02 (30), pressed -03 (4 kg), pudding -04 with a cold tub; 08:30.

    With the parameter ``dawn`` nothing is made yet, and it is 04:10.
    """
    fill = nothing if getattr(request, "param", "") == "dawn" else a_morning
    made = Live(tmp_path / "shop", filled(tmp_path / "shop", fill))
    made.start()
    yield made
    made.stop()
    faults.log_into(None)
    made.shop.desk.books.close()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """One browser for the whole run."""
    try:
        from playwright.sync_api import expect, sync_playwright
    except ImportError:
        need_chromium("playwright is not installed")
    path = chromium_path()
    if path is None:
        need_chromium("no chromium was found")
    expect.set_options(timeout=30_000)  # a limit, not what a page may take
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGS)
        yield browser
        browser.close()


@pytest.fixture
def tablet(chromium: Any, live: Live) -> Iterator[Any]:
    """A page of a tablet, 1024 × 768; a fault in the console or a host that is not ours fails."""
    context = chromium.new_context(viewport=TABLET, locale="en-US")
    context.set_default_timeout(30_000)
    page = context.new_page()
    told: list[str] = []
    page.on("pageerror", lambda error: told.append(str(error)))
    page.on("request", lambda asked: told.append(f"asked {asked.url}")
            if not asked.url.startswith((live.url, "data:", "blob:")) else None)  # fmt: skip
    page.on("console", lambda line: told.append(line.text)
            if "Content Security Policy" in line.text else None)  # fmt: skip
    yield page
    context.close()
    assert told == []


def pay_unanswered(page: Any) -> None:
    """A firm block is paid by card, and no answer comes: the payment waits in the browser."""
    from playwright.sync_api import expect

    page.click('[data-portion="firm-block"]')
    expect(page.locator("#figures .total span:last-child")).to_have_text("$3.25")
    page.route("**/slip/pay", lambda route: route.abort())
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    expect(page.locator("#outbox")).to_contain_text("NOT BOOKED YET")
