"""Packs weighed one by one on the page: prices, the very labels, the record, and a list that stays."""

from __future__ import annotations

import base64
import io
import re
from typing import Any

import pytest
import zxingcpp
from PIL import Image

from labels.picture import render
from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of
from tests.web.test_web_log import BAD_TEXTS

LOT = "26328-03"
PACKS = f"/labels/weigh/packs.json?lot={LOT}"


def said(answer: Any) -> str:
    return re.sub(r"\s+", " ", answer.get_data(as_text=True))


def test_the_labels_page_offers_to_weigh_what_is_sold_by_weight_alone(page: Page) -> None:
    shown = said(page.get("/labels/"))
    assert re.findall(r"/labels/weigh/\?lot=([0-9-]+)", shown) == [LOT]


def test_each_weight_is_answered_with_its_price_and_all_with_their_sum(
    page: Page, morning: ShopInHand
) -> None:
    before = books_of(morning)
    found = page.get(f"{PACKS}&weights=0.42%0A190+g;+1lb").json
    # 190 g are 0.4188… lb, stated and charged as 0.41 lb: 0.41 × 8.90 = 3.649
    assert found["packs"] == [
        {"typed": "0.42 lb", "weight": "0.42 lb", "price": "$3.74"},
        {"typed": "190 g", "weight": "0.41 lb", "price": "$3.65"},
        {"typed": "1 lb", "weight": "1 lb", "price": "$8.90"},
    ]
    assert found["sum"] == "3 packs, 1.83\u00a0lb, $16.29"
    assert "picture" not in found
    assert books_of(morning) == before


def test_the_preview_is_the_label_that_is_printed(page: Page, morning: ShopInHand) -> None:
    found = page.get(f"{PACKS}&weights=0.42+0.38&page=2").json
    assert (found["page"], found["pages"], found["warnings"]) == (2, 2, [])
    shown = Image.open(io.BytesIO(base64.b64decode(found["picture"].partition(",")[2])))
    form = {"lot": LOT, "weights": "0.42\n0.38", "do": "save"}
    assert page.post("/labels/weigh/", form).location == f"/labels/done/{LOT}-203dpi.pdf"
    printed = page.get(f"/labels/file/{LOT}-203dpi.pdf").data
    assert render(printed, 203, page=1).tobytes() == shown.tobytes()
    numbers = {code.text for code in zxingcpp.read_barcodes(shown.convert("L"))}
    [pack] = morning.shop.labels.weigh_packs(LOT, morning_weights("0.38"))
    assert any(number.endswith(pack.number) for number in numbers)


def morning_weights(text: str) -> Any:
    from counter.trade.weighed import parse_weights

    return parse_weights(text, "lb")


def test_the_number_of_packs_stands_in_the_book_as_the_command_line_writes_it(
    page: Page, morning: ShopInHand, pins: dict[str, str]
) -> None:
    page.sign_in("teo", pins["teo"])
    page.post("/labels/weigh/", {"lot": LOT, "weights": "0.42 0.38 0.42", "do": "save"})
    [record] = morning.shop.products.printed_of(LOT)
    assert (record.labels, record.file, record.again, record.by) == (
        3,
        f"{LOT}-203dpi.pdf",
        False,
        "Teo",
    )
    assert "26328-03: 3 labels, pages: 3. It is recorded." in said(
        page.get(f"/labels/done/{LOT}-203dpi.pdf")
    )
    again = page.get(f"{PACKS}&weights=0.42&page=1").json
    assert "3 labels were printed already" in again["warnings"][0]


@pytest.mark.parametrize(
    ("form", "status", "sentence"),
    [
        ({"weights": "0.42\nmany"}, 400, "Cannot read weight &#39;many&#39;"),
        ({"weights": ""}, 409, "no pack is on the list. Add a weight."),
        ({"weights": "0.42\n0.38", "blank": "roll-40x25"}, 409, "Cannot fit the label"),
        ({"weights": "0.42\n400"}, 400, "that is no weight of a pack"),
        ({"weights": "0.42\n0.38", "do": "print"}, 409, "no printer is named"),
        ({"weights": "0.42\n0.38", "do": "burn"}, 400, "is no way to print"),
        ({"weights": "0.42\n0.38", "start": "two"}, 400, "it is not a whole number"),
        ({"weights": "0.42\n0.38", "start": "9", "blank": "sheet-letter-2x3-101.6x84.67"}, 409,
         "has positions 1 to 6"),
    ],
)  # fmt: skip
def test_a_list_that_cannot_be_printed_comes_back_as_it_was_typed(
    page: Page, morning: ShopInHand, form: dict[str, str], status: int, sentence: str
) -> None:
    before = books_of(morning)
    answer = page.post("/labels/weigh/", {"lot": LOT, "do": "save", **form})
    assert sentence in said(answer)
    assert f">{form['weights']}</textarea>" in answer.get_data(as_text=True)
    assert answer.status_code in (status, 400)
    assert books_of(morning) == before


def test_what_does_not_fit_is_said_beside_the_prices_and_names_larger_blanks(page: Page) -> None:
    found = page.get(f"{PACKS}&weights=0.42&page=1&blank=roll-40x25").json
    assert found["packs"][0]["price"] == "$3.74"
    assert "Cannot fit the label of 'Pressed Tofu'" in found["error"]
    assert "roll-100x150" in found["fits"]


def test_a_stopped_lot_has_no_prices_and_no_labels(page: Page, morning: ShopInHand) -> None:
    morning.shop.holds.hold(LOT, True, "sour")
    refused = page.get(f"{PACKS}&weights=0.42")
    assert refused.status_code == 409
    assert "sour" in refused.json["error"]
    answer = page.post("/labels/weigh/", {"lot": LOT, "weights": "0.42", "do": "save"})
    assert answer.status_code == 409
    assert "sour" in said(answer)
    assert ">0.42</textarea>" in answer.get_data(as_text=True)
    assert morning.shop.products.printed_of(LOT) == []


def test_what_is_sold_by_the_piece_is_not_weighed(page: Page) -> None:
    refused = page.get("/labels/weigh/packs.json?lot=26328-01&weights=0.42")
    assert refused.status_code == 409
    assert "Firm Tofu is not sold by weight" in refused.json["error"]
    assert page.get("/labels/weigh/?lot=26328-01").status_code == 409


def test_the_page_speaks_spanish_and_writes_as_the_shop_does(page: Page) -> None:
    page.post("/language", {"language": "es"})
    assert "Peso del siguiente envase, lb" in said(page.get(f"/labels/weigh/?lot={LOT}"))
    assert page.get(f"{PACKS}&weights=0.42+0.38").json["sum"].startswith("2 envases, 0.8")


def test_a_german_page_reads_a_comma_as_german_does_also_in_an_american_shop(page: Page) -> None:
    assert page.get(f"{PACKS}&weights=1,2").json["sum"].startswith("2 packs")
    page.post("/language", {"language": "de"})
    [pack] = page.get(f"{PACKS}&weights=1,2").json["packs"]
    assert pack["weight"] == "1,2 lb"


def test_who_sells_does_not_weigh(page: Page, pins: dict[str, str], morning: ShopInHand) -> None:
    page.sign_in("ida", pins["ida"])
    before = books_of(morning)
    form = {"lot": LOT, "weights": "0.42", "do": "save"}
    for answer in (page.get(f"/labels/weigh/?lot={LOT}"), page.get(f"{PACKS}&weights=1"),
                   page.post("/labels/weigh/", form)):  # fmt: skip
        assert answer.status_code == 403
    assert books_of(morning) == before


@pytest.mark.parametrize("text", BAD_TEXTS[1::2])
def test_hostile_text_is_answered_with_a_sentence_and_prints_nothing(
    page: Page, morning: ShopInHand, text: str
) -> None:
    before = books_of(morning)
    text = text.encode("utf-8", "surrogatepass").decode("utf-8", "replace")
    for name in ("lot", "weights", "blank", "start", "used", "page"):
        form = {"lot": LOT, "weights": "0.42", "page": "1", name: text}
        assert page.get("/labels/weigh/packs.json", query_string=form).status_code < 500, name
        shown = page.get("/labels/weigh/", query_string=form)
        printed = page.post("/labels/weigh/", {**form, "do": "burn"})
        assert shown.status_code < 500, name
        assert 400 <= printed.status_code < 500, name
        assert b"<script>alert" not in shown.data + printed.data, name
    assert books_of(morning) == before
