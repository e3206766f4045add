"""Which lot it is, asked at the shelf in a real Chromium: picked in one tap, or scanned."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Live
from tests.browser.looks import axe_findings, sideways, small_targets
from tests.browser.test_browser_shelf import FIRM, booked, open_shelf

BAD, GOOD = "26328-01", "26328-05"


@pytest.fixture
def doubtful(live: Live) -> Live:
    live.shop.holds.hold(BAD, True, "a hair was found")
    live.hand.batch("firm", 1)
    return live


def draws(live: Live, number: str) -> list[tuple[str, int, str]]:
    return [(d.lot, d.amount, d.how) for n in live.shop.counter.sale(number).lines for d in n.draws]


def test_the_lot_is_picked_when_the_piece_is_put_on_the_slip_and_paying_stays_two_taps(
    doubtful: Live, tablet: Any
) -> None:
    page = open_shelf(doubtful, tablet)
    page.click(FIRM)
    expect(page.locator("#pay-card")).to_be_enabled()
    page.click(FIRM)
    asked = page.locator("dialog[open]")
    expect(asked).to_contain_text("the log has only 1 more that may be sold")
    expect(asked.get_by_role("button", name=BAD)).to_be_disabled()
    expect(asked.get_by_role("button", name=BAD)).to_contain_text("a hair was found")
    for size in ((390, 844), (1024, 768)):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert not sideways(page)
        assert not small_targets(page)
    assert not axe_findings(page)
    asked.get_by_role("button", name=GOOD).click()
    expect(page.locator("#lines li")).to_have_count(1)
    expect(page.locator("#lines")).to_contain_text(GOOD)
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    assert draws(doubtful, booked(page)) == [(GOOD, 2, "named")]


def test_a_question_put_away_is_asked_again_from_the_slip_and_a_scan_answers_it(
    doubtful: Live, tablet: Any
) -> None:
    doubtful.hand.sell("firm-block")
    page = open_shelf(doubtful, tablet)
    page.click(FIRM)
    page.locator("dialog[open]").get_by_role("button", name="Close").click()
    expect(page.locator("#pay-card")).to_be_disabled()
    page.locator("#lines").get_by_role("button", name="Which lot is it?").click()
    expect(page.locator("dialog[open]")).to_be_visible()
    page.keyboard.type(GOOD)
    page.keyboard.press("Enter")
    expect(page.locator("dialog[open]")).to_have_count(0)
    expect(page.locator("#lines li")).to_have_count(1)
    expect(page.locator("#pay-card")).to_be_enabled()
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    assert draws(doubtful, booked(page)) == [(GOOD, 1, "scanned")]


def test_a_number_that_names_no_lot_goes_on_the_slip_with_the_lot_that_is_picked(
    doubtful: Live, tablet: Any
) -> None:
    page = open_shelf(doubtful, tablet)
    page.focus("#code")
    page.keyboard.type("9521234000013")
    page.keyboard.press("Enter")
    page.locator("dialog[open]").get_by_role("button", name=GOOD).click()
    expect(page.locator("#lines li")).to_have_count(1)
    expect(page.locator("#pay-card")).to_be_enabled()
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    assert draws(doubtful, booked(page)) == [(GOOD, 1, "named")]
