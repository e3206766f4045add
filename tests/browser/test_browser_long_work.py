"""Work that takes long, in a real browser: said from the tap on, how far, and when it is done."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from counter.shop.reports import Reports
from tests.browser.conftest import TABLET, Live
from tests.browser.looks import axe_findings, sideways, small_targets

INSPECTOR = "Folder for the inspector (PDF)"


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """The inspector's folder waits, a quarter done, until this is set."""
    go, write = threading.Event(), Reports.write_inspection

    def slow(self: Reports, *given: Any) -> Path:
        given[-1](1, 4)
        assert go.wait(20)
        return write(self, *given)

    monkeypatch.setattr(Reports, "write_inspection", slow)
    yield go
    go.set()


def test_a_paper_says_how_far_it_is_the_page_stays_usable_and_it_is_saved_when_done(
    live: Live, tablet: Any, held: threading.Event
) -> None:
    asked: list[str] = []
    tablet.on("request", lambda one: asked.append(one.url) if "inspection.pdf" in one.url else None)
    tablet.goto(f"{live.url}/records/")
    button = tablet.get_by_role("button", name=INSPECTOR)
    button.click()
    box = tablet.locator(".job")
    expect(box.get_by_role("status")).to_have_text(
        f"{INSPECTOR}: under way. This page can be used meanwhile."
    )
    expect(box.get_by_role("progressbar")).to_have_js_property("max", 4)
    expect(box.get_by_role("progressbar")).to_have_js_property("value", 1)
    button.click(force=True)  # a second tap does nothing
    tablet.fill("#f-q", "26328-01")  # and the page can be used
    assert axe_findings(tablet) == []
    assert sideways(tablet) == {}
    tablet.set_viewport_size(TABLET)
    with tablet.expect_download() as taken:
        held.set()
    assert taken.value.suggested_filename == "inspection-2026-11-24-2026-11-24.pdf"
    assert Path(taken.value.path()).read_bytes().startswith(b"%PDF")
    expect(box.get_by_role("status")).to_contain_text("is ready.")
    assert len(asked) == 1
    assert axe_findings(tablet) == []
    assert small_targets(tablet) == []
    with tablet.expect_download():
        tablet.get_by_role("link", name="Save it once more").click()


def test_what_is_refused_is_said_and_can_be_tapped_again(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/records/")
    tablet.fill("#p-first", "2025-01-01")
    tablet.fill("#p-last", "2025-01-02")
    tablet.get_by_role("button", name=INSPECTOR).click()
    expect(tablet.locator("#say")).to_contain_text("no day of them has a book")
    expect(tablet.locator(".job")).to_have_count(0)
    tablet.fill("#p-last", "2026-11-24")
    with tablet.expect_download():
        tablet.get_by_role("button", name=INSPECTOR).click()


def test_a_counter_that_is_started_again_meanwhile_says_so(
    live: Live, tablet: Any, held: threading.Event
) -> None:
    tablet.goto(f"{live.url}/records/")
    tablet.get_by_role("button", name=INSPECTOR).click()
    expect(tablet.get_by_role("progressbar")).to_have_js_property("max", 4)
    live.stop()
    live.start()
    expect(tablet.locator("#say")).to_contain_text("Tap once more", timeout=15000)
    held.set()


@pytest.mark.parametrize("name", ["Recall sheet (PDF)", "Recall sheet (CSV)"])
def test_a_recall_sheet_is_saved_from_the_record_of_its_lot(
    live: Live, tablet: Any, name: str
) -> None:
    tablet.goto(f"{live.url}/records/lot/26328-01")
    with tablet.expect_download() as taken:
        tablet.get_by_role("link", name=name).click()
    assert taken.value.suggested_filename.startswith("recall-26328-01.")


def test_papers_are_saved_without_the_pages_program(live: Live, chromium: Any) -> None:
    context = chromium.new_context(viewport=TABLET, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live.url}/records/")
    for role, name in (("link", "Closing report (PDF)"), ("button", INSPECTOR),
                       ("button", "Tables (CSV)")):  # fmt: skip
        with page.expect_download() as taken:
            page.get_by_role(role, name=name).click()
        assert taken.value.failure() is None
    context.close()


def test_the_books_are_checked_and_a_copy_is_read_back_with_a_bar(live: Live, tablet: Any) -> None:
    with (live.folder / "shop.toml").open("a", encoding="utf-8") as file:
        file.write('\n[backup]\nfolder = "backups"\n')
    tablet.goto(f"{live.url}/setup/backups/")
    tablet.get_by_role("button", name="Check the books").click()
    expect(tablet.locator("p.notice").first).to_contain_text("Each follows from the one before it.")
    tablet.get_by_role("button", name="Copy now").click()
    expect(tablet.locator("p.notice").first).to_contain_text("Backup written and read back")
    tablet.locator("tbody").get_by_role("button").click()
    expect(tablet.locator("p.notice").first).to_contain_text("can be put back")
    assert axe_findings(tablet) == []
    assert sideways(tablet) == {}


def test_a_stop_takes_along_what_was_made_and_what_is_released_is_stopped_with_a_tap(
    live: Live, tablet: Any
) -> None:
    for _ in range(2):
        live.hand.batch("smoked", 24, mixed=(("26328-01", 10),))
    tablet.goto(f"{live.url}/log/lot/26328-01")
    tablet.fill("[name=why]", "beans recalled")
    tablet.get_by_role("button", name="Stop it", exact=True).click()
    tablet.wait_for_selector("text=Lots 26328-01, 26328-05, 26328-06 are stopped")
    expect(tablet.locator(".unstopped")).to_have_count(0)
    live.hand.shop.holds.hold("26328-06", False, "made before", by="Rosa")
    tablet.goto(f"{live.url}/log/lot/26328-01")
    expect(tablet.get_by_role("button", name="Stop lot 26328-06 too")).to_be_visible()
    assert axe_findings(tablet) == []
    assert sideways(tablet) == {}
    tablet.set_viewport_size(TABLET)
    assert small_targets(tablet) == []
    tablet.get_by_role("button", name="Stop lot 26328-06 too").click()
    expect(tablet.locator(".unstopped")).to_have_count(0)
    held = live.shop.desk.ledger().held
    assert held("26328-05") == "lot 26328-01 went into it: beans recalled"
    assert held("26328-06") == "beans recalled"


def test_a_correction_shows_what_it_will_do_while_one_types(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/log/lot/26328-01/amend")
    expect(tablet.locator("#p-lot")).to_have_text("26328-01")
    expect(tablet.locator("#p-day")).to_have_text("Saturday, November 28, 2026")
    tablet.fill("[name='amount.gypsum']", "0")
    expect(tablet.locator("#p-gates")).to_contain_text("Calcium Sulfate was left out")
    tablet.select_option("[name='mixed-lot-1']", "26328-02")
    tablet.fill("[name='mixed-amount-1']", "3")
    expect(tablet.locator("#p-reason")).to_contain_text("lot 26328-02 went into it")
    expect(tablet.locator("#p-day")).to_have_text("Friday, November 27, 2026")
    tablet.fill("[name=because]", "it was mixed")
    tablet.get_by_role("button", name="Write the correction down").click()
    tablet.wait_for_url("**/log/lot/26328-01")
    assert str(live.shop.desk.batch("26328-01").mark.day) == "2026-11-27"
