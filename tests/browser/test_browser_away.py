"""The shop's computer is away: the shelf comes back as last seen, marked, and nothing is booked."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Error, expect

from counter.shop.staffing import set_pin
from counter.web import away
from counter.web.app import CounterApp
from tests.browser.conftest import TABLET, Live
from tests.browser.looks import axe_findings, sideways, small_targets

FIRM, SOFT = '[data-portion="firm-block"]', '[data-portion="soft-block"]'
# The worker will answer for the next page that is opened, and the shelf is kept.
KEPT = """async () => {
  const found = await navigator.serviceWorker.getRegistration();
  if (found?.active?.state !== "activated" || found.installing || found.waiting) return false;
  const page = await caches.match("/shelf/");
  return Boolean(page && await caches.match("/static/shelf.js"));
}"""
SEEN = "async () => (await caches.keys()).filter((name) => name.startsWith('counter-seen-'))"


def until(page: Any, script: str) -> None:
    """Wait until an asynchronous script answers with something true; a page that comes anew
    meanwhile is asked again."""
    for _ in range(80):
        try:
            if page.evaluate(script):
                return
        except Error as error:
            if "Execution context was destroyed" not in error.message:
                raise
        page.wait_for_timeout(100)
    raise AssertionError(f"it never came to be: {script}")


def open_shelf(live: Live, page: Any) -> Any:
    page.goto(f"{live.url}/shelf/")
    until(page, KEPT)
    return page


def total(page: Any) -> Any:
    return page.locator("#figures .total span:last-child")


def sales(live: Live) -> list[Any]:
    return list(live.shop.desk.ledger().sales.values())


@pytest.fixture
def cheap_pins(live: Live, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """Everybody has a PIN; the hash is made cheap here."""
    monkeypatch.setattr("counter.trade.people._N", 2**4)
    made = {"rosa": "2580", "ida": "3690"}
    for person, pin in made.items():
        set_pin(live.shop.desk, person, pin)
    return made


def sign_in(live: Live, page: Any, person: str, pin: str) -> None:
    page.goto(f"{live.url}/who/?next=/shelf/")
    page.locator(f'[name=person][value="{person}"]').check()
    page.fill("[name=pin]", pin)
    page.locator("form.card button").click()
    page.wait_for_url("**/shelf/")


def test_a_reload_without_an_answer_shows_the_shelf_as_last_seen(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")
    live.stop()
    page.reload()
    expect(page.locator("#offline")).to_contain_text("Not connected – last seen 8:30")
    expect(page.locator('[data-key="firm"] .figure')).to_have_text("48")
    expect(page.locator("#lines li")).to_have_count(1)
    expect(page.locator(".minutes").first).to_be_hidden()  # a tub's minutes are not promised
    # Things go on the slip; without a price nobody pays.
    page.click(SOFT)
    expect(page.locator("#lines li")).to_have_count(2)
    expect(total(page)).to_have_text("…")
    for pay in ("#pay-card", "#pay-cash", "#pay-both"):
        expect(page.locator(pay)).to_be_disabled()
    assert axe_findings(page) == []
    assert sideways(page) == {}
    page.set_viewport_size(TABLET)
    assert small_targets(page) == []
    page.reload()
    expect(page.locator("#lines li")).to_have_count(2)
    assert sales(live) == []
    live.start()
    expect(page.locator("#offline")).to_be_hidden(timeout=30_000)
    expect(total(page)).to_have_text("$6.25")


def test_the_rows_are_those_last_told_not_those_the_page_came_with(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    live.clock.set("2026-11-24 08:41")
    live.hand.sell("firm-block*5")
    expect(page.locator('[data-key="firm"] .figure')).to_have_text("43")
    until(page, "async () => Boolean(await caches.match('/shelf.json'))")
    live.stop()
    page.reload()
    expect(page.locator('[data-key="firm"] .figure')).to_have_text("43")
    expect(page.locator("#offline")).to_contain_text("last seen 8:41")
    # A page opened later is newer than rows kept before it.
    live.clock.set("2026-11-24 08:52")
    live.hand.sell("firm-block*3")
    live.start()
    expect(page.locator('[data-key="firm"] .figure')).to_have_text("40", timeout=30_000)
    until(
        page, "async () => (await (await caches.match('/shelf/'))?.text() ?? '').includes('8:52')"
    )
    live.stop()
    page.reload()
    expect(page.locator('[data-key="firm"] .figure')).to_have_text("40")
    expect(page.locator("#offline")).to_contain_text("last seen 8:52")


def test_a_payment_that_waits_is_sent_once_when_the_server_is_back(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")

    def lose_the_answer(route: Any) -> None:
        route.fetch()
        live.stop()
        route.abort()

    page.route("**/slip/pay", lose_the_answer, times=1)
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    expect(page.locator("#outbox")).to_contain_text("NOT BOOKED YET: $3.25")
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("NOT BOOKED YET: $3.25")
    expect(page.locator("#offline")).to_be_visible()
    live.start()
    expect(page.locator("#outbox")).to_be_empty(timeout=30_000)
    expect(page.locator("#offline")).to_be_hidden(timeout=30_000)
    assert len(sales(live)) == 1


def test_a_slip_put_together_while_away_is_checked_before_it_is_paid(
    live: Live, tablet: Any
) -> None:
    page = open_shelf(live, tablet)
    live.stop()
    page.reload()
    page.click(FIRM)
    live.shop.holds.hold("26328-01", True, "a hair was found")
    live.start()
    expect(page.locator("#say")).to_contain_text("it is stopped: a hair was found", timeout=30_000)
    expect(page.locator("#lines li.blamed")).to_have_count(1)
    expect(page.locator("#pay-card")).to_be_disabled()
    assert sales(live) == []


def test_another_page_says_that_it_cannot_be_had_and_comes_by_itself(
    live: Live, tablet: Any
) -> None:
    page = open_shelf(live, tablet)
    live.stop()
    page.goto(f"{live.url}/waste/")
    expect(page.locator("h1")).to_have_text("Not connected")
    expect(page.locator("#sent")).to_be_hidden()
    assert "26328" not in page.content()
    assert axe_findings(page) == []
    assert sideways(page) == {}
    page.set_viewport_size(TABLET)
    assert small_targets(page) == []
    live.start()
    expect(page.locator("h1")).to_have_text("Waste", timeout=30_000)


def test_who_signs_out_leaves_nothing_behind(
    live: Live, tablet: Any, cheap_pins: dict[str, str]
) -> None:
    sign_in(live, tablet, "ida", cheap_pins["ida"])
    page = open_shelf(live, tablet)
    page.goto(f"{live.url}/who/")
    page.get_by_role("button", name="Leave").click()
    expect(page.locator("h1")).to_contain_text("Who is at the counter?")
    until(page, f"async () => (await ({SEEN})()).length === 0")
    live.stop()
    page.goto(f"{live.url}/shelf/")
    expect(page.locator("h1")).to_have_text("Not connected")
    assert "Firm" not in page.content()


def test_who_signs_out_while_nobody_answers_leaves_nothing_behind_either(
    live: Live, tablet: Any, cheap_pins: dict[str, str]
) -> None:
    sign_in(live, tablet, "ida", cheap_pins["ida"])
    page = open_shelf(live, tablet)
    page.goto(f"{live.url}/who/")
    live.stop()
    page.get_by_role("button", name="Leave").click()
    expect(page.locator("#sent")).to_contain_text("It is not known whether what you just sent")
    page.goto(f"{live.url}/shelf/")
    expect(page.locator("h1")).to_have_text("Not connected")
    assert page.evaluate(SEEN) == []


def test_only_the_shelf_is_ever_kept_of_the_shop(
    live: Live, tablet: Any, cheap_pins: dict[str, str]
) -> None:
    sign_in(live, tablet, "rosa", cheap_pins["rosa"])
    page = open_shelf(live, tablet)
    for path in ("closing/", "records/", "setup/", "setup/shop", "who/pins"):
        page.goto(f"{live.url}/{path}")
    kept = page.evaluate(
        """async () => {
          const found = [];
          for (const name of await caches.keys())
            for (const asked of await (await caches.open(name)).keys()) found.push(new URL(asked.url).pathname);
          return found.filter((path) => !path.startsWith("/static/") && !path.startsWith("/face/"));
        }"""
    )
    assert set(kept) <= {"/shelf/", "/shelf.json", "/away/", "/icon.svg"}
    # The next person sees nothing of the owner's page, not even its doors.
    page.goto(f"{live.url}/who/")
    page.locator('[name=person][value="ida"]').check()
    page.fill("[name=pin]", cheap_pins["ida"])
    page.locator("form.card button").click()
    page.wait_for_url("**/shelf/")
    until(page, KEPT)
    live.stop()
    page.reload()
    expect(page.locator("#offline")).to_be_visible()
    assert "/setup/" not in page.content()
    expect(page.locator(".whose")).to_contain_text("Ida")


def test_a_session_that_has_ended_meanwhile_shows_no_figures(
    live: Live, tablet: Any, cheap_pins: dict[str, str]
) -> None:
    sign_in(live, tablet, "ida", cheap_pins["ida"])
    live.clock.forward(hours=14, seconds=-3)  # three seconds are left of the session
    page = tablet
    page.goto(f"{live.url}/who/")
    page.evaluate(
        f"async () => {{ for (const name of await ({SEEN})()) await caches.delete(name); }}"
    )
    open_shelf(live, page)
    live.stop()
    page.wait_for_timeout(3500)
    page.reload()
    expect(page.locator("h1")).to_have_text("Not connected")


def test_a_browser_that_was_closed_has_nobody_signed_in_and_shows_no_figures(
    live: Live, tablet: Any, cheap_pins: dict[str, str]
) -> None:
    sign_in(live, tablet, "ida", cheap_pins["ida"])
    page = open_shelf(live, tablet)
    live.stop()
    page.reload()
    expect(page.locator("#offline")).to_be_visible()
    page.context.clear_cookies()  # as closing it does: all of ours end with the browser
    page.goto(f"{live.url}/shelf/")
    expect(page.locator("h1")).to_have_text("Not connected")


def test_a_network_that_is_silent_is_told_like_one_that_refuses(live: Live, tablet: Any) -> None:
    """Out of reach of the radio no request fails: none is answered."""
    page = open_shelf(live, tablet)
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")
    page.route("**/shelf.json", lambda route: None)
    expect(page.locator("#offline")).to_be_visible(timeout=30_000)
    page.unroute("**/shelf.json")
    expect(page.locator("#offline")).to_be_hidden(timeout=30_000)


def test_a_closed_day_is_not_shown_as_last_seen(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    live.shop.evening.close_day()
    expect(page.locator("h1")).to_contain_text("is closed")
    until(page, f"async () => (await ({SEEN})()).length === 0")
    live.stop()
    page.reload()
    expect(page.locator("h1")).to_have_text("Not connected")


@pytest.fixture
def newer(live: Live, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Calling it starts the server again as another version, whose shelf marks itself."""

    def start() -> None:
        folder = tmp_path / "static"
        shutil.copytree(away.HERE / "static", folder)
        script = folder / "shelf.js"
        script.write_text(
            f"{script.read_text('utf-8')}\ndocument.body.dataset.program = 'new';\n", "utf-8"
        )
        monkeypatch.setattr(away, "version", lambda: "another12345")
        there = property(lambda app: str(folder), lambda app, value: None)
        monkeypatch.setattr(CounterApp, "static_folder", there)
        live.start()

    return start


def test_another_version_of_the_program_never_finds_old_scripts(
    live: Live, tablet: Any, newer: Any
) -> None:
    page = open_shelf(live, tablet)
    assert page.evaluate("document.body.dataset.program ?? ''") == ""
    live.stop()
    newer()
    page.reload()
    page.wait_for_function("() => document.body.dataset.program === 'new'")
    until(page, "async () => (await caches.keys()).every((name) => name.endsWith('another12345'))")
    until(page, KEPT)
    live.stop()
    page.reload()
    expect(page.locator("#offline")).to_be_visible()
    assert page.evaluate("document.body.dataset.program") == "new"


def test_without_workers_the_page_works_as_before(live: Live, chromium: Any) -> None:
    """As over plain http from another computer, where browsers let no worker in."""
    context = chromium.new_context(viewport=TABLET)
    page = context.new_page()
    told: list[str] = []
    page.on("pageerror", lambda error: told.append(str(error)))
    page.add_init_script("delete Navigator.prototype.serviceWorker; delete globalThis.caches;")
    page.goto(f"{live.url}/shelf/")
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")
    live.stop()
    expect(page.locator("#offline")).to_contain_text("Not connected – last seen 8:30")
    live.start()
    expect(page.locator("#offline")).to_be_hidden(timeout=30_000)
    assert told == []
    context.close()
