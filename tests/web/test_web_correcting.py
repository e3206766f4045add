"""A closed day is corrected on the page, and the pages of both days show it."""

from __future__ import annotations

import html

from tests.conftest import ShopInHand
from tests.web.conftest import Page

DAY, WHERE = "2026-11-24", "/records/correct/"


def shown(page: Page, path: str) -> str:
    return html.unescape(page.get(path).get_data(as_text=True)).replace("\u00a0", " ")


def closed(morning: ShopInHand) -> None:
    morning.sell("firm-block@26328-01*5", cash=10000)
    morning.shop.evening.close_day(cash=14000 + 1625)
    morning.clock.set("2026-11-25 09:00")
    morning.batch("firm", 12)


def test_the_drawer_a_sale_and_a_temperature_of_a_closed_day_are_corrected(
    page: Page, morning: ShopInHand
) -> None:
    closed(morning)
    assert WHERE in page.get(f"/records/?day={DAY}").get_data(as_text=True)
    assert page.get(f"{WHERE}?day={DAY}").status_code == 200
    forms = (
        {"what": "cash", "cash": "10.00", "cash-less": "yes", "why": "paid the ice man"},
        {"what": "sold", "portion": "firm-block", "number": "2", "clock": "09:30",
         "paid": "card", "why": "on the slip"},
        {"what": "reading", "place": "fridge", "celsius": "50", "clock": "14:00", "why": "door"},
        {"what": "lot", "lot": "26328-02", "amount": "3", "amount-less": "yes", "why": "broken"},
    )  # fmt: skip
    for form in forms:
        done = page.post(WHERE, {"day": DAY, **form})
        assert (done.status_code, done.location) == (302, f"/records/?day={DAY}")
    noted = morning.shop.closed_days.corrections_of(morning.clock().date().replace(day=24)).about
    assert [(c.what, c.taken, c.in_drawer, c.amount) for c in noted] == [
        ("cash", 0, -1000, 0), ("sale", 650, 0, -2), ("temperature", 0, 0, 0), ("lot", 0, 0, -3),
    ]  # fmt: skip
    for day in (DAY, "2026-11-25"):
        text = shown(page, f"/records/?day={day}")
        for words in ("paid the ice man", "Sold 2 × Firm block", "fridge 50 °F", "out of limits"):
            assert words in text
    text = shown(page, f"/records/?day={DAY}")
    assert "Difference, as corrected" in text
    assert "Left, as corrected" in text
    closing = shown(page, "/closing/preview")
    assert "paid the ice man" in closing


def test_a_correction_without_a_reason_or_of_an_open_day_is_refused(
    page: Page, morning: ShopInHand
) -> None:
    closed(morning)
    form = {"day": DAY, "what": "cash", "cash": "10.00", "cash-less": "yes", "why": " "}
    refused = page.post(WHERE, form)
    assert refused.status_code == 400
    assert 'value="10.00"' in refused.get_data(as_text=True)
    assert page.get(f"{WHERE}?day=2026-11-25").status_code == 409
    assert page.post(WHERE, {**form, "why": "x y", "what": "sales"}).status_code == 400
    assert morning.shop.closed_days.corrections_of(morning.clock().date()).written == ()


def test_a_page_names_no_option_of_a_command_line_and_no_key_of_a_form(
    page: Page, morning: ShopInHand
) -> None:
    closed(morning)
    sold = {"day": DAY, "what": "sold", "portion": "firm-block", "clock": "09:30", "why": "x y"}

    def refused(path: str, form: dict[str, str]) -> str:
        answer = page.post(path, form)
        assert answer.status_code == 400
        return html.unescape(answer.get_data(as_text=True))

    without = {"day": DAY, "what": "cash", "cash": "5.00", "why": " "}
    assert "no reason is given. Say what was wrong. (" in refused(WHERE, without)
    page.post("/language", {"language": "es"})
    assert "no se dio ningún motivo. Diga qué estaba mal. (" in refused(WHERE, without)
    assert "leer el número: tiene 6 caracteres" in refused(WHERE, {**sold, "number": "123456"})
    assert "leer el motivo: no se llenó" in refused("/log/lot/26329-01/void", {})


def test_who_sells_corrects_no_closed_day(
    page: Page, pins: dict[str, str], morning: ShopInHand
) -> None:
    closed(morning)
    page.sign_in("ida", pins["ida"])
    assert page.get(f"{WHERE}?day={DAY}").status_code == 403
    assert WHERE not in page.get(f"/records/?day={DAY}").get_data(as_text=True)
