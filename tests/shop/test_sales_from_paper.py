"""Sales written on paper are entered at their time, one by one or each piece alone."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner

from counter.cli import main
from counter.errors import BadInput, DaySealed, KeyTaken, NotSafe
from counter.shop import Shop
from counter.trade.sales import PaperSale, SlipItem, each_alone
from counter.web.app import create_app
from tests.conftest import ZONE, ShopInHand
from tests.web.conftest import Page


def at(text: str) -> datetime:
    return datetime.fromisoformat(f"2026-11-24 {text}").replace(tzinfo=ZONE)


def blocks(count: int, clock: str, paid: str = "cash") -> PaperSale:
    return PaperSale(items=(SlipItem("firm-block", count),), at=at(clock), paid=paid)  # type: ignore[arg-type]


def noon(hand: ShopInHand) -> ShopInHand:
    """24 blocks made at ten past four; the power came back at noon."""
    hand.batch("firm", 24)
    hand.clock.set("2026-11-24 12:00")
    return hand


def test_each_piece_is_a_sale_of_its_own(hand: ShopInHand) -> None:
    made = noon(hand).shop.counter.sell_from_paper(each_alone(blocks(12, "09:00")))
    assert [s.number for s in made] == [f"2026-11-24/{n:04d}" for n in range(1, 13)]
    assert {(s.at, s.total, len(s.lines)) for s in made} == {(at("09:00"), 325, 1)}
    assert hand.on_hand("26328-01") == 12
    assert hand.shop.desk.books.head("2026-11-24")[0] == 2  # one commit, all or none
    (hour,) = hand.shop.evening.close_day().hours
    assert (hour.hour, hour.sales, hour.total) == (9, 12, 12 * 325)


def test_sales_are_numbered_and_priced_in_the_order_of_their_times(hand: ShopInHand) -> None:
    made = noon(hand).shop.counter.sell_from_paper(
        [blocks(2, "11:00", "card"), blocks(20, "09:00"), blocks(5, "10:00")], by="Ida"
    )
    assert [(s.at.hour, s.lines[0].quantity, s.by) for s in made] == [
        (9, 20, "Ida"), (10, 5, "Ida"), (11, 2, "Ida"),
    ]  # fmt: skip
    assert [p.kind for s in made for p in s.payments] == ["cash", "cash", "card"]
    assert hand.shop.desk.ledger().rows["26328-01"].oversold  # 27 of 24: bookkeeping stops no sale
    assert hand.sell("firm-block").number == "2026-11-24/0004"


def test_nothing_of_a_list_is_booked_where_one_sale_is_refused(hand: ShopInHand) -> None:
    hand = noon(hand)
    hand.shop.holds.hold("26328-01", True, "to be looked at", at("10:00"))
    stopped = hand.batch("soft", 10).lot
    hand.shop.holds.hold(stopped, True, "to be looked at")
    for sales, row, kind in (
        ([blocks(2, "09:00"), blocks(1, "11:00")], 0, NotSafe),
        ([blocks(1, "13:00")], 0, BadInput),
    ):  # fmt: skip
        with pytest.raises(kind) as refusal:
            hand.shop.counter.sell_from_paper(sales)
        assert refusal.value.row in (row, None)
    assert hand.shop.desk.ledger().sales == {}


def test_a_list_is_of_one_open_day_and_not_empty(hand: ShopInHand) -> None:
    shop = noon(hand).shop
    with pytest.raises(BadInput, match="there is none. Write down what was sold, and when"):
        shop.counter.sell_from_paper([])
    other = PaperSale(items=(SlipItem("firm-block"),), at=at("09:00") - timedelta(days=1))
    with pytest.raises(BadInput, match="they are of several days. Enter those of one day"):
        shop.counter.sell_from_paper([blocks(1, "09:00"), other])
    shop.evening.close_day()
    with pytest.raises(DaySealed):
        shop.counter.sell_from_paper([blocks(1, "09:00")])


def test_a_list_sent_again_is_booked_once(hand: ShopInHand) -> None:
    shop = noon(hand).shop
    first = shop.counter.sell_from_paper(each_alone(blocks(3, "09:00")), "list-1")
    assert shop.counter.sell_from_paper(each_alone(blocks(3, "09:00")), "list-1") == first
    assert len(shop.desk.ledger().sales) == 3


def test_the_command_line_enters_a_paper_list(
    folder_shop: ShopInHand, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    hand = noon(folder_shop)
    monkeypatch.setattr(Shop, "open", classmethod(lambda cls, folder, clock=None: hand.shop))
    done = CliRunner().invoke(main, ["sell", "firm-block*12", "--each", "--cash", "--at", "09:00"])
    assert done.exit_code == 0, done.output
    assert done.stdout.splitlines()[-1] == "12 sales entered, $39.00 in all"
    paper = tmp_path / "paper.txt"
    paper.write_text("09:05 firm-block*2\n\n10:15 firm-block card\n", "utf-8-sig")
    done = CliRunner().invoke(main, ["sell", "--paper", str(paper)])
    assert re.search(r"2026-11-24/0013 +9:05.AM +2 x Firm block +cash +\$6.50", done.stdout)
    assert re.search(r"2026-11-24/0014 +10:15.AM +1 x Firm block +card +\$3.25", done.stdout)
    paper.write_text("09:05\n", "utf-8")
    refused = CliRunner().invoke(main, ["sell", "--paper", str(paper)])
    assert refused.exit_code == 2
    assert "nothing was sold in it. Write it as 09:05 firm-block*2" in refused.stderr
    mixed = CliRunner().invoke(main, ["sell", "firm-block", "--each", "--discount", "10%"])
    assert "a paper list has its own lines, and no discount" in mixed.stderr
    assert len(hand.shop.desk.ledger().sales) == 14


def test_the_page_enters_a_paper_list(folder_shop: ShopInHand) -> None:
    hand = noon(folder_shop)
    page = Page(create_app(hand.shop, b"not secret at all, only for tests"))
    assert "/sales/paper" in page.get("/sales/").get_data(as_text=True)
    key = re.search(r'name="key" value="([0-9a-f]+)"', page.get("/sales/paper").text)
    assert key
    form = {
        "key": key[1], "day": "2026-11-24",
        "clock-0": "09:00", "portion-0": "firm-block", "many-0": "3", "each-0": "yes",
        "clock-1": "09:30", "portion-1": "firm-block", "many-1": "2", "paid-1": "card",
        "portion-2": "firm-block", "many-2": "1",
    }  # fmt: skip
    for _ in range(2):
        done = page.post("/sales/paper", form)
        assert (done.status_code, done.location) == (302, "/records/sales?day=2026-11-24")
    sales = list(hand.shop.desk.ledger().sales.values())
    assert [(s.at.strftime("%H:%M"), [n.quantity for n in s.lines]) for s in sales] == [
        ("09:00", [1]), ("09:00", [1]), ("09:00", [1]), ("09:30", [2, 1]),
    ]  # fmt: skip
    assert [s.payments[0].kind for s in sales] == ["cash", "cash", "cash", "card"]


def test_the_page_says_which_row_is_wrong_and_keeps_what_was_typed(folder_shop: ShopInHand) -> None:
    hand = noon(folder_shop)
    page = Page(create_app(hand.shop, b"not secret at all, only for tests"))
    form = {"key": "k1", "day": "2026-11-24", "clock-0": "09:00", "portion-0": "firm-block",
            "clock-4": "23:00", "portion-4": "firm-block", "many-4": "7"}  # fmt: skip
    refused = page.post("/sales/paper", form)
    assert refused.status_code == 400
    assert "Row 5:" in refused.text
    assert 'value="7"' in refused.text
    none = page.post("/sales/paper", {"key": "k1", "day": "2026-11-24", "portion-0": "firm-block"})
    assert "the first has no time" in none.text
    assert hand.shop.desk.ledger().sales == {}


def test_a_key_of_a_list_is_its_own_and_no_beginning_of_another(hand: ShopInHand) -> None:
    shop = noon(hand).shop
    shop.counter.sell_from_paper([blocks(1, "09:00")], "a/b")
    [made] = shop.counter.sell_from_paper([blocks(2, "10:00")], "a")
    assert made.number == "2026-11-24/0002"
    assert shop.counter.sell_from_paper([blocks(2, "10:00")], "a") == [made]
    shop.evening.close_day()
    hand.clock.set("2026-11-25 12:00")
    later = msgspec.structs.replace(blocks(3, "10:00"), at=at("10:00") + timedelta(days=1))
    with pytest.raises(KeyTaken, match="its key a/0 was booked as sale 2026-11-24/0002"):
        shop.counter.sell_from_paper([later], "a")
    assert shop.counter.sell_from_paper([blocks(2, "10:00")], "a") == [made]
