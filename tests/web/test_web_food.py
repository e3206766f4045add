"""The rules for food that may not be sold, on the page. Sources beside the rules' own tests."""

from __future__ import annotations

from tests.conftest import ShopInHand
from tests.web.conftest import Page


def test_the_page_refuses_yesterdays_date_at_night(page: Page, morning: ShopInHand) -> None:
    morning.clock.set("2026-11-29 02:30")
    why = "its best-by date 2026-11-28 has passed. Throw it away under Waste."
    assert why in page.get("/shelf/").get_data(as_text=True)
    refused = page.send("/slip/read", {"text": "26328-01"})
    assert refused.status_code == 409
    assert refused.get_json()["error"] == f"Cannot sell lot 26328-01: {why}"
