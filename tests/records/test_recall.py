"""Where lots went and came from, over generations; how much of them is accounted for."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path

import pdfplumber
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import NotFound, Refused
from counter.languages import language
from counter.trade.recalling import Share
from tests.conftest import ShopInHand
from tests.records.conftest import BEANS
from tests.reports.plain import us_moment

FIRM, PUDDING, SMOKED, LATER = "26328-01", "26328-02", "26328-03", "26329-01"


def test_forward_goes_into_the_lots_made_from_it_and_their_sales(hand: ShopInHand) -> None:
    found = hand.shop.records.recall([FIRM])
    assert [(lot.lot, lot.side) for lot in found.lots] == [
        (FIRM, "asked"),
        (SMOKED, "made from it"),
    ]
    firm, smoked = found.lots
    assert (firm.made, firm.used, firm.wasted) == (96, 16, 3)
    # 3 + 2 less 1 put back on Tuesday, and Wednesday's 5 from the older lot
    assert firm.sold == 3 + 2 - 1 + 5
    assert smoked.sold == 2
    assert {s.lot for s in found.sales} == {FIRM, SMOKED}
    assert sum(s.amount for s in found.sales if s.lot == FIRM) == firm.sold
    assert [s.at for s in found.sales] == sorted(s.at for s in found.sales)


def test_backward_goes_to_the_lots_and_codes_that_went_in(hand: ShopInHand) -> None:
    found = hand.shop.records.recall([SMOKED])
    assert [(lot.lot, lot.side) for lot in found.lots] == [(SMOKED, "asked"), (FIRM, "went in")]
    assert {s.lot for s in found.sales} == {SMOKED}
    assert found.supplier_codes == [("gypsum", "G-7", [FIRM]), ("soybeans", BEANS, [FIRM])]
    assert found.lots[1].used == 16


def test_three_generations_are_followed_both_ways(hand: ShopInHand) -> None:
    smoked = hand.batch("smoked", 4, boiled_minutes=None, mixed=((SMOKED, 2),))
    third = hand.batch("smoked", 2, boiled_minutes=None, mixed=((smoked.lot, 1), (LATER, 1)))
    forward = hand.shop.records.recall([FIRM])
    assert [lot.lot for lot in forward.reached] == [FIRM, SMOKED, smoked.lot, third.lot]
    backward = hand.shop.records.recall([third.lot])
    assert {lot.lot for lot in backward.lots if lot.side == "went in"} == {
        smoked.lot,
        LATER,
        SMOKED,
        FIRM,
    }
    assert len({lot.lot for lot in backward.lots}) == len(backward.lots)


def test_what_is_made_is_accounted_for_piece_by_piece(hand: ShopInHand) -> None:
    found = hand.shop.records.recall([FIRM, PUDDING, LATER])
    for lot in found.lots:
        gone = lot.sold + lot.used + lot.wasted + lot.left + lot.missing
        assert lot.made + lot.corrected + lot.over == gone
    variance = sum(
        row.variance
        for closing in hand.shop.closings.between(date(2026, 11, 24), date(2026, 11, 25))
        for row in closing.lots
        if row.lot == FIRM
    )
    assert found.lots[0].missing == variance == 1  # 72 were counted where the log has 73
    # Blocks of two products are not added together.
    assert {s.product: (s.made, s.accounted, s.unit) for s in found.shares} == {
        "firm": (96 + 48, 96 + 48 - 1, "piece"), "smoked": (8, 8, "piece"),
        "pudding": (16000, 16000, "ml"),
    }  # fmt: skip
    assert [s.percent for s in found.shares] == ["99.3", "100", "100"]


@given(st.integers(1, 10**6), st.data())
def test_a_share_is_never_rounded_up(made: int, data: st.DataObject) -> None:
    accounted = data.draw(st.integers(0, made))
    share = Share("piece", made, accounted)
    assert share.known  # nothing is said to be assumed
    percent = float(share.percent)
    assert percent <= accounted / made * 100 + 1e-9
    assert percent > accounted / made * 100 - 0.1 - 1e-9
    assert (percent == 100) is (accounted == made)


def test_what_somebody_counted_today_is_what_is_on_hand(hand: ShopInHand) -> None:
    before = hand.shop.records.recall([LATER]).lots[0]
    hand.shop.evening.count(LATER, before.left - 4)
    after = hand.shop.records.recall([LATER]).lots[0]
    assert (after.left, after.missing) == (before.left - 4, before.missing + 4)


def test_all_lots_with_a_supplier_code_are_found(hand: ShopInHand) -> None:
    assert [b.lot for b in hand.shop.records.lots_with_code(" af-46 ")] == [FIRM]
    assert [b.lot for b in hand.shop.records.lots_with_code("G-7")] == [FIRM]
    assert hand.shop.records.lots_with_code("AF-4") == []
    assert hand.shop.records.lots_with_code("") == []
    found = hand.shop.records.recall([LATER], "AF-46")
    assert found.asked == (LATER, FIRM)
    with pytest.raises(Refused, match="no lot has the supplier code 'AF-99'"):
        hand.shop.records.recall([], "AF-99")


def test_a_corrected_supplier_code_counts_as_corrected(hand: ShopInHand) -> None:
    from counter.shop.production import BatchNote

    hand.shop.amendments.amend_batch(LATER, BatchNote(codes={"soybeans": "AF-46"}), "wrong sack")
    assert [b.lot for b in hand.shop.records.lots_with_code("AF-46")] == [FIRM, LATER]
    assert hand.shop.records.lots_with_code("AF-47") == []


def test_a_supplier_code_in_any_script_is_found(hand: ShopInHand) -> None:
    batch = hand.batch(made=1, codes={"soybeans": 'Ärger "7" \\ 国'})
    assert [b.lot for b in hand.shop.records.lots_with_code('Ärger "7" \\ 国')] == [batch.lot]


def test_an_unknown_lot_is_refused_with_near_matches(hand: ShopInHand) -> None:
    with pytest.raises(NotFound, match="Did you mean 26329-01"):
        hand.shop.records.recall([FIRM, "26329-02"])


def test_a_correction_is_part_of_the_account(hand: ShopInHand) -> None:
    before = hand.shop.records.recall([LATER]).lots[0]
    hand.shop.closed_days.correct(date(2026, 11, 25), "one more was made", lot=LATER, amount=1)
    after = hand.shop.records.recall([LATER]).lots[0]
    assert (after.corrected, after.left, after.missing) == (1, before.left + 1, before.missing)


def test_the_sheet_says_every_figure_and_sale(hand: ShopInHand, tmp_path: Path) -> None:
    found = hand.shop.records.recall([FIRM])
    path = hand.shop.reports.write_recall_sheet(found, tmp_path / "r.pdf")
    with pdfplumber.open(path) as pdf:
        text = "\n".join(page.extract_text() for page in pdf.pages)
        fonts = {f["fontname"] for page in pdf.pages for f in page.chars}
    for sale in found.sales:
        assert sale.sale in text
        assert us_moment(sale.at) in " ".join(text.split())
    for code in ("AF-46", "G-7", FIRM, SMOKED):
        assert code in text
    assert "Accounted for in number: 95 of 96 Firm Tofu, 9 of it by assumption; " in text
    assert "8 of 8 Smoked Tofu, 2 of it by assumption" in text
    assert "NOT STOPPED: of 26328-01, 26328-03 some is still on the shelf." in text
    assert "call it first" in text
    assert all("FiraSansCondensed" in name for name in fonts)


def test_a_stopped_lot_is_said_to_be_stopped(hand: ShopInHand, tmp_path: Path) -> None:
    for lot in (FIRM, SMOKED):
        hand.shop.holds.hold(lot, True, "metal found", by="Ida")
    path = hand.shop.reports.write_recall_sheet(
        hand.shop.records.recall([FIRM]), tmp_path / "r.pdf"
    )
    with pdfplumber.open(path) as pdf:
        text = "\n".join(page.extract_text() for page in pdf.pages)
    assert "NOT STOPPED" not in text
    assert "metal found" in " ".join(text.split())


def test_the_same_recall_gives_the_same_bytes(hand: ShopInHand, tmp_path: Path) -> None:
    paths = [
        hand.shop.reports.write_recall_sheet(hand.shop.records.recall([FIRM]), tmp_path / n)
        for n in "ab"
    ]
    assert paths[0].read_bytes() == paths[1].read_bytes()


def test_what_came_back_is_said_in_the_language_of_the_shop(hand: ShopInHand) -> None:
    found = hand.shop.records.recall([FIRM])
    back = {s.portion for s in (*found.sales, *found.may_be) if s.amount < 0}
    assert [language("es", "es_US").shown(portion) for portion in back] == ["devuelto"]


def test_the_table_adds_up_to_what_was_made(hand: ShopInHand, tmp_path: Path) -> None:
    found = hand.shop.records.recall([FIRM])
    path = hand.shop.reports.write_recall_csv(found, tmp_path / "r.csv")
    rows = list(csv.DictReader(io.StringIO(path.read_bytes().decode(), newline="")))
    for lot in (FIRM, SMOKED):
        mine = [r for r in rows if r["lot by the log"] == lot]
        begun = ("made", "corrected", "too much")
        made = sum(int(r["amount"]) for r in mine if r["portion"] in begun)
        assert made == sum(int(r["amount"]) for r in mine if r["portion"] not in begun)
    assert {r["sale"] for r in rows} - {""} == {s.sale for s in (*found.sales, *found.may_be)}
    assert any(r["amount"] == "-1" and r["portion"] == "came back" for r in rows)
    # 14 oz a block: 14 x 28.349523125 g x 96, whole grams half up
    assert next(r["grams"] for r in rows if r["portion"] == "made") == "38102"
