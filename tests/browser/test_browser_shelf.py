"""The shelf in a real Chromium: by finger, by scanner, by keyboard, by several tablets at once."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from playwright.sync_api import expect

from tests.browser.conftest import TABLET, Live, pay_unanswered
from tests.browser.looks import axe_findings, sideways, small_targets

FIRM, SOFT = '[data-portion="firm-block"]', '[data-portion="soft-block"]'


def open_shelf(live: Live, page: Any) -> Any:
    page.goto(f"{live.url}/shelf/")
    expect(page.locator("#empty")).to_be_visible()
    return page


def total(page: Any) -> Any:
    return page.locator("#figures .total span:last-child")


def booked(page: Any) -> str:
    """The number of the sale just booked."""
    expect(page.locator("#done .booked")).to_be_visible()
    return str(page.locator("#done").get_attribute("data-number"))


def sales(live: Live) -> list[Any]:
    return list(live.shop.desk.ledger().sales.values())


def test_blocks_and_a_cup_are_sold_by_finger_in_two_taps(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    for _ in range(3):
        page.click(FIRM)
    page.click('[data-portion="cup-small"]')
    page.get_by_role("button", name="Black sesame +$0.75").click()
    page.get_by_label("Eat here").check()
    expect(page.locator("#lines")).to_contain_text("price for several")
    expect(total(page)).to_have_text("$13.62")  # 9.00 + 3.50 + 0.75, 8.6 % on the cup
    page.click("#pay-cash")
    page.locator(".offers .button", has_text="$20.00").click()
    sale = live.shop.counter.sale(booked(page))
    assert (sale.total, sale.change, sale.where) == (1362, 640, "here")
    assert sale.lines[1].toppings == ("sesame",)
    expect(page.locator("#done .change")).to_have_text("$6.40")
    page.click("#next")
    expect(page.locator("#empty")).to_be_visible()


def test_a_double_tap_on_pay_books_once(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.click(SOFT)
    expect(total(page)).to_have_text("$3.00")
    page.click("#pay-card")
    page.locator("dialog [data-last]").dblclick()
    booked(page)
    expect(page.locator("#outbox")).to_be_empty()
    assert len(sales(live)) == 1


def test_a_second_tap_on_pay_does_not_fall_through_on_the_shelf(live: Live, tablet: Any) -> None:
    """It would put onto the next slip what nobody wants."""
    page = open_shelf(live, tablet)
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")
    page.evaluate("""document.body.addEventListener("click", (event) => {
      if (!event.target.closest("dialog")) document.body.dataset.through = event.target.outerHTML;
    })""")
    page.click("#pay-card")
    page.evaluate("delete document.body.dataset.through")
    page.locator("dialog [data-last]").dblclick()
    booked(page)
    assert page.evaluate("document.body.dataset.through ?? ''") == ""


def test_a_scanner_burst_is_a_code_wherever_the_focus_stands(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.locator(SOFT).focus()  # a button: the scanner's Enter must not tap it
    page.keyboard.type("26328-01")
    page.keyboard.press("Enter")
    expect(page.locator("#lines li")).to_have_count(1)
    expect(page.locator("#lines")).to_contain_text("Firm block")
    page.focus("#code")
    page.keyboard.type("9521234000020")
    page.keyboard.press("Enter")
    expect(page.locator("#lines li")).to_have_count(2)
    expect(page.locator("#code")).to_have_value("")
    live.shop.holds.hold("26328-01", True, "a hair was found")
    page.locator("#clear").click()
    page.keyboard.type("26328-01")
    page.keyboard.press("Enter")
    expect(page.locator("#say")).to_contain_text(
        "Cannot sell lot 26328-01: it is stopped: a hair was found."
    )
    assert page.locator("#say").get_attribute("aria-live") == "assertive"
    expect(page.locator("#lines li")).to_have_count(0)


def test_a_lot_stopped_while_on_the_slip_is_marked_and_not_sold(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.click(SOFT)
    page.click(FIRM)
    expect(total(page)).to_have_text("$6.25")
    live.shop.holds.hold("26328-01", True, "a hair was found")
    expect(page.locator("#lines li.blamed")).to_contain_text("Firm block")
    expect(page.locator("#pay-card")).to_be_disabled()
    expect(page.locator("#band")).to_contain_text("it is stopped: a hair was found")
    page.get_by_role("button", name="One less: Firm block").click()
    expect(total(page)).to_have_text("$3.00")
    expect(page.locator("#pay-card")).to_be_enabled()


def test_a_payment_without_an_answer_is_kept_and_booked_once(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")
    # The sale reaches the books, the answer never reaches the tablet: the power went in between.
    cut = []

    def lose_the_answer(route: Any) -> None:
        route.fetch()
        cut.append(route.request.post_data_json)
        live.stop()
        route.abort()

    page.route("**/slip/pay", lose_the_answer, times=1)
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    expect(page.locator("#outbox")).to_contain_text("NOT BOOKED YET: $3.25")
    expect(page.locator("#offline")).to_be_visible()
    page.wait_for_timeout(400)  # the rows have moved: a finger aims anew
    page.click(SOFT)  # the next customer does not wait for it
    expect(page.locator("#lines li")).to_have_count(1)
    live.start()
    expect(page.locator("#outbox")).to_be_empty(timeout=30_000)
    assert len(cut) == 1
    assert [s.key for s in sales(live)] == [cut[0]["slip"]["key"]]
    expect(page.locator("#lines li")).to_have_count(1)
    expect(total(page)).to_have_text("$3.00")


def test_an_unbooked_payment_and_a_slip_survive_a_reload(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    pay_unanswered(page)
    page.click(SOFT)
    expect(total(page)).to_have_text("$3.00")
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("NOT BOOKED YET")
    expect(total(page)).to_have_text("$3.00")
    assert sales(live) == []
    page.unroute("**/slip/pay")
    expect(page.locator("#outbox")).to_be_empty(timeout=30_000)
    assert len(sales(live)) == 1


def test_a_payment_of_what_was_stopped_after_it_was_paid_is_booked(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    pay_unanswered(page)
    page.click(SOFT)
    expect(total(page)).to_have_text("$3.00")
    live.shop.holds.hold("26328-01", True, "a hair was found")
    page.unroute("**/slip/pay")
    expect(page.locator("#outbox")).to_be_empty(timeout=30_000)
    expect(total(page)).to_have_text("$3.00")  # the customer at the counter is not disturbed
    assert [d.lot for s in sales(live) for n in s.lines for d in n.draws] == ["26328-01"]


def test_a_kept_payment_that_is_refused_stays_until_somebody_decides(
    live: Live, tablet: Any
) -> None:
    page = open_shelf(live, tablet)
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")
    for path in ("**/slip/pay", "**/shelf.json", "**/slip/price"):
        page.route(path, lambda route: route.abort())
    live.shop.holds.hold("26328-01", True, "a hair was found")  # nobody at the counter hears of it
    live.clock.forward(minutes=5)
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    expect(page.locator("#outbox")).to_contain_text("NOT BOOKED YET")
    page.unroute("**/slip/pay")
    box = page.locator("#outbox")
    expect(box).to_contain_text("it is stopped: a hair was found", timeout=30_000)
    expect(box).to_contain_text("NOT BOOKED: $3.25")
    page.reload()
    expect(box).to_contain_text("it is stopped: a hair was found")
    box.get_by_role("button", name="Throw it away").click()
    expect(box).to_be_empty()
    page.get_by_role("button", name="Bring it back").click()
    expect(box).to_contain_text("NOT BOOKED: $3.25")
    box.get_by_role("button", name="Take it back").click()
    expect(box).to_be_empty()
    expect(page.locator("#lines li")).to_have_count(1)
    assert sales(live) == []


def test_two_tablets_sell_the_last_block(live: Live, tablet: Any, chromium: Any) -> None:
    live.hand.sell("soft-block*29")
    page = open_shelf(live, tablet)
    context = chromium.new_context(viewport=TABLET)
    other = open_shelf(live, context.new_page())
    for one in (page, other):
        one.click(SOFT)
        expect(total(one)).to_have_text("$3.00")
        one.click("#pay-card")
    page.locator("dialog [data-last]").click()
    booked(page)
    # The others see it by themselves; the block is in the second customer's hand, so it is sold.
    expect(other.locator('[data-key="soft"] .figure')).to_have_text("0")
    other.locator("dialog [data-last]").click()
    booked(other)
    expect(other.locator("#done")).to_contain_text("It is flagged, to be explained at closing.")
    assert live.shop.desk.ledger().rows["26328-02"].oversold
    assert len(sales(live)) == 3
    context.close()


def test_all_of_a_sale_goes_by_keyboard_alone(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    reach(page, lambda: focused(page, "data-portion") == "firm-block")
    page.keyboard.press("Enter")
    expect(page.locator("#lines li")).to_have_count(1)
    reach(page, lambda: focused(page, "data-many") == "soft-block")
    page.keyboard.press("Enter")
    page.keyboard.type("2", delay=150)
    page.keyboard.press("Enter")
    expect(page.locator("#lines li")).to_have_count(2)
    expect(total(page)).to_have_text("$9.25")
    reach(page, lambda: focused(page, "id") == "pay-cash")
    page.keyboard.press("Enter")
    expect(page.locator("dialog")).to_be_visible()
    page.keyboard.press("Enter")  # the exact amount has the focus
    booked(page)
    assert sales(live)[0].total == 925
    expect(page.locator("#next")).to_be_focused()


def reach(page: Any, there: Any) -> None:
    """Press Tab until we are there; every stop on the way must be visible."""
    for _ in range(90):
        if there():
            return
        page.keyboard.press("Tab")
        assert page.evaluate(
            "document.activeElement === document.body || document.activeElement.getClientRects().length > 0"
        )
    raise AssertionError("it is not reached by Tab")


def focused(page: Any, name: str) -> Any:
    return page.evaluate("(name) => document.activeElement?.getAttribute(name)", name)


def test_weight_goes_on_the_slip_through_the_pad(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.click('[data-portion="pressed"]')
    pad = page.locator("dialog .pad")
    for key in "1.02":
        pad.get_by_role("button", name=key, exact=True).click()
    page.locator("dialog input.shown").nth(1).click()
    for key in ".02":
        pad.get_by_role("button", name=key, exact=True).click()
    page.locator("dialog [data-last]").click()
    expect(page.locator("#lines")).to_contain_text("1 lb Pressed tofu")
    expect(total(page)).to_have_text("$8.90")


def test_a_tablet_over_plain_http_makes_its_keys_without_a_secure_context(
    live: Live, tablet: Any
) -> None:
    tablet.add_init_script("delete Crypto.prototype.randomUUID")
    page = open_shelf(live, tablet)
    page.click(SOFT)
    expect(total(page)).to_have_text("$3.00")
    page.click("#pay-card")
    page.locator("dialog [data-last]").click()
    assert re.fullmatch("[0-9a-f]{32}", live.shop.counter.sale(booked(page)).key)


def test_holding_a_row_asks_for_a_number(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    box = page.locator(FIRM).bounding_box()
    page.mouse.move(box["x"] + 40, box["y"] + 30)
    page.mouse.down()
    expect(page.locator("dialog")).to_be_visible()
    page.mouse.up()
    page.locator("dialog .pad").get_by_role("button", name="6", exact=True).click()
    page.locator("dialog .button.large").click()
    expect(total(page)).to_have_text("$18.00")


def test_a_slip_is_set_aside_and_taken_up_again_with_its_discount(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.click(SOFT)
    page.click("#discount")
    page.locator("dialog input.shown").fill("10")
    page.get_by_role("button", name="regular customer").click()
    page.locator("dialog [data-last]").click()
    expect(total(page)).to_have_text("$2.70")
    page.click("#put-aside")
    expect(page.locator("#empty")).to_be_visible()
    page.click(FIRM)
    expect(total(page)).to_have_text("$3.25")
    page.locator("#aside button").click()
    expect(total(page)).to_have_text("$2.70")
    expect(page.locator("#aside button")).to_have_count(1)  # the other one waits now


def test_a_tub_past_its_time_says_throw_away_and_a_check_takes_two_taps(
    live: Live, tablet: Any
) -> None:
    live.shop.tubs.open_tub("26328-04", "time", 4000, Decimal(4))
    page = open_shelf(live, tablet)
    page.locator('[data-check-tub="26328-04/1"]').click()
    page.locator(".temps .button", has_text="39 °F").click()
    expect(page.locator("#say")).to_contain_text("Tub 26328-04/1 is good until 12:30 PM.")
    live.clock.forward(minutes=239)
    expect(page.locator('[aria-label="Tub 26328-04/2"] .minutes')).to_contain_text("1 min left")
    live.clock.forward(minutes=1)
    expect(page.locator('[aria-label="Tub 26328-04/2"]')).to_contain_text("throw away")


def test_a_refund_is_given_from_the_last_sales(live: Live, tablet: Any) -> None:
    sale = live.hand.sell("firm-block*2")
    page = open_shelf(live, tablet)
    page.get_by_role("link", name="Last sales").click()
    page.get_by_role("link", name=sale.number).click()
    page.get_by_label(re.compile("Why")).fill("cracked")
    page.get_by_role("button", name="Give the money back").dblclick()
    expect(page.locator(".notice.good")).to_contain_text("$6.50 given back (Card)")
    assert len(live.shop.desk.ledger().refunds) == 1


def test_the_shelf_is_readable_for_all_at_every_size(live: Live, tablet: Any) -> None:
    live.shop.holds.hold("26328-02", True, "a hair was found")
    page = open_shelf(live, tablet)
    page.click(FIRM)
    page.click('[data-portion="cup-small"]')
    expect(page.locator("#pay-card")).to_be_enabled()
    page.click("#put-aside")
    page.click(FIRM)
    expect(page.locator("#pay-card")).to_be_enabled()
    assert axe_findings(page) == []
    assert small_targets(page) == []
    assert sideways(page) == {}
    page.set_viewport_size(TABLET)
    page.click("#pay-cash")
    assert axe_findings(page) == []


def test_sales_receipts_and_sign_in_are_readable_for_all(live: Live, tablet: Any) -> None:
    sale = live.hand.sell("firm-block*2", "cup-small+sesame", cash=2000)
    for path in (
        "/sales/",
        f"/sales/{sale.number}",
        f"/sales/{sale.number}/receipt",
        "/who/",
        "/who/pins",
        "/nothing",
    ):
        tablet.goto(f"{live.url}{path}")
        assert axe_findings(tablet) == [], path
        assert small_targets(tablet) == [], path
        assert sideways(tablet) == {}, path


def test_the_page_can_be_installed_as_an_app(live: Live, tablet: Any) -> None:
    tablet.goto(f"{live.url}/shelf/")
    found = tablet.evaluate(
        "fetch(document.querySelector('link[rel=manifest]').href).then((r) => r.json())"
    )
    assert (found["display"], found["start_url"]) == ("standalone", "/shelf/")
    for icon in found["icons"]:
        size = tablet.evaluate(
            "(src) => new Promise((done) => { const i = new Image(); i.onload = () => done(i.naturalWidth); i.src = src; })",
            icon["src"],
        )
        assert icon["sizes"] in (f"{size}x{size}", "any")


def test_a_slip_emptied_by_mistake_is_brought_back(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.click(FIRM)
    page.click(FIRM)
    expect(total(page)).to_have_text("$6.50")
    page.click("#clear")
    expect(page.locator("#empty")).to_be_visible()
    page.get_by_role("button", name="Bring it back").click()
    expect(total(page)).to_have_text("$6.50")
    expect(page.locator("#say")).to_be_hidden()
    page.click("#clear")
    page.click(SOFT)  # the next customer: nothing is offered any more
    expect(page.locator("#say")).to_be_hidden()
    expect(total(page)).to_have_text("$3.00")


def test_a_tub_is_opened_of_a_lot_that_says_what_is_left_of_it(live: Live, tablet: Any) -> None:
    page = open_shelf(live, tablet)
    page.locator("[data-open-tub]").click()
    left = live.shop.desk.standing().rows["26328-04"].on_hand - 8000  # a tub of 8 l is open
    expect(page.locator("dialog [name=lot] + span")).to_have_text(f"26328-04 · {left // 1000} l")


def test_a_refund_takes_its_reason_at_one_tap(live: Live, tablet: Any) -> None:
    sale = live.hand.sell("firm-block*2", cash=2000)
    tablet.goto(f"{live.url}/sales/{sale.number}")
    tablet.get_by_role("button", name="wrong goods").click()
    expect(tablet.locator("#f-why")).to_have_value("wrong goods")
    tablet.get_by_role("button", name="Give the money back").click()
    tablet.wait_for_selector("p.notice.good")
    assert live.shop.counter.refunds_of(sale.number)[0].why == "wrong goods"
