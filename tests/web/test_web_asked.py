"""What can hardly be, asked on the page: a form's second page, the program's dialog, a job."""

from __future__ import annotations

import re

import pytest

from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of

pytestmark = pytest.mark.usefixtures("nobody_answers")
FORM = {
    "product": "firm", "made": "480", "cook": "boiled", "cook-minutes": "10", "cooked-at": "06:00",
    "cooled-21": "07:00", "cooled-5": "08:00", "same": "1",
}  # fmt: skip


def test_a_form_is_asked_on_a_page_of_its_own_and_sent_again(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    asked = page.post("/log/new?product=firm", FORM)
    text = asked.get_data(as_text=True)
    assert (asked.status_code, books_of(morning)) == (409, before)
    assert "480 for the amount made of Firm Tofu, where about 48 is usual" in text
    sent = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', text))
    assert {name: sent[name] for name in FORM} == FORM
    done = page.post("/log/new?product=firm", {**sent, "sure.made": "ten moulds for the fair"})
    assert done.status_code == 302
    assert [a.words for a in morning.shop.desk.ledger().answers] == ["ten moulds for the fair"]


def test_what_was_answered_before_goes_along_when_something_else_is_asked(
    page: Page, morning: ShopInHand
) -> None:
    form = {**FORM, "brix": "1.1", "sure.made": "for the fair"}
    text = page.post("/log/new?product=firm", form).get_data(as_text=True)
    assert 'name="sure.made" value="for the fair"' in text
    assert re.findall(r'<input id="[^"]*" name="(sure[^"]*)" required', text) == ["sure.brix"]


def test_the_form_says_it_before_it_is_sent(page: Page) -> None:
    query = "&".join(f"{name}={value}" for name, value in FORM.items())
    gates = page.get(f"/log/preview.json?{query}").get_json()["gates"]
    said = [g["sentence"] for g in gates if g["kind"] == "warn"]
    assert "480 for the amount made of Firm Tofu, where about 48 is usual." in said


def test_the_two_taps_of_cooling_are_asked_about(page: Page, morning: ShopInHand) -> None:
    lot = morning.batch("soft", 30, cook_ended=None, cooled=None).lot
    page.post(f"/log/lot/{lot}/cooled", {"step": "21"})
    asked = page.post(f"/log/lot/{lot}/cooled", {"step": "5"})
    assert asked.status_code == 409
    said = asked.get_data(as_text=True).replace("\u00a0", " ")
    assert "went from 21 °C to 5 °C within 10 minutes" in said


def sold(page: Page, **headers: str) -> tuple[int, dict[str, object]]:
    slip = {"items": [{"portion": "firm-block", "quantity": 4}], "key": "k1"}
    tenders = [{"kind": "cash", "amount": "2000.00"}]
    answer = page.client.post(
        "/slip/pay", json={"slip": slip, "tenders": tenders, "seen": 1225},
        headers={"X-Token": page.token, **headers},
    )  # fmt: skip
    return answer.status_code, answer.get_json()


def test_cash_with_two_zeros_too_many_is_asked_in_the_dialog(
    page: Page, morning: ShopInHand
) -> None:
    status, found = sold(page)
    assert (status, found["questions"]) == (
        409, [{"about": "cash", "tried": "Book a sale of 12.25", "text": "2000.00 in cash for 12.25", "clause": ""}]
    )  # fmt: skip
    status, found = sold(page, **{"X-Sure": "cash=a+wad"})
    assert (status, found["number"]) == (200, "2026-11-24/0001")


def test_no_amount_that_the_page_offers_is_asked_about(page: Page, morning: ShopInHand) -> None:
    slip = {"items": [{"portion": "firm-block", "quantity": 2}], "key": ""}
    offers = page.send("/slip/price", slip).get_json()["offers"]
    for n, given in enumerate([*(offer["given"] for offer in offers), "100.00"]):
        tenders = [{"kind": "cash", "amount": given}]
        sent = {"slip": {**slip, "key": f"k{n}"}, "tenders": tenders, "seen": 650}
        assert page.send("/slip/pay", sent).status_code == 200


def test_the_first_record_of_the_day_says_it_once_on_the_page(
    page: Page, morning: ShopInHand
) -> None:
    morning.clock.set("2026-11-25 08:00")
    page.post("/closing/drawer", {"kind": "in", "amount": "5", "why": "coins"})
    said = "It is Wednesday, November 25, 2026."
    assert said in page.get("/closing/drawer").get_data(as_text=True)
    assert said not in page.get("/closing/drawer").get_data(as_text=True)


def test_a_skipped_day_is_asked_and_a_closed_one_names_the_day(
    page: Page, morning: ShopInHand
) -> None:
    morning.clock.set("2026-11-27 08:00")
    drawer = {"kind": "in", "amount": "5", "why": "coins"}
    asked = page.post("/closing/drawer", drawer)
    assert "It is Friday 2026-11-27, and the day written last is Tuesday" in asked.get_data(
        as_text=True
    )
    assert page.post("/closing/drawer", {**drawer, "sure.day": "shut"}).status_code == 302
    morning.shop.desk.questions.given = {"uncounted": "no time", "cooling": "it is", "cash": "so"}
    for day in (24, 27):
        morning.shop.evening.close_day(day=morning.clock().date().replace(day=day))
    refused = page.get("/shelf.json").get_json()["error"]
    assert "this computer believes it is Friday 2026-11-27" in refused


def test_the_questions_are_asked_in_spanish(page: Page, morning: ShopInHand) -> None:
    page.post("/language", {"language": "es"})
    morning.clock.set("2026-11-27 08:00")
    drawer = {"kind": "in", "amount": "2000", "why": "coins"}
    text = page.post("/closing/drawer", drawer).get_data(as_text=True)
    assert "2000.00, cuando la caja suele empezar con 150.00" in text
    assert "<b>Anotar 2000.00 de entrada en la caja" in text
    assert "Es viernes 27 nov 2026, y el último día anotado es martes 24 nov 2026" in text


# -- the closing, in one form


def preview(page: Page, cash: str = "140.00") -> str:
    return page.get(f"/closing/preview?cash={cash}").get_data(as_text=True)


def test_the_preview_asks_in_its_own_form_and_the_seal_keeps_the_answers(
    page: Page, morning: ShopInHand
) -> None:
    morning.shop.tubs.end_tub("26328-04/1", 8000, True)
    morning.batch("spiced", 24, cooled=None, cook_ended=morning.clock().time())
    text = preview(page)
    wanted = re.findall(r'<input id="f-[^"]*" name="([^"]*)"[^>]* required', text)
    assert wanted == ["why-cash", "sure.uncounted", "sure.cooling"]
    sent = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', text))
    bare = page.post("/closing/seal", sent)
    assert (bare.status_code, "<h1>Is that so?" in bare.get_data(as_text=True)) == (409, True)
    words = {"why-cash": "the ice man", "sure.uncounted": "no time", "sure.cooling": "in the ice"}
    assert page.post("/closing/seal", {**sent, **words}).status_code == 302
    closing = morning.shop.closings.of(morning.clock().date())
    assert closing.explained == {"cash": "the ice man"}
    assert {a.about: a.words for a in closing.answers} == {
        "uncounted": "no time", "cooling": "in the ice",
    }  # fmt: skip
    shown = page.get("/closing/").get_data(as_text=True)
    assert "<b>no time</b>" in shown
    assert re.search("Close day 2026-11-24: nobody counted 26328-.*26328-01", shown)


def test_a_closing_with_nothing_open_has_no_question(page: Page, morning: ShopInHand) -> None:
    for row in list(morning.shop.desk.ledger().rows.values()):
        morning.shop.waste.throw_out(row.lot.lot, row.there, "tasting")
    assert "sure." not in preview(page, "150.00")


# -- labels, printed as a job


def test_a_job_that_must_ask_answers_with_its_question(page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-26 08:00")
    headers = {"X-Token": page.token, "X-Job": "yes"}
    form = {"lot": "26328-01", "count.26328-01": "2", "do": "save"}

    def printed(**more: str) -> dict[str, object]:
        answer = page.client.post("/labels/print", data=form, headers={**headers, **more})
        found = answer.get_json()
        while found.get("state") == "going":
            found = page.get(found["ask"]).get_json()
        return found

    found = printed()
    assert (found["state"], [q["about"] for q in found["questions"]]) == ("failed", ["day"])
    assert printed(**{"X-Sure": "day=closed+yesterday"})["state"] == "done"
    assert "It is Thursday" in page.get("/labels/").get_data(as_text=True)
