"""Doubtful stock over the page: the lot is asked for before anything is paid.

The shop's own rule: safety stops a sale, bookkeeping does not.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.conftest import ShopInHand
from tests.web.conftest import Page
from tests.web.test_web_selling import pay, slip

FIRM = {"portion": "firm-block"}


@pytest.fixture
def doubtful(morning: ShopInHand) -> ShopInHand:
    """26328-01 firm (48) is stopped; 26328-05 firm (3) may be sold."""
    morning.shop.holds.hold("26328-01", True, "a hair was found")
    morning.batch("firm", 3)
    return morning


def draws(hand: ShopInHand, answer: Any) -> list[tuple[str, int, str]]:
    sale = hand.shop.counter.sale(answer.get_json()["number"])
    return [(d.lot, d.amount, d.how) for n in sale.lines for d in n.draws]


def test_the_price_asks_for_the_lot_and_says_which_there_are(
    page: Page, doubtful: ShopInHand
) -> None:
    soft = {"portion": "soft-block"}
    asked = page.send("/slip/price", slip(soft, {**FIRM, "quantity": 4}))
    found = asked.get_json()
    assert asked.status_code == 409
    assert found["items"] == [1]
    assert [(lot, bool(why)) for lot, _, why in found["which"]] == [
        ("26328-01", True), ("26328-05", False),
    ]  # fmt: skip
    assert found["which"][0][2] == "it is stopped: a hair was found"
    named = {**FIRM, "quantity": 4, "lot": "26328-05", "how": "named"}
    seen = page.send("/slip/price", slip(named)).get_json()["seen"]
    booked = pay(page, slip(named), seen)
    assert draws(doubtful, booked) == [("26328-05", 4, "named")]
    assert booked.get_json()["oversold"] == ["26328-05"]
    bad = page.send("/slip/price", slip({**FIRM, "lot": "26328-01", "how": "named"}))
    assert (bad.status_code, bad.get_json()["which"]) == (409, [])


def test_a_payment_kept_by_the_browser_is_not_lost_over_the_question(
    page: Page, doubtful: ShopInHand
) -> None:
    three = slip({**FIRM, "quantity": 3})
    seen = page.send("/slip/price", three).get_json()["seen"]
    doubtful.sell("firm-block")  # meanwhile, at another till
    assert pay(page, three, seen).status_code == 409
    booked = pay(page, three, seen, again=True)
    assert draws(doubtful, booked) == [("26328-05", 3, "assumed")]


def test_what_was_scanned_and_what_was_typed_are_kept_apart(
    page: Page, doubtful: ShopInHand
) -> None:
    scan = page.send("/slip/read", {"text": "26328-05", "scanned": True}).get_json()
    typed = page.send("/slip/read", {"text": "26328-05"}).get_json()
    assert (scan["how"], typed["how"]) == ("scanned", "named")
    items = [{**FIRM, "lot": one["lot"], "how": one["how"]} for one in (scan, typed)]
    seen = page.send("/slip/price", slip(*items)).get_json()["seen"]
    assert draws(doubtful, pay(page, slip(*items), seen)) == [
        ("26328-05", 1, "scanned"), ("26328-05", 1, "named"),
    ]  # fmt: skip
    # A slip of a browser that keeps nothing of how: the lot was named.
    old = slip({**FIRM, "lot": "26328-05"}, key="k2")
    seen = page.send("/slip/price", old).get_json()["seen"]
    assert draws(doubtful, pay(page, old, seen)) == [("26328-05", 1, "named")]


def test_a_number_without_a_lot_asks_and_is_read_with_the_lot_beside_it(
    page: Page, doubtful: ShopInHand
) -> None:
    asked = page.send("/slip/read", {"text": "9521234000013", "scanned": True})
    assert [lot for lot, _, why in asked.get_json()["which"] if not why] == ["26328-05"]
    found = page.send("/slip/read", {"text": "9521234000013@26328-05*2"}).get_json()
    assert (found["lot"], found["how"], found["quantity"]) == ("26328-05", "named", 2)


def test_the_question_is_asked_in_spanish(page: Page, doubtful: ShopInHand) -> None:
    page.post("/language", {"language": "es"})
    found = page.send("/slip/price", slip({**FIRM, "quantity": 4})).get_json()
    assert "según el registro solo hay 3 más para vender" in found["error"]
    assert "el lote 26328-01 sigue ahí: está retenido" in found["error"]
    assert found["which"][0][2].startswith("está retenido")
