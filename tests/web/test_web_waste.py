"""Waste over the page: what must go, any lot, the reasons; and what is refused writes nothing."""

from __future__ import annotations

import pytest

from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of


def form(**changed: str) -> dict[str, str]:
    return {"lot": "26328-01", "amount": "2", "reason": "broken", "words": "", **changed}


def test_waste_is_written_with_its_reason_and_said_on_the_next_page(
    page: Page, morning: ShopInHand
) -> None:
    made = page.post("/waste/", form())
    assert (made.status_code, made.location) == (302, "/waste/")
    [waste] = morning.shop.desk.ledger().waste
    assert (waste.lot, waste.amount, waste.reason) == ("26328-01", 2, "broken")
    assert "Firm Tofu, 26328-01: 2 written down as waste." in page.get("/waste/").get_data(
        as_text=True
    )
    assert morning.on_hand("26328-01") == 46


@pytest.mark.parametrize(
    ("path", "headers"),
    [("/shelf.json", {}), ("/away/", {}), ("/worker.js", {}), ("/shelf/", {"X-Kept": "yes"})],
)
def test_what_the_browser_asks_for_by_itself_does_not_swallow_a_note(
    page: Page, morning: ShopInHand, path: str, headers: dict[str, str]
) -> None:
    page.post("/waste/", form())
    between = page.client.get(path, headers=headers)
    assert between.status_code == 200
    told = "2 written down as waste"
    assert told not in between.get_data(as_text=True)
    assert told in page.get("/waste/").get_data(as_text=True)
    assert told not in page.get("/labels/").get_data(as_text=True)


def test_other_keeps_its_words(page: Page, morning: ShopInHand) -> None:
    page.post("/waste/", form(reason="other", words="the cat"))
    assert morning.shop.desk.ledger().waste[-1].words == "the cat"


def test_what_is_picked_as_a_tub_leaves_the_tub(page: Page, morning: ShopInHand) -> None:
    page.post("/waste/", form(lot="26328-04/1", amount="500 ml", reason="tasting"))
    assert morning.shop.desk.ledger().tubs["26328-04/1"].level == 7500


def test_a_lot_past_its_date_goes_at_one_tap_with_its_open_tub(
    page: Page, morning: ShopInHand
) -> None:
    morning.clock.set("2026-11-26 09:00")
    text = page.get("/waste/").get_data(as_text=True)
    assert "its best-by date 2026-11-25 has passed." in text
    made = page.post("/waste/gone", {"lot": "26328-04", "tub": "", "amount": "16000"})
    assert made.status_code == 302
    ledger = morning.shop.desk.ledger()
    assert [(w.amount, w.tub, w.reason) for w in ledger.waste] == [
        (8000, "26328-04/1", "date"), (8000, "", "date"),
    ]  # fmt: skip
    assert ledger.open_tubs() == []
    assert ledger.rows["26328-04"].on_hand == 0


def test_a_second_tap_on_the_same_lot_is_refused(page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-26 09:00")
    sent = {"lot": "26328-04", "tub": "", "amount": "16000"}
    page.post("/waste/gone", sent)
    before = books_of(morning)
    assert page.post("/waste/gone", sent).status_code == 404
    assert books_of(morning) == before


def test_a_tub_past_its_time_goes_at_one_tap(page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-24 12:30")
    made = page.post("/waste/gone", {"lot": "26328-04", "tub": "26328-04/1", "amount": "8000"})
    assert made.status_code == 302
    assert [w.reason for w in morning.shop.desk.ledger().waste] == ["unmeasured"]  # its true reason


def test_a_refused_form_keeps_what_was_typed(page: Page) -> None:
    made = page.post("/waste/", form(amount="999", words="fell"))
    text = made.get_data(as_text=True)
    assert made.status_code == 409
    assert "the log has only 48 of it left" in text
    assert 'value="999"' in text
    assert 'value="fell"' in text


HOSTILE = [
    ({"lot": ""}, 400), ({"lot": "x" * 300}, 400), ({"lot": "26328-99"}, 404),
    ({"lot": "26328-01/9"}, 404), ({"lot": "<script>"}, 404), ({"lot": "\x00"}, 400),
    ({"amount": ""}, 400), ({"amount": "-3"}, 400), ({"amount": "0"}, 400),
    ({"amount": "1e9"}, 400), ({"amount": "٣"}, 400), ({"amount": "9" * 41}, 400),
    ({"amount": "2 kg"}, 400), ({"amount": "NaN"}, 400), ({"amount": "=1+1"}, 400),
    ({"reason": "because"}, 400), ({"reason": ""}, 400), ({"reason": "other"}, 400),
    ({"words": "x" * 201}, 400), ({"words": "a\x1bb"}, 400),
]  # fmt: skip


@pytest.mark.parametrize(("changed", "status"), HOSTILE)
def test_what_means_nothing_is_refused_with_a_sentence_and_writes_nothing(
    page: Page, morning: ShopInHand, changed: dict[str, str], status: int
) -> None:
    before = books_of(morning)
    made = page.post("/waste/", form(**changed))
    assert made.status_code == status
    assert "Cannot " in made.get_data(as_text=True)
    assert books_of(morning) == before


@pytest.mark.parametrize("sent", [
    {}, {"lot": "26328-01", "amount": "48"}, {"lot": "26328-04", "tub": "x", "amount": "1"},
    {"lot": "26328-04", "tub": "26328-04/1", "amount": "-1"},
])  # fmt: skip
def test_one_tap_takes_only_what_must_go(
    page: Page, morning: ShopInHand, sent: dict[str, str]
) -> None:
    morning.clock.set("2026-11-24 12:30")
    before = books_of(morning)
    made = page.post("/waste/gone", sent)
    assert made.status_code in (400, 404)
    assert "Cannot " in made.get_data(as_text=True)
    assert books_of(morning) == before


def test_script_in_the_words_is_shown_as_text(page: Page) -> None:
    page.post("/waste/", form(reason="other", words="<script>alert(1)</script>"))
    text = page.get("/waste/").get_data(as_text=True)
    assert "&lt;script&gt;alert(1)" in text
    assert "<script>alert" not in text


def test_somebody_at_the_counter_may_write_waste_and_a_stranger_may_not(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    before = books_of(morning)
    assert page.post("/waste/", form()).status_code == 403
    assert books_of(morning) == before
    page.sign_in("ida", pins["ida"])
    assert page.post("/waste/", form()).status_code == 302
    assert morning.shop.desk.ledger().waste[-1].by == "Ida"


def test_what_may_still_be_put_right_is_not_said_to_be_thrown_away(
    page: Page, morning: ShopInHand
) -> None:
    morning.shop.holds.hold("26328-01", True, "smells sour")
    morning.clock.set("2026-11-24 12:30")  # the tub was measured last at 08:00
    text = page.get("/waste/").get_data(as_text=True)
    assert "Nothing must be thrown away now." in text
    assert "To be thrown away now" not in text
    _, listed = text.split("Not for sale now: put it right, or throw it away")
    assert 'href="/log/lot/26328-01"' in listed  # there it is released
    assert "Measure" in listed
    assert listed.count('action="/waste/gone"') == 2
