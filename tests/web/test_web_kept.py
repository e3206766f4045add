"""A payment kept by a browser, through HTTP: its moment from its age, its person from a token."""

from __future__ import annotations

import io
import logging
import re
from typing import Any

import pytest
from flask import Flask

from counter.trade.sales import Sale
from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of

FIRM = {"portion": "firm-block"}
HOUR = 3_600_000


def sent(key: str = "k1", seen: int = 325, age: int = 0, taker: str = "", **more: Any) -> Any:
    slip = {"items": [FIRM], "key": key, **more}
    return {
        "slip": slip, "tenders": [{"kind": "card"}], "seen": seen, "again": True, "age": age,
        "taker": taker,
    }  # fmt: skip


def booked(page: Page, morning: ShopInHand, payment: Any) -> Sale:
    answer = page.send("/slip/pay", payment)
    assert answer.status_code == 200, answer.get_json()
    return morning.shop.counter.sale(answer.get_json()["number"])


def taker(page: Page) -> str:
    found = re.search(r'<meta name="taker" content="([^"]*)">', page.get("/who/").text)
    assert found
    return found[1]


@pytest.fixture
def ida(page: Page, pins: dict[str, str]) -> str:
    """Ida has signed in, and her page's token is kept; then Rosa signs in on the same browser."""
    assert taker(page) == ""  # nobody is signed in
    page.sign_in("ida", pins["ida"])
    mine = taker(page)
    page.sign_in("rosa", pins["rosa"])
    return mine


def test_it_is_booked_at_now_less_its_age_whatever_the_browsers_clock_says(
    page: Page, morning: ShopInHand
) -> None:
    morning.clock.set("2026-11-24 12:00")
    sale = booked(page, morning, sent(age=HOUR))
    assert f"{sale.at:%H:%M}" == "11:00"
    assert sale.kept
    assert f"{sale.kept.booked:%H:%M}" == "12:00"


def test_its_age_is_elapsed_time_also_over_the_night_the_clocks_change(
    page: Page, morning: ShopInHand
) -> None:
    """02:00 became 03:00 on 2027-03-14 in Los Angeles (15 U.S.C. 260a)."""
    morning.clock.set("2027-03-14 12:00")
    morning.batch("firm", 5)
    sale = booked(page, morning, sent(age=11 * HOUR))
    assert f"{sale.paid_at:%Y-%m-%d %H:%M}" == "2027-03-14 00:00"


def test_it_is_booked_under_whoever_took_it_and_says_who_sent_it(
    page: Page, morning: ShopInHand, ida: str
) -> None:
    morning.clock.set("2026-11-24 09:30")
    sale = booked(page, morning, sent(age=HOUR // 2, taker=ida))
    assert (sale.by, sale.kept and sale.kept.sent_by) == ("Ida", "Rosa")
    shown = page.get(f"/sales/{sale.number}").text
    assert "Rosa was signed in when it was booked." in shown


@pytest.mark.parametrize("how", ["absent", "forged", "too old", "before", "junk"])
def test_nobody_books_under_a_name_that_is_not_proved(
    page: Page, morning: ShopInHand, pins: dict[str, str], ida: str, how: str,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    morning.clock.set("2026-11-24 12:00")
    if how == "too old":  # nobody is signed in for longer than 14 hours
        morning.clock.set("2026-11-25 12:00")
        page.sign_in("rosa", pins["rosa"])
    name, _, seal = ida.partition(".")
    token = {"absent": "", "forged": f"{name}.{seal[::-1]}", "junk": "\u00f1.x"}.get(how, ida)
    age = HOUR * 5 if how == "before" else HOUR  # before: paid before there was that page
    logging.getLogger("counter.web").propagate = True
    with caplog.at_level("WARNING", "counter.web"):
        sale = booked(page, morning, sent(age=age, taker=token))
    claimed = "" if how in ("absent", "junk") else "Ida"
    assert sale.kept
    assert (sale.by, sale.kept.sent_by, sale.kept.claimed) == ("Rosa", "", claimed)
    assert ("names 'Ida' as who took it, unproved" in caplog.text) is bool(claimed)
    note = "It named Ida as who took it, without proof."
    assert (note in page.get(f"/sales/{sale.number}").text) is bool(claimed)


def test_a_token_of_another_shop_proves_nothing(
    page: Page, morning: ShopInHand, ida: str, app: Flask
) -> None:
    app.secret_key = b"another secret, only for tests"
    page._token = ""
    morning.clock.set("2026-11-24 09:00")
    assert page.send("/slip/pay", sent(age=HOUR // 4, taker=ida)).status_code == 403


def test_without_pins_a_payment_goes_under_whoever_had_said_so(
    page: Page, morning: ShopInHand
) -> None:
    page.post("/who/", {"person": "ida", "next": "/shelf/"})
    mine = taker(page)
    page.post("/who/", {"person": "teo", "next": "/shelf/"})
    morning.clock.set("2026-11-24 09:30")
    sale = booked(page, morning, sent(age=HOUR // 2, taker=mine))
    assert (sale.by, sale.kept and sale.kept.sent_by) == ("Ida", "Teo")


def test_one_of_a_closed_day_is_shown_with_both_times_wherever_it_stands(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    import pdfplumber

    page.sign_in("rosa", pins["rosa"])
    morning.clock.set("2026-11-24 18:30")
    morning.shop.evening.close_day(by="Rosa")
    waits = page.send("/slip/pay", sent(age=HOUR // 2))
    assert (waits.status_code, waits.get_json()["sealed"]) == (409, True)  # no other day is open
    morning.clock.set("2026-11-25 08:00")
    page.sign_in("rosa", pins["rosa"])
    sale = booked(page, morning, sent(age=14 * HOUR))
    assert (sale.number, f"{sale.paid_at:%d %H:%M}") == ("2026-11-25/0001", "24 18:00")
    both = "Paid 11/24/26, 6:00\u00a0PM, booked 11/25/26, 8:00\u00a0AM."
    assert both in page.get(f"/sales/{sale.number}").text
    assert "Its day, Nov 24, 2026, was closed" in page.get(f"/sales/{sale.number}").text
    assert both in page.get(f"/sales/{sale.number}/receipt").text
    with pdfplumber.open(io.BytesIO(page.get(f"/sales/{sale.number}/receipt.pdf").data)) as read:
        text = " ".join((read.pages[0].extract_text() or "").split())
    assert both.replace("\u00a0", " ") in text.replace("\u00a0", " ")
    for path in ("/sales/", "/records/sales?day=2026-11-25"):
        assert "paid 11/24/26, 6:00\u00a0PM" in page.get(path).text
    shown = page.get("/records/?day=2026-11-25").text
    assert "Paid on a day that was closed before they were booked" in shown
    assert both in shown
    page.post("/language", {"language": "es", "next": "/shelf/"})
    assert "Cobrada 24" in page.get(f"/sales/{sale.number}").text
    assert "anotada 25" in page.get(f"/sales/{sale.number}/receipt").text


def test_the_same_key_with_another_content_is_refused_and_named(
    page: Page, morning: ShopInHand
) -> None:
    first = booked(page, morning, sent())
    before = books_of(morning)
    for other in (
        sent(items=[{"portion": "soft-block"}]),
        {**sent(), "tenders": [{"kind": "cash"}]},
    ):
        for again in (True, False):
            refused = page.send("/slip/pay", {**other, "again": again})
            assert (refused.status_code, refused.get_json()["taken"]) == (409, first.number)
    assert refused.get_json()["error"] == (
        "Cannot book the payment: its key k1 was booked as sale 2026-11-24/0001 over 3.25 by card "
        "at 08:30 (1 x Firm block), and this one is over 3.25 in cash (1 x Firm block). Look at "
        "that sale; if this is another, book it with a key of its own."
    )
    assert books_of(morning) == before
    page.post("/language", {"language": "es", "next": "/shelf/"})
    said = page.send("/slip/pay", {**sent(), "tenders": [{"kind": "cash"}]}).get_json()["error"]
    assert said == (
        "No se puede anotar el cobro: su clave k1 ya está anotada como venta 2026-11-24/0001 de "
        "3.25 con tarjeta a las 08:30 (1 x Firm block), y esta es de 3.25 en efectivo (1 x Firm "
        "block). Mire esa venta; si esta es otra, anótela con una clave propia."
    )


@pytest.mark.parametrize("age", [-2, 40 * 24, 24 * 365 * 50, -24 * 365 * 50])
def test_a_time_nobody_can_believe_loses_no_payment(
    page: Page, morning: ShopInHand, age: int
) -> None:
    sale = booked(page, morning, sent(age=age * HOUR))
    assert f"{sale.at:%Y-%m-%d %H:%M}" == "2026-11-24 08:30"
    assert sale.kept
    assert sale.kept.paid.timestamp() == morning.clock.moment.timestamp() - age * 3600


def test_every_page_can_say_that_a_payment_waits(page: Page, pins: dict[str, str]) -> None:
    """The sign-in page first of all: nobody should leave one on a tablet."""
    for path in ("/who/", "/nowhere"):
        shown = page.get(path).text
        assert 'id="outbox"' in shown
        assert "/static/outbox.js" in shown
        assert "waits on this device and is not booked yet" in shown
    page.sign_in("rosa", pins["rosa"])
    for path in ("/shelf/", "/closing/", "/records/", "/waste/", "/log/", "/setup/"):
        assert page.get(path).text.count('id="outbox"') == 1, path
