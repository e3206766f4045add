"""The production log in a real browser: by keyboard, with the date while typing, with two taps."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.browser.conftest import Live
from tests.browser.looks import axe_findings, sideways, small_targets


def tab_to(page: Any, name: str) -> None:
    """Tab on until the field of that name has the focus, as somebody without a mouse does."""
    for _ in range(60):
        if page.evaluate("document.activeElement?.name ?? ''") == name:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{name} is not reached by keyboard")


def test_a_batch_is_logged_by_keyboard_and_the_date_is_shown_while_typing(
    live: Live, tablet: Any
) -> None:
    tablet.goto(f"{live.url}/log/new?product=soft")
    tablet.wait_for_selector("#p-lot:text('26328-05')")
    assert tablet.inner_text("#p-day") == "Friday, November 27, 2026"
    assert tablet.inner_text("#p-reason") == "keeps 4 days, the day made is day 1."
    assert "no cook is recorded" in tablet.inner_text("#p-gates")
    tab_to(tablet, "made")
    tablet.keyboard.press("Control+A")
    tablet.keyboard.type("60")
    tablet.keyboard.press("Enter")  # goes on to the next field, sends nothing
    assert tablet.evaluate("document.activeElement.name") == "brix"
    tablet.keyboard.type("12.4")
    tab_to(tablet, "amount.soybeans")
    tablet.keyboard.type("26 stone")
    tab_to(tablet, "cook")
    tablet.wait_for_selector("[name='amount.soybeans'][aria-invalid=true]")
    assert "the unit 'stone' is not known" in tablet.inner_text("[id='e-amount.soybeans']")
    tablet.keyboard.press("ArrowRight")  # from "not yet" round to "boiled"
    tab_to(tablet, "cook-minutes")
    tablet.keyboard.type("10")
    tablet.keyboard.press("Tab")
    tablet.fill("[name='amount.soybeans']", "9kg")
    tablet.wait_for_selector(".notice.stop", state="detached")
    tab_to(tablet, "notes")
    tablet.keyboard.type("calm night")
    tablet.focus("form button.large")
    tablet.keyboard.press("Enter")
    tablet.wait_for_url("**/log/lot/26328-05")
    batch = live.shop.desk.batch("26328-05")
    assert (batch.made, batch.brix, batch.raw) == (60, Decimal("12.4"), "")
    assert (batch.cook.minutes, batch.notes) == (10, "calm night")
    assert "Lot 26328-05 of Soft Tofu is in the log." in tablet.inner_text("main")


def test_the_cook_of_the_last_time_and_the_time_of_now_take_one_tap(
    live: Live, tablet: Any
) -> None:
    tablet.goto(f"{live.url}/log/new?product=firm")
    tablet.click("[data-fill]")
    tablet.click("[data-now-for='cooked-at']")
    assert tablet.input_value("[name=cook-minutes]") == "10"
    assert tablet.input_value("[name=cooked-at]") == "08:30"  # the shop's clock, not the tablet's
    assert tablet.is_checked("[name=cook][value=boiled]")
    assert not tablet.is_visible("[name=cook-temp]")
    tablet.check("[name=cook][value=held]")
    assert tablet.is_visible("[name=cook-temp]")


def test_cooling_is_added_with_two_taps_and_a_lot_is_stopped_and_released(
    live: Live, tablet: Any
) -> None:
    assert live.hand.hot("firm", 48).lot == "26328-05"
    tablet.goto(f"{live.url}/log/")
    card = tablet.locator("section.batch", has_text="26328-05")
    card.get_by_role("button", name="21 °C / 70 °F reached now").click()
    tablet.wait_for_selector("text=Cooling of lot 26328-05 noted at 8:30 AM.")
    assert tablet.url == f"{live.url}/log/"  # the next lot that waits stands there too
    live.clock.set("2026-11-24 09:50")
    card.get_by_role("link").click()
    tablet.get_by_role("button", name="5 °C / 41 °F reached now").click()
    tablet.wait_for_selector("text=Cooling of lot 26328-05 noted at 9:50 AM.")
    cooling = live.shop.desk.batch("26328-05").cooling
    assert (f"{cooling.to_21:%H:%M}", f"{cooling.to_5:%H:%M}") == ("08:30", "09:50")
    tablet.locator("#f-why").fill("smells sour")
    tablet.get_by_role("button", name="Stop it").click()
    tablet.wait_for_selector("text=Lot 26328-05 is stopped")
    assert live.shop.desk.ledger().rows["26328-05"].lot.stopped == "smells sour"
    tablet.locator("#f-why").fill("tasted by two, good")
    tablet.get_by_role("button", name="Release it").click()
    tablet.wait_for_selector("text=Lot 26328-05 is released.")
    assert live.shop.desk.ledger().rows["26328-05"].lot.stopped == ""


def test_a_figure_is_corrected_and_the_rest_stays(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/log/lot/26328-02")
    tablet.click("text=Correct or complete")
    tablet.fill("[name=brix]", "12.4")
    tablet.fill("[name=because]", "misread")
    tablet.click("text=Write the correction down")
    tablet.wait_for_url("**/log/lot/26328-02")
    batch = live.shop.desk.batch("26328-02")
    assert (batch.brix, batch.made, batch.revision, batch.raw) == (Decimal("12.4"), 30, 1, "")


@pytest.mark.parametrize(
    "path", ["/log/", "/log/new?product=firm", "/log/lot/26328-01", "/log/lot/26328-01/amend"]
)
def test_every_page_of_the_log_is_readable_for_all_and_never_scrolls_sideways(
    live: Live, tablet: Any, path: str
) -> None:
    for brix in ("11.2", "9.1", "12"):
        live.hand.batch("firm", 48, brix=Decimal(brix))
    tablet.goto(f"{live.url}{path}")
    if path == "/log/new?product=firm":
        tablet.wait_for_selector("#p-gates .notice")
    for details in tablet.locator("summary").all():
        details.click()
    assert axe_findings(tablet) == []
    assert small_targets(tablet) == []
    assert sideways(tablet) == {}


def test_a_form_that_comes_back_begins_at_the_field_to_look_at(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/log/new?product=firm")
    tablet.fill("[name=press-minutes]", "a while")
    tablet.fill("[name=press]", "60psi")
    tablet.locator("form#batch button.large").click()
    tablet.wait_for_selector("text=1 field wants another look")
    tablet.wait_for_function("document.activeElement.getAttribute('aria-invalid') === 'true'")
