"""What can hardly be, asked of a person at a tablet: a payment that was kept, labels, the closing."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Live
from tests.browser.looks import axe_findings, sideways, small_targets

pytestmark = pytest.mark.usefixtures("nobody_answers")
FIRM = '[data-portion="firm-block"]'
SHOTS = os.environ.get("COUNTER_SHOTS")


def shot(page: Any, name: str) -> None:
    """A picture to look at, where somebody wants one."""
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"{name}.png", full_page=True)


def pay(page: Any) -> None:
    page.click(FIRM)
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()


def sales(live: Live) -> int:
    return len(live.shop.desk.ledger().sales)


def test_a_payment_kept_over_a_skipped_day_is_asked_about_and_booked_once_answered(
    live: Live, tablet: Any
) -> None:
    live.clock.set("2026-11-27 08:00")
    tablet.goto(f"{live.url}/shelf/")
    tablet.click(FIRM)
    tablet.click("#pay-card")
    live.stop()
    tablet.locator("dialog [data-last]").click()
    expect(tablet.locator("#outbox .waiting:not(.brief)")).to_be_visible()
    live.start()
    box = tablet.locator("dialog[open]")
    expect(box).to_contain_text("It is Friday 2026-11-27, and the day written last is Tuesday")
    assert (axe_findings(tablet), small_targets(tablet)) == ([], [])
    shot(tablet, "asked-dialog")
    box.locator("input").fill("shut for the feast")
    box.get_by_role("button", name="It is so").click()
    expect(tablet.locator("#done .booked")).to_be_visible()
    expect(tablet.locator("#outbox .waiting")).to_have_count(0)
    tablet.click("#next")
    pay(tablet)  # and no more questions on that day
    expect(tablet.locator("#done .booked")).to_contain_text("0002")
    assert sales(live) == 2


def test_a_question_put_away_leaves_the_slip_and_books_nothing(live: Live, tablet: Any) -> None:
    live.clock.set("2026-11-27 08:00")
    tablet.goto(f"{live.url}/shelf/")
    pay(tablet)
    tablet.locator("dialog[open]").get_by_role("button", name="No, back").click()
    expect(tablet.locator("#say")).to_contain_text("it is Friday 2026-11-27")
    expect(tablet.locator("#pay-card")).to_be_enabled()
    assert sales(live) == 0


def test_a_page_opened_anew_asks_again_for_the_payment_that_waits(live: Live, tablet: Any) -> None:
    live.clock.set("2026-11-27 08:00")
    tablet.goto(f"{live.url}/shelf/")
    pay(tablet)
    expect(tablet.locator("dialog[open]")).to_be_visible()
    tablet.reload()
    expect(tablet.locator("dialog[open]")).to_contain_text("It is Friday 2026-11-27")


def test_labels_of_a_skipped_day_ask_and_are_printed(live: Live, tablet: Any) -> None:
    live.clock.set("2026-11-26 08:00")
    tablet.goto(f"{live.url}/labels/?lot=26328-01")
    tablet.wait_for_selector("#page:not([hidden])")
    tablet.click("#save")
    box = tablet.locator("dialog[open]")
    expect(box).to_contain_text("It is Thursday 2026-11-26")
    box.locator("input").fill("closed yesterday")
    box.get_by_role("button", name="It is so").click()
    tablet.wait_for_url("**/labels/done/26328-01*.pdf")
    expect(tablet.locator("main")).to_contain_text("It is Thursday, November 26, 2026.")


def test_a_count_above_all_that_was_there_is_asked_as_it_is_typed(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/closing/")
    tablet.locator("#lot-26328-01").fill("480")
    tablet.keyboard.press("Enter")
    box = tablet.locator("dialog[open]")
    expect(box).to_contain_text("480 of lot 26328-01 is more than the 48 ever there")
    box.locator("input").fill("a whole rack was not logged")
    box.get_by_role("button", name="It is so").click()
    expect(tablet.locator("tr:has(#lot-26328-01) .chip")).to_have_text("432 too much")


@pytest.mark.parametrize("size", [(1024, 768), (390, 844)])
def test_the_closing_asks_in_its_preview(live: Live, tablet: Any, size: tuple[int, int]) -> None:
    live.hand.batch("soft", 30, cooled=None, cook_ended=live.clock().time())
    tablet.goto(f"{live.url}/closing/preview?cash=140")
    assert (axe_findings(tablet), small_targets(tablet), sideways(tablet)) == ([], [], {})
    tablet.set_viewport_size({"width": size[0], "height": size[1]})
    shot(tablet, f"closing-{size[0]}")
    tablet.get_by_role("button", name="Seal the day").click()  # nothing is said yet: it stays
    tablet.get_by_label("Cash: $10.00 missing").fill("the ice man")
    tablet.get_by_label("Nobody counted").fill("no time")
    tablet.get_by_label("That it reached 5 °C").fill("it stands in the ice")
    tablet.get_by_role("button", name="Seal the day").click()
    expect(tablet.locator("p.notice").first).to_contain_text("is closed and sealed")
    expect(tablet.locator("main")).to_contain_text("it stands in the ice")


def test_a_form_is_asked_on_its_own_page(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/closing/drawer")
    tablet.check("[name=kind][value=in]")
    tablet.locator("#f-amount").fill("2000")
    tablet.locator("#f-why").fill("change")
    tablet.locator("form:has(#f-why) button").click()
    expect(tablet.locator("h1")).to_have_text("Is that so?")
    assert (axe_findings(tablet), small_targets(tablet), sideways(tablet)) == ([], [], {})
    tablet.set_viewport_size({"width": 390, "height": 844})
    shot(tablet, "asked-page")
    tablet.get_by_label("2000.00, where the drawer").fill("for the fair")
    tablet.get_by_role("button", name="It is so: book it").click()
    expect(tablet.locator("main")).to_contain_text("2,000.00")


def test_who_goes_back_from_a_question_finds_all_that_was_typed(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/log/new?product=firm")
    tablet.fill("[name=made]", "4800")
    tablet.check("[name=cook][value=boiled]")
    for name, text in (("cook-minutes", "10"), ("cooked-at", "08:20"), ("notes", "calm night")):
        tablet.fill(f"[name={name}]", text)
    tablet.click("form button.large")
    expect(tablet.get_by_label("4800 for the amount made")).to_be_focused()
    tablet.get_by_role("link", name="No, back").click()
    tablet.wait_for_url("**/log/new?product=firm")
    expect(tablet.locator("[name=made]")).to_have_value("4800")
    expect(tablet.locator("[name=notes]")).to_have_value("calm night")
    expect(tablet.locator("[name=cook][value=boiled]")).to_be_checked()
    tablet.fill("[name=made]", "48")
    tablet.click("form button.large")
    tablet.wait_for_url("**/log/lot/26328-05")
    tablet.goto(f"{live.url}/log/new?product=firm")  # and another day's form is its own
    expect(tablet.locator("[name=notes]")).to_have_value("")


def test_what_is_said_moves_no_row_that_a_finger_is_on_its_way_to(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/shelf/")
    before = tablet.locator(FIRM).bounding_box()
    tablet.fill("#code", "26328-77")
    tablet.keyboard.press("Enter")
    expect(tablet.locator("#say")).to_be_visible()
    assert tablet.locator(FIRM).bounding_box() == before


def test_a_tap_that_lands_as_a_band_moves_the_rows_puts_nothing_on_the_slip(
    live: Live, tablet: Any
) -> None:
    tablet.goto(f"{live.url}/shelf/")
    tablet.evaluate(
        """() => new MutationObserver((_, watch) => {
          if (!document.querySelector("#band section")) return;
          watch.disconnect();
          const at = document.querySelector("#rows .tap").getBoundingClientRect();
          setTimeout(() => {
            document.elementFromPoint(at.x + 20, at.y + 10).dispatchEvent(
              new MouseEvent("click", {bubbles: true, detail: 1}));
            document.body.dataset.tapped = "yes";
          }, 60);
        }).observe(document.getElementById("band"), {childList: true, subtree: true})"""
    )
    live.shop.holds.hold("26328-02", True, "a hair was found")
    expect(tablet.locator("body")).to_have_attribute("data-tapped", "yes")
    expect(tablet.locator("#lines li")).to_have_count(0)
    tablet.wait_for_timeout(400)
    tablet.click(FIRM)  # aimed at anew, it is taken
    expect(tablet.locator("#lines li")).to_have_count(1)
