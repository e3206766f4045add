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
    assert morning.shop.batch(lot).uncooled
    sure = page.post(f"/log/lot/{lot}/amend", {**form, "sure.late": "was 3 C, tablet flat"})
    assert sure.status_code == 302
    assert not morning.shop.batch(lot).uncooled
    assert "8:20 AM" in said(page.get(f"/log/lot/{lot}"))
