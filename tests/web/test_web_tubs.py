"""Tubs opened on the page: measured, and reheated where cold food is held hot."""

from tests.conftest import ShopInHand
from tests.web.conftest import Page


def test_a_tub_is_measured_and_cold_food_reheated(page: Page, morning: ShopInHand) -> None:
    # Food Code 3-501.16, 3-501.19(B) and 3-403.11(A),(D). The lot stands in a cold tub already.
    opened = {"lot": "26328-04", "mode": "hot"}
    refused = page.send("/tubs/open", opened)
    assert refused.status_code == 400
    assert "its temperature is not measured" in refused.get_json()["error"]
    opened["temperature"] = "140 F"
    refused = page.send("/tubs/open", opened)
    assert refused.status_code == 409
    assert "it was cooled, and how hot it was reheated" in refused.get_json()["error"]
    assert page.send("/tubs/open", {**opened, "reheated": "165", "took": "150"}).status_code == 409
    good = page.send("/tubs/open", {**opened, "reheated": "165", "took": "45"})
    assert good.status_code == 200
    assert [t.mode for t in morning.shop.desk.ledger().open_tubs()] == ["cold", "hot"]


def test_what_is_lost_whole_is_asked_in_the_dialog(page: Page, morning: ShopInHand) -> None:
    # What is past its time carries its true reason; that this is asked is the shop's own rule.
    ended = {"tub": "26328-04/1", "left": "0"}
    asked = page.send("/tubs/end", ended)
    assert asked.status_code == 409
    (question,) = asked.get_json()["questions"]
    assert question["about"] == "left"
    assert question["text"] == "8\xa0l of tub 26328-04/1 lost in scooping"
    sure = {"X-Token": page.token, "X-Sure": "left=it fell down"}
    assert page.client.post("/tubs/end", json=ended, headers=sure).status_code == 200
    assert morning.shop.desk.ledger().open_tubs() == []
