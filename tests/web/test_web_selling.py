"""The slip through HTTP: prices before they are paid, booked once, refused in a sentence."""

from __future__ import annotations

import re
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest

from counter.trade.offers import cash_offers
from counter.trade.units import net_weight
from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of

FIRM = {"portion": "firm-block"}


def slip(*items: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"items": list(items), "key": "k1", **more}


def pay(
    page: Page, what: dict[str, Any], seen: int, *tenders: dict[str, Any], again: bool = False
) -> Any:
    sent = {
        "slip": what,
        "tenders": list(tenders) or [{"kind": "card"}],
        "seen": seen,
        "again": again,
    }
    return page.send("/slip/pay", sent)


def test_the_price_for_several_is_shown_before_it_is_paid(page: Page) -> None:
    found = page.send("/slip/price", slip({"portion": "firm-block", "quantity": 3})).get_json()
    assert found["total"] == "$9.00"
    assert found["items"][0][0]["kind"] == "price for several"
    assert [offer["says"] for offer in found["offers"]][:2] == ["$9.00", "$10.00"]
    assert found["offers"][1]["change"] == "$1.00"


def test_the_last_day_price_is_shown_before_it_is_paid(page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-28 08:00")
    found = page.send("/slip/price", slip(FIRM)).get_json()
    assert (found["total"], found["items"][0][0]["kind"]) == ("$2.25", "last-day price")
    assert "last day $2.25" in page.get("/shelf/").get_data(as_text=True)


def test_an_entry_drawn_from_two_lots_shows_both_prices(page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-28 05:00")
    morning.batch("firm", 10)
    found = page.send("/slip/price", slip({"portion": "firm-block", "quantity": 50})).get_json()
    assert [(p["quantity"], p["kind"]) for p in found["items"][0]] == [
        (2, ""), (48, "last-day price"),
    ]  # fmt: skip


def test_cash_gives_change_in_coins(page: Page, morning: ShopInHand) -> None:
    sold = pay(page, slip(FIRM), 325, {"kind": "cash", "amount": "5"}).get_json()
    assert (sold["change"], sold["coins"]) == ("$1.75", ["1 × $1.00", "3 × $0.25"])
    assert morning.on_hand("26328-01") == 47


def test_card_and_cash_share_a_total(page: Page, morning: ShopInHand) -> None:
    both = ({"kind": "card", "amount": "2.00"}, {"kind": "cash", "amount": ""})
    sold = pay(page, slip(FIRM), 325, *both).get_json()
    assert sold["paid"] == [["card", "$2.00"], ["cash", "$1.25"]]


def test_the_same_key_is_booked_once_and_answered_the_same(page: Page, morning: ShopInHand) -> None:
    first = pay(page, slip(FIRM), 325).get_json()
    second = pay(page, slip(FIRM), 325, again=True).get_json()
    third = pay(page, slip(FIRM), 999).get_json()  # prices follow from the moment
    assert first == second == third
    assert morning.on_hand("26328-01") == 47


def test_nobody_pays_another_price_than_the_one_shown(page: Page, morning: ShopInHand) -> None:
    before = books_of(morning)
    refused = pay(page, slip(FIRM), 300)
    assert refused.status_code == 409
    assert refused.get_json()["error"] == (
        "Cannot book the sale: it now costs $3.25, since the shelf has changed. "
        "Look at the slip and pay again."
    )
    assert books_of(morning) == before


def test_a_lot_stopped_while_on_the_slip_is_refused_and_blamed(
    page: Page, morning: ShopInHand
) -> None:
    both = slip({"portion": "soft-block"}, FIRM)
    assert page.send("/slip/price", both).status_code == 200
    morning.shop.holds.hold("26328-01", True, "a hair was found", by="Rosa")
    refused = page.send("/slip/price", both)
    assert refused.status_code == 409
    assert refused.get_json()["items"] == [1]
    assert "it is stopped: a hair was found" in refused.get_json()["error"]
    assert pay(page, both, 625).status_code == 409


def test_a_scan_names_its_own_lot(page: Page, morning: ShopInHand) -> None:
    morning.batch("firm", 5)
    found = page.send("/slip/read", {"text": "26328-05"}).get_json()
    assert (found["portion"], found["lot"], found["name"]) == (
        "firm-block",
        "26328-05",
        "Firm block",
    )
    assert page.send("/slip/read", {"text": "9521234000013"}).get_json()["portion"] == "firm-block"


def test_a_scanned_lot_sold_by_weight_wants_the_scale_and_is_checked_first(
    page: Page, morning: ShopInHand
) -> None:
    assert page.send("/slip/read", {"text": "26328-03"}).get_json()["per"] == "lb"
    morning.shop.holds.hold("26328-03", True, "a hair was found")
    assert page.send("/slip/read", {"text": "26328-03"}).status_code == 409


def test_weight_is_what_the_scale_shows_less_the_container(page: Page) -> None:
    item = {"portion": "pressed", "gross": "1.02", "tare": "0,02", "unit": "lb"}
    found = page.send("/slip/price", slip(item)).get_json()
    assert (found["items"][0][0]["weight"], found["total"]) == ("1\u00a0lb", "$8.90")
    assert net_weight("0.62", "", "kg").base == Decimal("620")


def test_a_discount_needs_a_reason(page: Page) -> None:
    off = slip(FIRM, discount={"text": "10%", "why": "regular customer"})
    found = page.send("/slip/price", off).get_json()
    assert (found["discount"], found["total"]) == ("-$0.33", "$2.92")
    refused = page.send("/slip/price", slip(FIRM, discount={"text": "10%", "why": " "}))
    assert (refused.status_code, "it has no reason" in refused.get_json()["error"]) == (400, True)


def test_a_card_number_is_never_taken(page: Page, morning: ShopInHand) -> None:
    before = books_of(morning)
    refused = pay(page, slip(FIRM), 325, {"kind": "card", "reference": "4111 1111 1111 1111"})
    assert (refused.status_code, "looks like a card number" in refused.get_json()["error"]) == (
        400,
        True,
    )
    assert books_of(morning) == before


@pytest.mark.parametrize(
    ("due", "offers"),
    [
        (325, [325, 400, 500, 1000, 2000]),
        (2000, [2000, 5000, 10000]),
        (0, [0]),
        (5, [5, 10, 25, 100, 500]),
    ],
)
def test_likely_amounts_of_cash_begin_with_the_exact_one(due: int, offers: list[int]) -> None:
    values = [10000, 5000, 2000, 1000, 500, 100, 25, 10, 5]
    assert cash_offers(due, values) == offers


def test_a_refund_goes_through_the_page_once(page: Page, morning: ShopInHand) -> None:
    number = pay(page, slip({"portion": "firm-block", "quantity": 2}), 650).get_json()["number"]
    form = {"before": "0", "line-1": "1", "why": "cracked", "kind": "card"}
    assert page.post(f"/sales/{number}/refund", form).status_code == 302
    assert "$3.25 given back" in page.get(f"/sales/{number}").get_data(as_text=True)
    before = books_of(morning)
    twice = page.post(f"/sales/{number}/refund", form)
    assert (twice.status_code, "booked meanwhile" in twice.get_data(as_text=True)) == (409, True)
    assert books_of(morning) == before


def test_a_receipt_says_what_was_paid_on_page_and_paper(page: Page, morning: ShopInHand) -> None:
    import io

    import pdfplumber

    cup = {"portion": "cup-small", "toppings": ["ginger", "sesame"]}
    what = slip(FIRM, cup, discount={"text": "1.00", "why": "slow <b>service</b>"}, where="here")
    total = page.send("/slip/price", what).get_json()
    number = pay(page, what, total["seen"], {"kind": "cash", "amount": "20"}).get_json()["number"]
    shown = page.get(f"/sales/{number}/receipt").get_data(as_text=True)
    assert total["total"] in shown
    assert "slow &lt;b&gt;service" in shown
    pdf = page.get(f"/sales/{number}/receipt.pdf")
    assert pdf.mimetype == "application/pdf"
    with pdfplumber.open(io.BytesIO(pdf.data)) as read:
        (sheet,) = read.pages
        text = sheet.extract_text()
        assert round(sheet.width * 25.4 / 72) == 80
        assert min(c["x0"] for c in sheet.chars) >= 4 * 72 / 25.4
        assert max(c["x1"] for c in sheet.chars) <= 76 * 72 / 25.4
    for word in (
        "Millrace Tofu Works",
        total["total"],
        "Ginger syrup",
        "$20.00",
        number,
        "555-0142",
    ):
        assert word in text
    assert page.get(f"/sales/{number}/receipt.pdf").data == pdf.data


@pytest.mark.parametrize("name", ["W" * 120, "Firm tofu " * 20, "Ñandú – 14 oz × 2", "a"])
def test_whatever_its_name_a_line_never_runs_into_its_price(name: str) -> None:
    import io

    import pdfplumber

    from counter.web.receipt import Receipt, ReceiptLine, draw_receipt

    lines = (ReceiptLine(name, "$1,234.56"), ReceiptLine(name, "$9.00", strong=True, rule=True))
    pdf = draw_receipt(Receipt("r", "en", (name,), lines, (name,)))
    assert b"/Helvetica" not in pdf  # all faces are embedded
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        chars = read.pages[0].chars
    assert "".join(c["text"] for c in chars).replace(" ", "").count("$1,234.56") == 1
    for a in chars:
        assert a["x0"] * 25.4 / 72 >= 4
        assert a["x1"] * 25.4 / 72 <= 76
    by_line: dict[int, list[tuple[float, float]]] = {}
    for c in chars:
        by_line.setdefault(round(c["bottom"]), []).append((c["x0"], c["x1"]))
    for boxes in by_line.values():
        boxes.sort()
        assert all(b[0] >= a[1] - 0.6 for a, b in pairwise(boxes))


def test_the_shelf_answers_304_until_something_is_written(page: Page, morning: ShopInHand) -> None:
    first = page.get("/shelf.json")
    mark = {"If-None-Match": first.headers["ETag"]}
    assert page.get("/shelf.json", headers=mark).status_code == 304
    morning.sell("firm-block")
    second = page.get("/shelf.json", headers=mark)
    assert second.status_code == 200
    changed = [
        a["key"]
        for a, b in zip(first.get_json()["rows"], second.get_json()["rows"], strict=True)
        if a != b
    ]
    assert changed == ["firm"]
    mark = {"If-None-Match": second.headers["ETag"]}
    morning.clock.forward(minutes=1)  # a tub has a minute less
    assert page.get("/shelf.json", headers=mark).status_code == 200


def test_the_shelf_draws_one_square_a_block(page: Page) -> None:
    shown = page.get("/shelf/").get_data(as_text=True)
    row = re.search(r'data-key="soft".*?</li>', shown, re.DOTALL)
    assert row
    path = re.search(r'class="blocks" d="([^"]+)"', row[0])
    assert path
    assert path[1].count("z") == 30
    assert len(set(re.findall(r"M\d+ \d+", path[1]))) == 30


def test_a_tub_is_checked_opened_and_ended_from_the_shelf(page: Page, morning: ShopInHand) -> None:
    good = page.send("/tubs/check", {"tub": "26328-04/1", "temperature": "39"}).get_json()
    assert (good["good"], good["says"][:30]) == (True, "Tub 26328-04/1 is good until 1")
    warm = page.send("/tubs/check", {"tub": "26328-04/1", "temperature": "9 C"}).get_json()
    assert not warm["good"]
    assert "measured 9\u00a0°C, allowed is 5\u00a0°C / 41\u00a0°F or below" in warm["says"]
    opened = page.send("/tubs/open", {"lot": "26328-04", "mode": "time", "temperature": "41 F"})
    assert opened.status_code == 200
    morning.clock.forward(minutes=241)
    shown = page.get("/shelf/").get_data(as_text=True)
    assert "throw away" in shown
    assert page.send("/tubs/end", {"tub": "26328-04/2", "left": "7.5l"}).status_code == 200


def test_a_closed_day_says_so_and_still_shows_its_sales(page: Page, morning: ShopInHand) -> None:
    number = pay(page, slip(FIRM), 325).get_json()["number"]
    morning.shop.evening.close_day(by="Rosa")
    shown = page.get("/shelf/")
    assert (shown.status_code, "is closed" in shown.get_data(as_text=True)) == (200, True)
    assert number in page.get("/sales/").get_data(as_text=True)
    before = books_of(morning)
    refused = pay(page, {**slip(FIRM), "key": "k2"}, 325)
    assert (
        refused.status_code,
        "days up to 2026-11-24 are closed" in refused.get_json()["error"],
    ) == (409, True)
    assert books_of(morning) == before


def test_the_page_speaks_spanish_when_asked(page: Page) -> None:
    assert page.post("/language", {"language": "es", "next": "/shelf/"}).status_code == 302
    shown = page.get("/shelf/").get_data(as_text=True)
    assert '<html lang="es">' in shown
    assert "En el estante" in shown
    assert "martes, 24 de noviembre de 2026" in shown
