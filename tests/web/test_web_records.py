"""Records over the page: a day, its log and sales, a lot's way, °Brix, finding things."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.conftest import ShopInHand
from tests.web.conftest import Page, books_of


def text_of(answer: Any) -> str:
    return str(answer.get_data(as_text=True))


@pytest.fixture
def sold(morning: ShopInHand) -> ShopInHand:
    """Four sales between half past eight and noon, some waste, and a refund."""
    morning.sell("firm-block*3", cash=2000)
    morning.clock.set("2026-11-24 09:10")
    morning.sell("soft-block*2")
    morning.clock.set("2026-11-24 11:40")
    morning.sell("cup-large*2", where="here", cash=2000)
    morning.sell("firm-block")
    morning.shop.counter.refund("2026-11-24/0002", "dropped outside", {1: 1})
    morning.shop.waste.throw_away("26328-01", 2, "other", "fell off the plank")
    return morning


def test_a_day_shows_its_figures_hours_and_where_each_product_went(
    page: Page, sold: ShopInHand
) -> None:
    text = text_of(page.get("/records/"))
    assert "This day is still open" in text
    for shown in (
        "8:00\xa0AM",
        "9:00\xa0AM",
        "10:00\xa0AM",
        "11:00\xa0AM",
    ):  # ten o'clock sold nothing and is there
        assert f'<th scope="row">{shown}</th>' in text
    assert "4 sold" in text
    assert "2 wasted" in text
    assert "42 left" in text
    assert "1 refund" in text


def test_the_parts_of_a_bar_fill_it_and_never_more(sold: ShopInHand) -> None:
    from counter.reports.flows import flows_of
    from counter.web.charts import LONG, way_of
    from counter.web.words import Wording

    words = Wording(sold.shop.desk.settings, "en")
    closing = sold.shop.closings.of(sold.shop.desk.today())
    for product in flows_of(closing.lots):
        pieces = way_of(product, product.product, words).pieces
        assert LONG - len(pieces) <= sum(piece.long for piece in pieces) <= LONG
        assert [p.start for p in pieces] == [
            sum(q.long for q in pieces[:n]) for n in range(len(pieces))
        ]


def test_hours_over_midnight_stay_in_the_order_of_the_day(sold: ShopInHand) -> None:
    from counter.trade.closing import HourDay
    from counter.web.charts import hour_bars
    from counter.web.words import Wording

    words = Wording(sold.shop.desk.settings, "en")
    bars = hour_bars((HourDay(22, 1, 100), HourDay(1, 2, 50)), words)
    assert [bar.name.split()[0] for bar in bars] == ["10:00", "11:00", "12:00", "1:00"]
    assert [bar.long for bar in bars] == [1000, 0, 0, 500]


def test_a_lots_way_names_its_sales_waste_and_batch(page: Page, sold: ShopInHand) -> None:
    text = text_of(page.get("/records/lot/26328-01"))
    assert "/sales/2026-11-24/0001" in text
    assert "fell off the plank" in text
    assert "4 sold" in text
    assert "boiled, 10 minutes" in text


def test_a_lots_page_has_what_is_surely_of_it_and_what_may_be(
    page: Page, morning: ShopInHand
) -> None:
    morning.sell("26328-01*2")
    morning.sell("firm-block*3")
    sale = morning.sell("firm-block")
    morning.shop.counter.refund(sale.number, "changed their mind", restock=True)
    text = text_of(page.get("/records/lot/26328-01"))
    surely, may_be = (
        text.index("Surely of it: 1 line of sales"),
        text.index("May be of it: 3 lines"),
    )
    assert surely < text.index("/sales/2026-11-24/0001") < may_be
    assert may_be < text.index("/sales/2026-11-24/0002")
    assert "The log took 3 from this lot" in text
    assert "1 came back" in text
    assert "of 48 made" in text
    page.post("/language", {"language": "es"})
    assert "Pueden ser de él: 3 líneas" in text_of(page.get("/records/lot/26328-01"))


def test_what_went_into_another_batch_is_part_of_a_lots_way(
    page: Page, morning: ShopInHand
) -> None:
    morning.batch("smoked", 24, mixed=(("26328-01", 16),), boiled_minutes=None)
    text = text_of(page.get("/records/lot/26328-01"))
    assert "16 used in another batch" in text
    assert "32 left" in text
    assert "/records/lot/26328-05" in text
    assert morning.shop.closings.trace("26328-01").used == 16


def test_the_log_and_the_sales_of_a_day_are_listed(page: Page, sold: ShopInHand) -> None:
    assert text_of(page.get("/records/log")).count('<section class="card">') == 4
    sales = text_of(page.get("/records/sales?day=2026-11-24"))
    assert sales.count("/sales/2026-11-24/000") == 4 + 1  # and the refund of one
    assert page.get("/sales/2026-11-24/0001").status_code == 200


def test_brix_over_time_shows_one_point_a_batch(page: Page, morning: ShopInHand) -> None:
    for brix in ("11.2", "12.0", "10.4"):
        morning.batch("firm", 48, brix=Decimal(brix))
    text = text_of(page.get("/records/brix?product=firm"))
    assert text.count("<circle") == 3
    assert 'class="band"' in text
    assert "11.2 °Brix" in text
    assert "No °Brix was noted" in text_of(page.get("/records/brix?product=puffs"))


@pytest.mark.parametrize(("wanted", "place"), [
    ("26328-01", "/records/lot/26328-01"),
    ("2026-11-24/0003", "/sales/2026-11-24/0003"),
    ("3", "/sales/2026-11-24/0003"),
    ("2026-11-24", "/records/?day=2026-11-24"),
])  # fmt: skip
def test_a_lot_a_sale_and_a_day_are_found_by_their_name(
    page: Page, sold: ShopInHand, wanted: str, place: str
) -> None:
    made = page.get("/records/find", query_string={"q": wanted})
    assert (made.status_code, made.location) == (302, place)


@pytest.mark.parametrize(("word", "kind"), [
    ("PLANK", "waste"), ("outside", "refund"), ("evening off", "closing"),
])  # fmt: skip
def test_a_word_is_found_in_notes_and_reasons_whatever_its_capitals(
    page: Page, sold: ShopInHand, word: str, kind: str
) -> None:
    sold.shop.evening.close_day(notes="Ida has the evening off")
    text = text_of(page.get("/records/find", query_string={"q": word}))
    assert "1 note found" in text
    assert kind in text


@pytest.mark.parametrize(("path", "status"), [
    ("?day=2026-02-30", 400), ("?day=yesterday", 400), ("?day=%00", 400), ("log?day=x", 400),
    ("sales?day=1", 400), ("lot/26328-99", 404), ("lot/nothing", 404), ("lot/%00", 404),
    ("lot/" + "9" * 500, 404), ("brix?product=gold", 404), ("brix?product=" + "x" * 61, 400),
    ("find", 400), ("find?q=a", 400), ("find?q=9999", 404), ("find?q=word&back=9999999", 400),
    ("find?q=2026-11-24/9999", 404), ("find?q=" + "%EF%BF%BD", 400), ("find?q=2026-02-30", 400),
])  # fmt: skip
def test_what_cannot_be_is_answered_with_a_sentence(
    page: Page, sold: ShopInHand, path: str, status: int
) -> None:
    before = books_of(sold)
    made = page.get(f"/records/{path}")
    assert made.status_code == status
    assert "Cannot " in text_of(made)
    assert books_of(sold) == before


def test_a_day_without_a_book_says_so(page: Page) -> None:
    made = page.get("/records/?day=2019-05-01")
    assert made.status_code == 200
    assert "Nothing was written down on May 1, 2019" in text_of(made)


def test_a_stranger_reads_no_records(page: Page, pins: dict[str, str]) -> None:
    assert page.get("/records/").status_code == 302
    assert page.get("/records/find?q=plank").status_code == 302
    page.sign_in("ida", pins["ida"])
    assert page.get("/records/").status_code == 200


def test_the_page_speaks_spanish(page: Page) -> None:
    page.post("/language", {"language": "es"})
    for path, said in (("records/", "Adónde fue"), ("waste/", "Merma"), ("closing/", "Contar"),
                       ("setup/", "Productos y precios")):  # fmt: skip
        assert said in text_of(page.get(f"/{path}"))
