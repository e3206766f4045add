"""The rules for food that may not be sold, on the page. Sources beside the rules' own tests."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

from tests.conftest import ShopInHand
from tests.web.conftest import Page


def said(answer: Any) -> str:
    """The text of a page, with plain spaces."""
    return re.sub("[\u00a0\u202f]", " ", unescape(answer.get_data(as_text=True)))


def test_the_page_refuses_yesterdays_date_at_night(page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-29 02:30")
    why = "its best-by date 2026-11-28 has passed. Throw it away under Waste."
    assert why in page.get("/shelf/").get_data(as_text=True)
    refused = page.send("/slip/read", {"text": "26328-01"})
    assert refused.status_code == 409
    assert refused.get_json()["error"] == f"Cannot sell lot 26328-01: {why}"


def test_the_page_shows_the_minutes_of_a_cooling_and_that_it_is_overdue(
    page: Page, morning: ShopInHand
) -> None:
    lot = morning.batch("firm", cook_ended=morning.ago(20)).lot  # it is half past eight
    for path in ("/shelf/", "/log/", f"/log/lot/{lot}"):
        shown = said(page.get(path))
        assert "21 °C / 70 °F by 10:10 AM, 100 minutes left" in shown
    morning.clock.set("2026-11-24 10:11")
    for path in ("/shelf/", "/log/", f"/log/lot/{lot}"):
        shown = said(page.get(path))
        assert "21 °C / 70 °F overdue since 10:10 AM" in shown
    morning.clock.set("2026-11-24 14:11")
    assert "cold not noted in time" in said(page.get("/log/"))
    refused = page.send("/slip/read", {"text": lot})
    assert refused.get_json()["error"].replace("\u00a0", " ") == (
        f"Cannot sell lot {lot}: 5 °C / 41 °F is not noted, and was due by 14:10. Note when it was "
        "reached in the production log, or stop the lot."
    )


def test_the_page_asks_why_a_cooling_is_noted_late(page: Page, morning: ShopInHand) -> None:
    lot = morning.batch("firm", cook_ended=morning.ago(20)).lot
    morning.clock.set("2026-11-24 15:00")
    form = {"cooled-21": "09:00", "cooled-5": "11:00", "passed-57": "08:20", "because": "read"}
    asked = page.post(f"/log/lot/{lot}/amend", form)
    assert asked.status_code == 409
    assert "is noted late, 4 h 00 min after it" in said(asked)
    assert morning.shop.desk.batch(lot).uncooled
    sure = page.post(f"/log/lot/{lot}/amend", {**form, "sure.late": "was 3 C, tablet flat"})
    assert sure.status_code == 302
    assert not morning.shop.desk.batch(lot).uncooled
    assert "8:20 AM" in said(page.get(f"/log/lot/{lot}"))


def test_the_page_stops_all_lots_of_a_code_and_what_was_made_of_them(
    page: Page, morning: ShopInHand
) -> None:
    lot = morning.batch("firm", codes={"soybeans": "B-1207"}).lot
    smoked = morning.batch("smoked", 4, boiled_minutes=None, mixed=((lot, 4),)).lot
    found = said(page.get("/records/find?q=B-1207"))
    assert "Stop 1 lot with the supplier's code B-1207" in found
    done = page.post("/records/stop-code", {"code": "B-1207", "why": "the mill called"})
    assert done.status_code == 302
    held = morning.shop.desk.standing().held
    assert (held(lot), held(smoked)) == (
        "the mill called", f"lot {lot} went into it: the mill called",
    )  # fmt: skip
    assert f"Lots {lot}, {smoked} are stopped" in said(page.get("/log/"))


def test_the_page_lets_only_an_owner_release_what_the_program_stopped(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    lot = morning.hot("firm", 48, ended=170).lot
    page.sign_in("teo", pins["teo"])
    page.post(f"/log/lot/{lot}/cooled", {"step": "21"})
    shown = said(page.get(f"/log/lot/{lot}"))
    assert "The program stopped it: an owner releases it, with a reason." in shown
    release = {"what": "release", "why": "the probe was wrong"}
    refused = page.post(f"/log/lot/{lot}/hold", release)
    assert refused.status_code == 409
    assert "the program stopped it, and Teo is no owner" in said(refused)
    page.sign_in("rosa", pins["rosa"])
    assert page.post(f"/log/lot/{lot}/hold", {**release, "why": "ok"}).status_code == 400
    assert page.post(f"/log/lot/{lot}/hold", release).status_code == 302
    assert morning.shop.desk.standing().held(lot) == ""
