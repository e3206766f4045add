"""Packs weighed in a real browser: the pad, the price while typing, a list that outlives errors."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import TABLET, Live
from tests.browser.looks import axe_findings, sideways, small_targets
from tests.browser.test_browser_every_page import by_keyboard

LOT = "26328-03"


def weigh(page: Any, weight: str) -> None:
    """On the pad, key by key, then Add."""
    for key in weight:
        page.locator("#pad").get_by_role("button", name=key, exact=True).click()
    page.get_by_role("button", name="Add").click()
    expect(page.locator("#f-weight")).to_have_value("")


def test_packs_are_weighed_with_the_pad_and_each_label_is_printed_once(
    live: Live, tablet: Any
) -> None:
    tablet.goto(f"{live.url}/labels/")
    tablet.get_by_role("link", name="Weigh each pack (lb)").click()
    expect(tablet.get_by_role("button", name="Make the PDF and print it")).to_be_disabled()
    tablet.locator("#pad").get_by_role("button", name="1", exact=True).click()
    expect(tablet.locator("#costs")).to_have_text("1 lb · $8.90")
    tablet.locator("#pad").get_by_role("button", name="⌫ 1").click()
    weigh(tablet, "0.42")
    weigh(tablet, "0.38")
    tablet.fill("#f-weight", "190 g")
    tablet.keyboard.press("Enter")  # as a scale that types does
    rows = tablet.locator("#packs li")
    expect(rows).to_have_count(3)
    expect(rows.nth(2)).to_contain_text("0.41 lb")
    expect(rows.nth(2)).to_contain_text("$3.65")
    expect(tablet.locator("#sum")).to_have_text("3 packs, 1.21 lb, $10.77")
    expect(tablet.locator("#page-of")).to_have_text("Page 3 of 3")
    tablet.get_by_role("button", name="Take pack 2 off the list, 0.38 lb").click()
    expect(rows).to_have_count(2)
    expect(tablet.locator("#page")).to_be_visible()
    tablet.get_by_role("button", name="Make the PDF and print it").click()
    tablet.wait_for_url(f"**/labels/done/{LOT}-203dpi.pdf")
    assert "26328-03: 2 labels, pages: 2. It is recorded." in tablet.inner_text("main")
    assert [p.labels for p in live.shop.products.printed_of(LOT)] == [2]
    tablet.goto(f"{live.url}/labels/weigh/?lot={LOT}")
    expect(rows).to_have_count(0)  # a list that was printed is gone


def test_a_list_is_pasted_and_survives_a_slip_a_reload_and_a_counter_that_is_away(
    live: Live, tablet: Any
) -> None:
    tablet.goto(f"{live.url}/labels/weigh/?lot={LOT}")
    tablet.locator("summary", has_text="As text").click()
    tablet.fill("#f-weights", "0.42\n0.38 many\n0.5")
    expect(tablet.locator("#e-weights")).to_contain_text("the unit 'many' is not known here")
    expect(tablet.locator("#save")).to_be_disabled()
    tablet.fill("#f-weights", "0.42\n0.38\n0.5")
    expect(tablet.locator("#packs li")).to_have_count(3)
    tablet.reload()
    expect(tablet.locator("#packs li")).to_have_count(3)
    expect(tablet.locator("#save")).to_be_enabled()
    live.stop()
    tablet.click("#save")
    expect(tablet.locator("#say")).to_be_visible()
    tablet.fill("#f-weight", "0.6")
    tablet.keyboard.press("Enter")
    expect(tablet.locator("#f-weight")).to_have_value("0.6")  # not lost: it was not taken
    live.start()
    tablet.keyboard.press("Enter")
    expect(tablet.locator("#packs li")).to_have_count(4)
    expect(tablet.locator("#save")).to_be_enabled()
    tablet.click("#save")
    tablet.wait_for_url(f"**/labels/done/{LOT}-203dpi.pdf")
    assert [p.labels for p in live.shop.products.printed_of(LOT)] == [4]


def test_a_lot_that_is_stopped_meanwhile_is_refused_and_the_list_stays(
    live: Live, tablet: Any
) -> None:
    tablet.goto(f"{live.url}/labels/weigh/?lot={LOT}")
    tablet.fill("#f-weight", "0.42")
    tablet.keyboard.press("Enter")
    expect(tablet.locator("#save")).to_be_enabled()
    live.shop.holds.hold(LOT, True, "smells sour")
    tablet.click("#save")
    expect(tablet.locator("#say")).to_contain_text("smells sour")
    expect(tablet.locator("#packs li")).to_have_count(1)
    assert live.shop.products.printed_of(LOT) == []


def test_the_list_prints_without_the_pages_program(live: Live, chromium: Any) -> None:
    context = chromium.new_context(viewport=TABLET, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live.url}/labels/weigh/?lot={LOT}")
    page.fill("#f-weights", "0.42\nmany")
    page.click("#save")
    assert "Cannot read weight 'many'" in page.inner_text("main")
    assert page.input_value("#f-weights") == "0.42\nmany"
    page.fill("#f-weights", "0.42\n0.38")
    page.click("#save")
    assert "2 labels, pages: 2" in page.inner_text("main")
    context.close()


@pytest.mark.parametrize("weights", ["", "0.42%0A0.38%0A0.5"])
def test_the_page_is_readable_for_all_and_goes_by_keyboard(
    live: Live, tablet: Any, weights: str
) -> None:
    tablet.goto(f"{live.url}/labels/weigh/?lot={LOT}&weights={weights}")
    if weights:
        expect(tablet.locator("#page")).to_be_visible()
    missed, unseen, out = by_keyboard(tablet)
    assert (missed, unseen, out) == (set(), [], True)
    tablet.locator("summary", has_text="As text").click()
    assert axe_findings(tablet) == []
    assert sideways(tablet) == {}
    tablet.set_viewport_size(TABLET)
    assert small_targets(tablet) == []
