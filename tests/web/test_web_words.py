"""How the page writes figures: a number and its unit never part at the end of a line."""

from __future__ import annotations

from decimal import Decimal

import pytest

from counter.web.words import Wording, unparted
from tests.conftest import ShopInHand, kilos
from tests.web.conftest import Page

NBSP = "\u00a0"


@pytest.mark.parametrize(("amount", "unit", "said"), [
    (96, "piece", "96"),
    (350, "g", f"350{NBSP}g"),
    (8250, "ml", f"8.25{NBSP}l"),
    (-1500, "g", f"-1.5{NBSP}kg"),
])  # fmt: skip
def test_an_amount_stays_on_one_line(
    morning: ShopInHand, amount: int, unit: str, said: str
) -> None:
    assert Wording(morning.shop.desk.settings, "en").amount(amount, unit) == said


@pytest.mark.parametrize(("text", "said"), [
    ("note when 21 °C / 70 °F is reached", f"note when 21{NBSP}°C / 70{NBSP}°F is reached"),
    ("12 kg, 10 min, 80 %", f"12{NBSP}kg, 10{NBSP}min, 80{NBSP}%"),
    ("3 × $1.00, 1 × $0.05", f"3{NBSP}×{NBSP}$1.00, 1{NBSP}×{NBSP}$0.05"),
    ("100 × 75 mm", f"100{NBSP}×{NBSP}75{NBSP}mm"),
    ("Buena hasta las 2:41 p.m..", f"Buena hasta las 2:41{NBSP}p.m."),
    # What only looks like a unit is left as it is.
    ("the 3 lots of 5 good makers", "the 3 lots of 5 good makers"),
    ("48 gone", "48 gone"),
    ("hm... what is this. m..?", "hm... what is this. m..?"),
])  # fmt: skip
def test_no_line_ends_between_a_number_and_its_unit(text: str, said: str) -> None:
    assert unparted(text) == said
    assert unparted(said) == said


def test_a_temperature_and_a_clock_stay_on_one_line(morning: ShopInHand) -> None:
    w = Wording(morning.shop.desk.settings, "en")
    assert w.temperature(Decimal(5)) == f"41{NBSP}°F"
    assert w.clock(morning.clock()) == f"8:30{NBSP}AM"


def test_amounts_and_temperatures_are_typed_as_the_language_of_the_page_writes_them(
    page: Page, morning: ShopInHand
) -> None:
    """8,25 l is none where a comma parts thousands; a page in German is meant in German."""
    form = {"lot": "26328-04", "amount": "0,25 l", "reason": "tasting"}
    assert page.post("/waste/", form).status_code == 400
    page.post("/language", {"language": "de"})
    assert page.post("/waste/", form).status_code == 302
    assert morning.shop.desk.standing().waste[-1].amount == 250
    shown = {"place": "fridge", "celsius": "4,5C"}
    assert page.post("/temperatures/", shown).status_code == 302


def test_a_tile_of_the_waste_page_keeps_its_amount_whole(page: Page) -> None:
    html = page.get("/waste/").get_data(as_text=True)
    assert f"8{NBSP}l" in html
    assert "8 l" not in html


def test_a_weight_on_the_receipt_has_the_decimal_mark_of_the_page(
    page: Page, morning: ShopInHand
) -> None:
    sale = morning.sell("pressed:0.42lb", cash=2000)
    assert "0.42" in page.get(f"/sales/{sale.number}/receipt").text
    page.post("/language", {"language": "de"})
    shown = page.get(f"/sales/{sale.number}/receipt").text
    assert "0,42" in shown
    assert "0.42" not in shown


def test_an_ingredient_weighed_has_the_decimal_mark_of_the_page(
    page: Page, morning: ShopInHand
) -> None:
    lot = morning.batch(ingredients={"soybeans": kilos("4.5")}).lot
    page.post("/language", {"language": "de"})
    for path in (f"/log/lot/{lot}", f"/records/lot/{lot}"):
        shown = page.get(path).get_data(as_text=True)
        assert f"4,5{NBSP}kg" in shown
        assert "4.5" not in shown


def test_hours_and_rates_are_written_as_the_language_of_the_page_writes_them(
    page: Page, morning: ShopInHand
) -> None:
    """No 24-hour clock beside ``8:30 AM``, and a space before the percent sign in German."""
    morning.sell("firm-block")
    assert f"8:00{NBSP}AM" in page.get("/records/").get_data(as_text=True)
    page.post("/language", {"language": "de"})
    assert "08:00" in page.get("/records/").get_data(as_text=True)
    german = Wording(morning.shop.desk.settings, "de")
    assert german.percent(Decimal("0.0860")) == f"8,6{NBSP}%"
    assert german.percent(Decimal("0.07125")) == f"7,125{NBSP}%"
