"""Where lots lie, on the page: a band over a warm place, and a lot moved from its own page."""

import re
from decimal import Decimal

from counter.trade.settings import parse_settings
from tests.conftest import SETTINGS, ShopInHand
from tests.web.conftest import Page


def test_a_warm_place_puts_a_band_on_the_shelf_and_stops_its_lots(
    page: Page, morning: ShopInHand
) -> None:
    # Food Code 3-501.16(A), with 3-501.19(B) as the measure.
    before = page.get("/shelf.json").get_json()["band"]
    assert "fridge" not in before
    page.post("/temperatures/", {"place": "fridge", "celsius": "39"})
    morning.clock.set("2026-11-24 10:00")
    page.post("/temperatures/", {"place": "fridge", "celsius": "48"})
    band = page.get("/shelf.json").get_json()["band"]
    assert "fridge measured 48 °F at 10:00" in band.replace("\u202f", " ").replace("\u00a0", " ")
    said = re.sub(r"<[^>]*>", "", band)
    assert re.search("150\u00a0min left: .*26328-01", said)
    assert said.count("min left") == 1  # of all that lies there, once
    morning.clock.set("2026-11-24 12:30")
    slip = {"items": [{"portion": "firm-block", "lot": "26328-01", "quantity": 1}]}
    refused = page.send("/slip/price", slip)
    assert refused.status_code == 409
    assert "out of its temperature for 240 minutes in all" in refused.get_json()["error"]
    assert "out of its temperature for 240" in page.get("/waste/").get_data(as_text=True)
    preview = page.get("/plan/").get_data(as_text=True)
    assert "what lies there may have to go" in preview


def test_a_lot_is_moved_on_its_own_page(page: Page, morning: ShopInHand) -> None:
    shown = page.get("/log/lot/26328-01").get_data(as_text=True)
    assert "in fridge since" in shown
    moved = page.post("/log/lot/26328-01/move", {"place": "display", "celsius": "39"})
    assert moved.status_code == 302
    lot = morning.shop.desk.ledger().rows["26328-01"].lot
    assert (lot.place, lot.kind) == ("display", "cold")
    again = page.post("/log/lot/26328-01/move", {"place": "display", "celsius": ""})
    assert again.status_code == 409


def test_the_closing_says_what_was_out_of_its_temperature(page: Page, morning: ShopInHand) -> None:
    morning.shop.records.note_temperature("fridge", Decimal(4))
    morning.clock.set("2026-11-24 10:00")
    morning.shop.records.note_temperature("fridge", Decimal(9))
    shown = page.get("/closing/preview").get_data(as_text=True)
    shown = shown.replace("\u00a0", " ")
    assert "90 min out of its temperature" in shown
    assert "fridge measured 48.2 °F last" in shown


def test_a_lot_is_frozen_and_thawed_on_its_own_page(page: Page, morning: ShopInHand) -> None:
    # Food Code 3-501.17, .18: the count of its date stands still.
    assert morning.shop.desk.folder is not None
    settings = morning.shop.desk.folder / "shop.toml"
    places = '\n[holding]\nfridge = "cold"\nchest = "freezer"\n'
    settings.write_text(settings.read_text("utf-8") + places, "utf-8")
    morning.shop.labels.print_labels([("26328-01", 9)])
    assert "chest" in page.get("/log/lot/26328-01").get_data(as_text=True)
    page.post("/log/lot/26328-01/move", {"place": "chest"})
    shown = page.get("/log/lot/26328-01").get_data(as_text=True)
    assert "Frozen since Nov 24, 2026" in shown
    assert "past its date" not in shown
    assert '<b class="chip">frozen</b>' in page.get("/shelf/").get_data(as_text=True)
    morning.clock.set("2026-12-10 09:00")
    page.post("/log/lot/26328-01/move", {"place": "fridge", "celsius": "39"})
    shown = page.get("/log/lot/26328-01").get_data(as_text=True)
    assert "thawed on Dec 10, 2026" in shown
    assert "Sunday, December 13, 2026" in shown
    assert "it stood still for 15 days while it was frozen" in shown
    assert "9 packs bear the labels of before it was thawed" in shown
    choices = page.get("/labels/").get_data(as_text=True)
    assert "26328-01" in choices
    assert "bear the labels of before" not in choices  # new ones are what it needs


def test_what_thawed_in_its_freezer_is_not_sold_out_of_it(page: Page, morning: ShopInHand) -> None:
    # Food Code 3-501.17: the date of what is not frozen runs on.
    morning.shop.desk.settings = parse_settings(SETTINGS + '\n[holding]\nchest = "freezer"\n')
    page.post("/log/lot/26328-01/move", {"place": "chest", "celsius": ""})
    morning.clock.set("2026-11-24 09:00")
    page.post("/temperatures/", {"place": "chest", "celsius": "37"})
    slip = {"items": [{"portion": "firm-block", "lot": "26328-01", "quantity": 1}]}
    refused = page.send("/slip/price", slip)
    assert refused.status_code == 409
    assert "it thawed in chest on" in refused.get_json()["error"]


def test_food_measured_warm_is_said_on_the_page(page: Page, morning: ShopInHand) -> None:
    page.post("/log/lot/26328-01/move", {"place": "fridge", "celsius": "20C"})
    assert "26328-01 measures out of its range" in page.get("/log/lot/26328-01").get_data(
        as_text=True
    )
    morning.clock.set("2026-11-24 13:00")
    refused = page.send("/slip/read", {"text": "26328-01"})
    assert "out of its temperature for" in refused.get_json()["error"]
