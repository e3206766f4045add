"""A tub opened on the tablet: never unmeasured, and a hot one is asked whether it was cold."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import expect

from tests.browser.conftest import Live


def test_a_hot_tub_is_asked_whether_it_was_cold(live: Live, tablet: Any) -> None:
    # Food Code 3-403.11(A),(D); a tub that nobody measured is not opened.
    tablet.goto(f"{live.url}/shelf/")
    tablet.locator("[data-open-tub]").click()
    tablet.locator("dialog [value=hot]").check(force=True)
    tablet.get_by_role("button", name="Open it").click()
    expect(tablet.get_by_label(re.compile("Temperature measured"))).to_be_focused()
    tablet.get_by_label(re.compile("Temperature measured")).fill("140")
    tablet.get_by_role("button", name="Open it").click()
    expect(tablet.locator("dialog h2")).to_have_text("Was it cold before?")
    tablet.get_by_role("button", name="No, it comes straight from the cook").click()
    expect(tablet.locator("#say")).to_contain_text("it was cooled, and how hot it was reheated")
    tablet.locator("[data-open-tub]").click()
    tablet.locator("dialog [value=hot]").check(force=True)
    tablet.get_by_label(re.compile("Temperature measured")).fill("140")
    tablet.get_by_role("button", name="Open it").click()
    tablet.get_by_label(re.compile("Reheated to")).fill("165")
    tablet.get_by_role("button", name="Open it").click()
    tablet.get_by_label("in minutes").fill("45")
    tablet.get_by_role("button", name="Open it").click()
    expect(tablet.locator("#say")).to_contain_text("26328-04/2")
    assert [t.mode for t in live.shop.desk.ledger().open_tubs()] == ["cold", "hot"]
