"""A payment that waits in the browser: said on every page, booked as it was paid, never lost."""

from __future__ import annotations

import time
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import SIZES, Live, pay_unanswered
from tests.browser.looks import axe_findings, sideways, small_targets
from tests.browser.test_browser_away import cheap_pins, open_shelf, sales, sign_in, total

FIRM, SOFT = '[data-portion="firm-block"]', '[data-portion="soft-block"]'
WAITS = "A payment of $3.25 waits on this device and is not booked yet."
__all__ = ["cheap_pins"]


def take(live: Live, page: Any, portion: str = FIRM, shown: str = "$3.25") -> None:
    """Take a payment by card that the shop's computer does not hear of: it is away."""
    page.click(portion)
    expect(total(page)).to_have_text(shown)
    live.stop()
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    expect(page.locator("#outbox")).to_contain_text(f"NOT BOOKED YET: {shown}, taken")


def leave(live: Live, page: Any) -> None:
    page.goto(f"{live.url}/who/")
    page.get_by_role("button", name="Leave").click()
    expect(page.locator("h1")).to_contain_text("Who is at the counter?")


def only(live: Live) -> Any:
    for _ in range(100):  # an outbox is empty, too, while a page is loaded anew
        if sales(live):
            break
        time.sleep(0.1)
    (sale,) = sales(live)
    return sale


def test_the_sign_in_page_says_that_a_payment_waits_and_who_signs_in_books_it(
    live: Live, tablet: Any, cheap_pins: dict[str, str]
) -> None:
    """Ida takes it; the computer is away for an hour; Rosa signs in, on a page that is no shelf."""
    sign_in(live, tablet, "ida", cheap_pins["ida"])
    page = open_shelf(live, tablet)
    take(live, page)
    page.context.clear_cookies()  # as closing the browser does
    age(page, hours=1)
    live.clock.forward(hours=1)
    page.goto("about:blank")  # else the shelf goes to the sign-in page by itself
    live.start()
    page.goto(f"{live.url}/who/?next=/waste/")
    expect(page.locator("#outbox")).to_contain_text(WAITS)
    assert sales(live) == []
    for width, height in (SIZES["tablet"], SIZES["phone"]):
        page.set_viewport_size({"width": width, "height": height})
        assert axe_findings(page) == []
        assert sideways(page) == {}
        assert small_targets(page) == []
    page.locator('[name=person][value="rosa"]').check()
    page.fill("[name=pin]", cheap_pins["rosa"])
    page.locator("form.card button").click()
    page.wait_for_url("**/waste/")
    expect(page.locator("#say")).to_contain_text("The payment of $3.25 that waited is booked")
    expect(page.locator("#outbox")).to_be_empty()
    sale = only(live)
    assert (sale.by, sale.kept.sent_by) == ("Ida", "Rosa")
    assert 0 <= live.clock.moment.timestamp() - sale.at.timestamp() - 3600 < 120


def age(page: Any, **span: int) -> None:
    """Let the payments that wait be older: as if so much time had gone by, in this browser too."""
    ms = 3_600_000 * (span.get("hours", 0) + 24 * span.get("days", 0))
    page.evaluate(
        """(ms) => localStorage.setItem("counter.outbox", JSON.stringify(
          JSON.parse(localStorage.getItem("counter.outbox")).map((p) => ({...p, at: p.at - ms}))))""",
        ms,
    )


def test_two_that_wait_are_said_with_their_sum(
    live: Live, tablet: Any, cheap_pins: dict[str, str]
) -> None:
    sign_in(live, tablet, "ida", cheap_pins["ida"])
    page = open_shelf(live, tablet)
    page.route("**/slip/pay", lambda route: route.abort())
    for portion, shown in ((FIRM, "$3.25"), (SOFT, "$3.00")):
        page.click(portion)
        expect(total(page)).to_have_text(shown)
        page.click("#pay-card")
        page.locator("dialog [data-last]").click()
        page.wait_for_timeout(400)
    leave(live, page)
    expect(page.locator("#outbox")).to_contain_text("2 payments, $6.25 together, wait")
    page.unroute("**/slip/pay")
    page.wait_for_timeout(2500)
    assert sales(live) == []  # nobody is signed in
    page.locator('[name=person][value="ida"]').check()
    page.fill("[name=pin]", cheap_pins["ida"])
    page.locator("form.card button").click()
    expect(page.locator("#done")).to_contain_text("2026-11-24/0002", timeout=30_000)
    expect(page.locator("#outbox")).to_be_empty()
    assert [(s.total, s.by) for s in sales(live)] == [(325, "Ida"), (300, "Ida")]


def test_one_whose_day_was_closed_goes_into_the_next_with_both_times(
    live: Live, tablet: Any
) -> None:
    page = open_shelf(live, tablet)
    take(live, page)
    live.clock.forward(hours=1)
    live.shop.evening.close_day()
    age(page, hours=1)
    page.goto("about:blank")  # else the shelf loads itself anew
    live.start()
    page.goto(f"{live.url}/shelf/")
    expect(page.locator("h1")).to_contain_text("is closed")
    box = page.locator("#outbox")
    expect(box).to_contain_text("days up to 2026-11-24 are closed")  # it waits for the next day
    expect(box).to_contain_text("NOT BOOKED YET: $3.25")
    live.clock.set("2026-11-25 08:00")
    age(page, hours=22)
    page.goto(f"{live.url}/records/")
    expect(page.locator("#say")).to_contain_text("that waited is booked", timeout=30_000)
    expect(box).to_be_empty(timeout=30_000)
    sale = only(live)
    assert (sale.number, f"{sale.paid_at:%d %H}") == ("2026-11-25/0001", "24 08")
    page.goto(f"{live.url}/sales/{sale.number}")
    expect(page.locator("main .notice.warn")).to_contain_text("Its day, Nov 24, 2026, was closed")


@pytest.mark.parametrize("year", [1970, 2031])
def test_a_browser_whose_clock_is_years_off_books_at_the_right_time(
    live: Live, tablet: Any, year: int
) -> None:
    page = tablet
    page.add_init_script(
        f"const off = Date.UTC({year}, 0) - Date.now(), real = Date.now.bind(Date);"
        "Date.now = () => real() + off;"
    )
    open_shelf(live, page)
    pay_unanswered(page)
    page.wait_for_timeout(3000)
    page.unroute("**/slip/pay")
    expect(page.locator("#outbox")).to_be_empty(timeout=30_000)
    assert 3 <= live.clock.moment.timestamp() - only(live).at.timestamp() < 60


def test_a_phone_says_it_while_the_slip_is_folded(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    take(live, page)
    page.set_viewport_size(dict(zip(("width", "height"), SIZES["phone"], strict=True)))
    expect(page.locator("#unfold")).to_have_text("Slip · NOT BOOKED: 1")
    live.start()
    expect(page.locator("#unfold")).to_have_text("Slip", timeout=30_000)


def test_one_that_waits_over_a_reload_is_booked_once(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    take(live, page)
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("NOT BOOKED YET: $3.25")
    page.goto(f"{live.url}/waste/")  # away: a page of its own
    page.go_back()
    expect(page.locator("#outbox")).to_contain_text("NOT BOOKED YET: $3.25")
    live.start()
    expect(page.locator("#outbox")).to_be_empty(timeout=15_000)
    assert only(live).total == 325


def other_content(live: Live, page: Any) -> Any:
    """A payment waits under the key of a sale of something else; the card that says so."""
    pay_unanswered(page)
    key = page.evaluate("JSON.parse(localStorage.getItem('counter.outbox'))[0].slip.key")
    live.hand.sell("soft-block*2", key=key)
    page.unroute("**/slip/pay")
    box = page.locator("#outbox")
    expect(box).to_contain_text(
        "was booked as sale 2026-11-24/0001 over 6.00 by card at 08:30 (2 x Soft block), and this "
        "one is over 3.25 by card (1 x Firm block)",
        timeout=30_000,
    )
    page.reload()
    expect(box).to_contain_text("NOT BOOKED: $3.25")
    page.wait_for_timeout(2500)
    assert len(sales(live)) == 1  # it is not sent again by itself
    expect(box.get_by_role("link", name="Look at that sale")).to_have_attribute(
        "href", "/sales/2026-11-24/0001"
    )
    assert axe_findings(page) == []
    assert small_targets(page) == []
    return box


def test_one_under_the_key_of_another_is_booked_anew_after_looking(live: Live, tablet: Any) -> None:
    box = other_content(live, open_shelf(live, tablet))
    box.get_by_role("button", name="It is another one: book it").click()
    expect(box).to_be_empty()
    first, second = sales(live)
    assert (first.total, second.total) == (600, 325)
    assert first.key != second.key


def test_one_under_the_key_of_another_is_thrown_away_after_looking(live: Live, tablet: Any) -> None:
    box = other_content(live, open_shelf(live, tablet))
    box.get_by_role("button", name="Throw it away").click()
    expect(box).to_be_empty()
    tablet.reload()
    expect(tablet.locator("h1")).to_contain_text("On the shelf")
    expect(box).to_be_empty()
    assert len(sales(live)) == 1
    (told,) = live.shop.desk.ledger().answers
    assert (told.about, told.words) == ("forgone", "Throw it away")
    assert "was taken at 2026-11-24" in told.asked


def test_one_taken_back_is_told_once_the_computer_is_back(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.route("**/slip/pay", lambda route: route.fulfill(status=503, body="{}"))
    page.route("**/slip/forgone", lambda route: route.abort())
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator("#outbox")).to_be_empty()
    assert live.shop.desk.ledger().answers == []
    page.unroute("**/slip/forgone")
    page.reload()
    page.wait_for_timeout(3000)
    (told,) = live.shop.desk.ledger().answers
    assert told.asked.startswith("3.25 was taken at 2026-11-24")
    assert sales(live) == []


def test_a_browser_that_keeps_nothing_still_sells(live: Live, tablet: Any) -> None:
    tablet.add_init_script("Storage.prototype.setItem = () => { throw new Error('full'); };")
    page = open_shelf(live, tablet)
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    expect(page.locator("#done")).to_contain_text("Booked")
    assert only(live).total == 325
