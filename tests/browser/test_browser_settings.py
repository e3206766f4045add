"""The settings in a real Chromium: readable, by keyboard, on every screen; other tablets follow."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from counter.web.shop_forms import PARTS
from tests.browser.conftest import TABLET, Live
from tests.browser.looks import axe_findings, sideways, small_targets
from tests.browser.test_browser_every_page import by_keyboard

PATHS = ("shop", *(f"shop/{part}" for part in PARTS), "blanks/edit")


@pytest.mark.parametrize("path", PATHS)
def test_it_is_readable_fits_every_screen_and_goes_by_keyboard_alone(
    live: Live, tablet: Any, path: str
) -> None:
    tablet.goto(f"{live.url}/setup/{path}")
    assert axe_findings(tablet) == []
    assert sideways(tablet) == {}
    tablet.set_viewport_size(TABLET)
    assert small_targets(tablet) == []
    tablet.evaluate("document.activeElement?.blur()")
    assert by_keyboard(tablet) == (set(), [], True)


def test_a_refusal_stands_at_its_field_and_is_readable(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/setup/shop/hours")
    tablet.get_by_label("Time zone").fill("Mars/Base")
    tablet.get_by_label("Closes").fill("17:15")
    tablet.get_by_role("button", name="Keep").click()
    zone = tablet.get_by_label("Time zone")
    expect(zone).to_have_value("Mars/Base")
    expect(zone).to_have_attribute("aria-invalid", "true")
    fault = tablet.locator('[id="e-shop.timezone"]')
    expect(fault).to_have_text("There is no time zone 'Mars/Base'.")
    expect(tablet.get_by_label("Closes")).to_have_value("17:15")
    assert axe_findings(tablet) == []
    assert sideways(tablet) == {}


def test_another_tablet_asks_the_new_tax_without_being_reloaded(
    live: Live, tablet: Any, chromium: Any
) -> None:
    context = chromium.new_context(viewport=TABLET)
    other = context.new_page()
    other.goto(f"{live.url}/shelf/")
    other.click('[data-portion="cup-small"]')
    total = other.locator("#figures .total span:last-child")
    expect(total).to_have_text("$3.80")
    tablet.goto(f"{live.url}/setup/")
    tablet.get_by_role("link", name="Shop and settings").click()
    tablet.get_by_role("link", name="Change: Tax").click()
    line = tablet.locator(".line").nth(1)
    line.get_by_label("Take away %").fill("10.5")
    tablet.get_by_role("button", name="Keep").click()
    expect(tablet.locator("p.notice")).to_contain_text("Kept. It holds from now on")
    expect(total).to_have_text("$3.87")
    other.click("#pay-card")
    other.locator("dialog [data-last]").click()
    expect(other.locator("#done .booked")).to_contain_text("$3.87")
    context.close()


def test_a_blank_is_drawn_before_it_is_kept(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/setup/blanks")
    tablet.get_by_role("link", name="Add a blank of your own").click()
    tablet.get_by_label("Its name").fill("mine-2x2")
    tablet.get_by_label("It comes on").select_option("letter")
    tablet.get_by_label("Width of a label").fill("90")
    tablet.get_by_label("Height of a label").fill("50")
    tablet.get_by_label("Labels side by side").fill("2")
    tablet.get_by_label("Labels one below the other").fill("2")
    tablet.get_by_label("Margin at the left").fill("10")
    tablet.get_by_role("button", name="Draw it").click()
    expect(tablet.locator(".drawn rect.one")).to_have_count(4)
    expect(tablet.get_by_label("Width of a label")).to_have_value("90")
    assert live.shop.labels.blanks().get("mine-2x2") is None
    tablet.get_by_role("button", name="Keep").click()
    expect(tablet.locator("p.notice")).to_contain_text("Blank mine-2x2 can be used.")
    assert axe_findings(tablet) == []
