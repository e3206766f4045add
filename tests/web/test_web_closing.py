"""The closing over the page: counts, cash, words, seal, reopen, drawer; refusals write nothing."""

from __future__ import annotations

import re
from typing import Any

import pytest

from counter.trade.closing import Closing
from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of

DAY = "2026-11-24"
COUNTS = {
    "lot-26328-01": "44",
    "lot-26328-02": "30",
    "lot-26328-03": "4000",
    "lot-26328-04": "15800",
}
CASH = {"coin-5000": "3", "coin-25": "4", "leave": "100"}


def text_of(answer: Any) -> str:
    return str(answer.get_data(as_text=True))


def previewed(page: Page) -> dict[str, str]:
    """The fields the preview hands on to the seal."""
    html = text_of(page.get("/closing/preview", query_string={"day": DAY, **CASH}))
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', html))


def seal(page: Page, **more: str) -> Any:
    return page.post("/closing/seal", {**previewed(page), "notes": "a quiet day", **more})


def last(morning: ShopInHand) -> Closing:
    found = morning.shop.desk.last_closing()
    assert isinstance(found, Closing)
    return found


def test_what_the_log_expects_is_hidden_until_a_count_is_typed(page: Page) -> None:
    assert "the log has" not in re.sub(r'data-expected="[^"]*"', "", text_of(page.get("/closing/")))
    page.post(f"/closing/count?day={DAY}", {"lot-26328-01": "44"})
    html = re.sub(r'data-expected="[^"]*"', "", text_of(page.get("/closing/")))
    assert html.count("the log has") == 1
    assert "the log has 48" in html
    assert "4 missing" in html
    assert "the log has 30" in text_of(page.get("/closing/?show=yes"))


def test_one_count_is_kept_and_answered_as_soon_as_it_is_typed(page: Page) -> None:
    made = page.send("/closing/count.json", {"lot": "26328-03", "amount": "3.9 kg", "day": DAY})
    assert made.get_json() == {
        "lot": "26328-03", "says": "100\u00a0g missing", "state": "warn", "counted": "3.9\u00a0kg",
        "expected": "4\u00a0kg",
    }  # fmt: skip


def test_counts_that_are_kept_already_are_not_written_twice(
    page: Page, morning: ShopInHand
) -> None:
    page.post(f"/closing/count?day={DAY}", COUNTS)
    before = books_of(morning)
    assert page.post(f"/closing/count?day={DAY}", COUNTS).status_code == 302
    assert books_of(morning) == before


def test_the_day_is_sealed_with_counts_coins_and_words(page: Page, morning: ShopInHand) -> None:
    morning.sell("firm-block*4", cash=2000)
    page.post(f"/closing/count?day={DAY}", COUNTS)
    made = seal(page, **{"why-cash": "a note too few"})
    assert (made.status_code, made.location) == (302, "/closing/")
    closing = last(morning)
    assert (closing.cash.counted, closing.cash.left) == (15100, 10000)
    assert closing.explained == {"cash": "a note too few"}
    assert closing.notes == "a quiet day"
    lots = {lot.lot: lot for lot in closing.lots}
    assert lots["26328-01"].carried_out == 44
    assert lots["26328-04"].wasted == {"scooping": 200}
    assert "was closed at" in text_of(page.get("/closing/"))


def test_the_preview_shows_what_the_seal_will_write(page: Page, morning: ShopInHand) -> None:
    page.post(f"/closing/count?day={DAY}", COUNTS)
    before = books_of(morning)
    shown = morning.shop.evening.closing_preview(day=morning.shop.desk.today())
    assert books_of(morning) == before
    morning.shop.evening.close_day()
    assert shown.lots == last(morning).lots


def test_a_day_that_went_on_since_it_was_looked_at_is_not_sealed(
    page: Page, morning: ShopInHand
) -> None:
    fields = previewed(page)
    morning.sell("firm-block", cash=325)
    before = books_of(morning)
    made = page.post("/closing/seal", fields)
    assert made.status_code == 409
    assert "something was written down meanwhile" in text_of(made)
    assert books_of(morning) == before


def test_today_is_opened_again_with_a_reason(page: Page, morning: ShopInHand) -> None:
    seal(page)
    assert page.post("/closing/reopen", {"why": ""}).status_code == 400
    assert page.post("/closing/reopen", {"why": "a late customer"}).status_code == 302
    assert "1. Count what is left" in text_of(page.get("/closing/"))
    assert seal(page).status_code == 302


def test_a_day_that_was_forgotten_is_closed_first_and_counted_into_its_own_book(
    page: Page, morning: ShopInHand
) -> None:
    morning.clock.set("2026-11-25 08:00")
    morning.batch("firm", 24)
    assert "was never closed" in text_of(page.get("/closing/"))
    page.send("/closing/count.json", {"lot": "26328-01", "amount": "40", "day": DAY})
    assert previewed(page)["day"] == DAY
    assert seal(page).status_code == 302
    assert last(morning).day.isoformat() == DAY
    counted = {lot.lot: (lot.counted, lot.carried_out) for lot in last(morning).lots}
    assert (counted["26328-01"], counted["26328-02"]) == ((True, 40), (False, 30))
    assert "Wednesday, November 25" in text_of(page.get("/closing/"))


def test_the_drawer_begins_counted_and_money_moves_with_a_reason(
    page: Page, morning: ShopInHand
) -> None:
    page.post("/closing/drawer", {"kind": "float", "coin-2000": "5", "coin-25": "40"})
    page.post("/closing/drawer", {"kind": "out", "amount": "20.00", "why": "ginger"})
    drawer = morning.shop.desk.ledger().drawer
    assert (drawer.start, drawer.expected, drawer.coins[2000]) == (11000, 9000, 4)
    page_text = text_of(page.get("/closing/drawer"))
    assert "ginger" in page_text
    assert "should be in the drawer" not in page_text


@pytest.mark.parametrize(("path", "sent", "status"), [
    ("count?day=" + DAY, {"lot-26328-01": "-1"}, 400),
    ("count?day=" + DAY, {"lot-26328-01": "many"}, 400),
    ("count?day=" + DAY, {"lot-26328-01": "9" * 60}, 400),
    ("count?day=" + DAY, {"lot-26328-01": "3 l"}, 400),
    ("count?day=2026-11-31", COUNTS, 400),
    ("count?day=2030-01-01", COUNTS, 404),
    ("count?day=\x00", COUNTS, 400),
    ("seal", {"day": DAY}, 400),
    ("seal", {"day": DAY, "seen": "x"}, 409),
    ("seal", {"day": DAY, "seen": "٣"}, 409),
    ("seal", {"day": DAY, "seen": "1", "cash": "-5"}, 400),
    ("seal", {"day": DAY, "seen": "1", "cash": "1e3"}, 400),
    ("seal", {"day": DAY, "seen": "1", "coin-2000": "1.5"}, 400),
    ("seal", {"day": DAY, "seen": "1", "coin-2000": "1", "cash": "5"}, 400),
    ("seal", {"day": DAY, "seen": "1", "leave": "99999999999"}, 400),
    ("seal", {"day": DAY, "seen": "1", "notes": "x" * 1001}, 400),
    ("seal", {"day": DAY, "seen": "1", "why-26328-01": "a\x00b"}, 400),
    ("reopen", {"why": "too early"}, 409),
    ("drawer", {"kind": "steal", "amount": "1", "why": "x"}, 400),
    ("drawer", {"kind": "in", "amount": "1"}, 400),
    ("drawer", {"kind": "in", "why": "x"}, 400),
    ("drawer", {"kind": "in", "amount": "0", "why": "x"}, 400),
    ("drawer", {"kind": "out", "amount": "5000", "why": "x"}, 409),
    ("drawer", {"kind": "float", "coin-2000": "-1"}, 400),
])  # fmt: skip
def test_what_means_nothing_is_refused_with_a_sentence_and_writes_nothing(
    page: Page, morning: ShopInHand, path: str, sent: dict[str, str], status: int
) -> None:
    before = books_of(morning)
    made = page.post(f"/closing/{path}", sent)
    assert made.status_code == status
    assert "Cannot " in text_of(made)
    assert books_of(morning) == before


def test_words_about_a_lot_that_is_not_there_seal_nothing(page: Page, morning: ShopInHand) -> None:
    before = books_of(morning)
    assert seal(page, **{"why-26328-77": "?"}).status_code == 404
    assert books_of(morning) == before


@pytest.mark.parametrize("sent", [
    {}, [], {"lot": "26328-01", "amount": "1"}, {"lot": "26328-99", "amount": "1", "day": DAY},
    {"lot": "26328-01", "amount": "1", "day": "tomorrow"},
    {"lot": "26328-01", "amount": 1, "day": DAY},
    {"lot": "26328-01", "amount": "-1", "day": DAY},
    {"lot": "26328-01", "amount": "1", "day": DAY, "more": 1},
])  # fmt: skip
def test_a_count_that_means_nothing_is_answered_with_a_sentence(
    page: Page, morning: ShopInHand, sent: Any
) -> None:
    before = books_of(morning)
    made = page.send("/closing/count.json", sent)
    assert made.status_code in (400, 404)
    assert made.get_json()["error"].startswith("Cannot ")
    assert books_of(morning) == before


@pytest.mark.parametrize(
    "query", ["?day=x", "?cash=-1", "?coin-2000=x", "?day=1999-01-01", "?leave=%00"]
)
def test_a_preview_of_nonsense_shows_the_form_again(page: Page, query: str) -> None:
    made = page.get(f"/closing/preview{query}")
    assert 400 <= made.status_code < 500
    assert "Cannot " in text_of(made)


@pytest.mark.parametrize("path", ["", "preview", "drawer"])
def test_only_the_owner_sees_the_closing(page: Page, pins: dict[str, str], path: str) -> None:
    page.sign_in("teo", pins["teo"])
    assert page.get(f"/closing/{path}").status_code == 403


@pytest.mark.parametrize("path", ["count", "count.json", "seal", "reopen", "drawer"])
def test_only_the_owner_closes(
    page: Page, morning: ShopInHand, pins: dict[str, str], path: str
) -> None:
    page.sign_in("ida", pins["ida"])
    before = books_of(morning)
    assert page.post(f"/closing/{path}", {"why": "x", "day": DAY}).status_code == 403
    assert books_of(morning) == before


def test_a_difference_is_asked_for_by_the_name_of_the_product(page: Page) -> None:
    page.send("/closing/count.json", {"lot": "26328-01", "amount": "46", "day": DAY})
    html = text_of(page.get("/closing/preview", query_string={"day": DAY, **CASH}))
    assert "Firm Tofu 26328-01: 2 missing" in html
    uncounted = html.split("Not counted, so what the log has goes over:")[1].split("</ul>")[0]
    assert "Soft Tofu" in uncounted
    assert "26328-02" in uncounted
    assert "26328-01" not in uncounted
