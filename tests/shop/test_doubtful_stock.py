"""Where more is asked than may be sold and what may not be sold is there, the lot is asked for.

The shop's own rule (safety stops a sale, bookkeeping does not), on the safe side of what the
piece in the hand most probably is.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import time, timedelta
from decimal import Decimal

import msgspec
import pytest

from counter.errors import Asked, NotSafe, Refused, WhichLot
from counter.shop.production import BatchNote
from counter.trade.payments import Tender
from counter.trade.sales import Kept, PaperSale, Slip, SlipItem
from counter.trade.stock import Draw
from tests.conftest import ShopInHand

DO = "Scan or name the lot of the piece in your hand."


def stopped(hand: ShopInHand) -> str:
    lot = hand.batch(made=10).lot
    hand.shop.holds.hold(lot, True, "a hair was found", by="Ida")
    return lot


def raw(hand: ShopInHand) -> str:
    return hand.batch(made=10, boiled_minutes=None).lot


def expired(hand: ShopInHand) -> str:
    lot = hand.batch(made=10).lot
    hand.clock.set("2026-12-02 04:10")
    return lot


def not_cold(hand: ShopInHand) -> str:
    note = BatchNote(made=10, boiled_minutes=10, cook_ended=time(2), cooled=(time(3, 30), None))
    lot = hand.shop.production.log_batch("firm", note).lot
    hand.clock.set("2026-11-24 09:00")  # an hour past the six of Food Code 3-501.14(A)
    return lot


def out_too_long(hand: ShopInHand) -> str:
    lot = hand.batch(made=10).lot
    for clock, celsius in (("05:00", 9), ("11:00", 9)):
        hand.clock.set(f"2026-11-24 {clock}")
        hand.shop.records.note_temperature("fridge", Decimal(celsius))
    note = BatchNote(cooled=(time(4, 30), time(4, 45)))
    hand.shop.desk.questions.given = {
        **hand.shop.desk.questions.given,
        "late": "the chart was found again",
    }
    hand.shop.amendments.amend_batch(lot, note, "read from the chart")
    hand.clock.set("2026-11-24 12:00")
    return lot


WHY = {
    stopped: "it is stopped: a hair was found", raw: "raw soy milk is not for eating",
    expired: "has passed", not_cold: "5 °C / 41 °F is not noted",
    out_too_long: "it was out of its temperature for ",
}  # fmt: skip
BAD = pytest.mark.parametrize("bad", WHY)


@BAD
def test_more_than_may_be_sold_is_asked_for_its_lot_while_bad_stock_is_there(
    hand: ShopInHand, bad: Callable[[ShopInHand], str]
) -> None:
    lot = bad(hand)
    good = hand.batch(made=4).lot
    assert {d.lot for n in hand.sell("firm-block*3").lines for d in n.draws} == {good}
    with pytest.raises(WhichLot) as asked:
        hand.sell("firm-block*2")
    assert "the log has only 1 more that may be sold" in str(asked.value)
    assert f"lot {lot} is still there: " in str(asked.value)
    assert WHY[bad] in str(asked.value)
    assert str(asked.value).endswith(DO)
    assert {(one, bool(why)) for one, _, why in asked.value.lots} == {(lot, True), (good, False)}
    with pytest.raises(NotSafe, match=f"sell lot {lot}"):
        hand.sell(f"firm-block@{lot}*2")
    sale = hand.sell(f"firm-block@{good}*2")
    assert sale.lines[0].draws == (Draw(lot=good, amount=2, how="named"),)
    assert hand.shop.desk.ledger().rows[good].oversold


def test_where_no_bad_stock_is_there_the_sale_goes_through_and_is_flagged(hand: ShopInHand) -> None:
    bad = stopped(hand)
    good = hand.batch(made=2).lot
    hand.shop.waste.throw_out(bad, 10, "stopped")
    hand.sell("firm-block*3")
    assert hand.shop.desk.ledger().rows[good].oversold


def test_bad_stock_alone_is_refused_with_its_reason(hand: ShopInHand) -> None:
    stopped(hand)
    with pytest.raises(NotSafe, match="a hair was found") as refused:
        hand.sell("firm-block")
    assert not isinstance(refused.value, WhichLot)


def test_what_is_asked_is_added_up_over_the_slip(hand: ShopInHand) -> None:
    stopped(hand)
    good = hand.batch(made=4).lot
    with pytest.raises(WhichLot):
        hand.sell("firm-block*3", "firm-block*3")
    # In either order: what names its lot is taken first.
    for items in (("firm-block*3", f"firm-block@{good}*3"), (f"{good}*3", "firm-block*3")):
        with pytest.raises(WhichLot):
            hand.sell(*items)
    sale = hand.sell("firm-block*2", f"firm-block@{good}*2")
    assert [n.draws[0].how for n in sale.lines] == ["assumed", "named"]
    assert [n.quantity for n in sale.lines] == [2, 2]


def test_a_count_says_better_than_the_log_how_much_may_be_sold(hand: ShopInHand) -> None:
    stopped(hand)
    good = hand.batch(made=9).lot
    hand.shop.evening.count(good, 2)
    with pytest.raises(WhichLot, match="only 2 more"):
        hand.sell("firm-block*3")
    hand.shop.desk.questions.given = {f"count.{good}": "a tray was not logged"}
    hand.shop.evening.count(good, 20)
    hand.sell("firm-block*12")


def test_a_number_without_a_lot_has_the_lot_beside_it(hand: ShopInHand) -> None:
    bad, number = stopped(hand), "9521234000013"
    good = hand.batch(made=4).lot
    with pytest.raises(WhichLot, match="it names no lot; lot 26328-01 is still there"):
        hand.sell(number)
    with pytest.raises(NotSafe, match="a hair was found"):
        hand.sell(f"{number}@{bad}")
    sale = hand.sell(f"{number}@{good}*2", f"Firm block@{good}")
    assert [n.draws for n in sale.lines] == [
        (Draw(lot=good, amount=2, how="named"),), (Draw(lot=good, amount=1, how="named"),),
    ]  # fmt: skip
    with pytest.raises(Refused, match=f"it says lot {good} itself"):
        hand.sell(f"{good}@{bad}")


def test_a_payment_taken_before_is_booked_when_it_reaches_the_books(hand: ShopInHand) -> None:
    """Its pieces are gone and nobody can look at them: assumed, flagged, and in every may-be list.
    What surely might not be sold when it was paid is refused all the same."""
    bad = stopped(hand)
    good = hand.batch(made=1).lot
    two = Slip((SlipItem("firm-block", 2),), key="k1")
    with pytest.raises(WhichLot):
        hand.shop.counter.sell(two, [Tender("card")])
    hand.clock.forward(minutes=5)
    paid = hand.clock.moment
    kept = Kept(paid=paid, day=paid.date(), booked=paid)
    sale = hand.shop.payments.sell_kept(two, [Tender("card")], kept)
    assert sale.lines[0].draws == (Draw(lot=good, amount=2),)
    with pytest.raises(NotSafe):
        hand.shop.payments.sell_kept(
            Slip((SlipItem("firm-block", 1, bad),)), [Tender("card")], kept
        )


def test_a_sale_noted_late_is_asked_for_its_lot_in_words(hand: ShopInHand) -> None:
    """Nobody holds the piece any more, and a late note must be no way round the question."""
    stopped(hand)
    good = hand.batch(made=1).lot
    hand.clock.set("2026-11-24 12:00")
    at = hand.clock.moment - timedelta(hours=1)
    two = Slip((SlipItem("firm-block", 2),))
    with pytest.raises(Asked, match="is still there: it is stopped: a hair was found"):
        hand.shop.counter.sell(two, [Tender("card")], at)
    paper = [PaperSale(items=two.items, at=at)]
    with pytest.raises(Asked):
        hand.shop.counter.sell_from_paper(paper)
    hand.shop.desk.questions.given = {"lot": "nobody looked"}
    assert hand.shop.counter.sell(two, [Tender("card")], at).lines[0].draws == (
        Draw(lot=good, amount=2),
    )
    assert len(hand.shop.counter.sell_from_paper(paper)) == 1
    answers = [
        a for c in hand.shop.desk.records_of(hand.shop.desk.today()) for a in c.get("answers", ())
    ]
    assert [a.words for a in answers] == ["nobody looked"] * 2
    with pytest.raises(WhichLot):  # now, somebody holds it
        hand.shop.counter.sell(two, [Tender("card")])


def test_no_cup_is_sold_out_of_an_empty_tub_while_a_bad_one_stands_there(hand: ShopInHand) -> None:
    batch, late = hand.pudding()
    hand.clock.forward(hours=5)
    with pytest.raises(NotSafe, match="no temperature check"):
        hand.sell("cup-small")
    fresh = hand.batch("pudding", 16000).lot
    tub = hand.shop.tubs.open_tub(fresh, "cold", 300, Decimal(4)).tub
    assert hand.sell("cup-small").lines[0].draws[0] == Draw(lot=fresh, amount=237, tub=tub)
    with pytest.raises(NotSafe, match=f"what is in a tub: tub {late} has no temperature check"):
        hand.sell("cup-small")
    assert hand.sell(f"cup-small@{fresh}").lines[0].draws[0] == Draw(
        lot=fresh, amount=237, tub=tub, how="named"
    )
    with pytest.raises(Asked, match=f"8 l of tub {late} lost in scooping"):
        hand.shop.tubs.end_tub(late, 0, kept=False)
    hand.shop.desk.questions.given = {"left": "it ran out on the floor"}
    hand.shop.tubs.end_tub(late, 0, kept=False)
    assert hand.sell("cup-small").lines[0].draws[0].how == "named"  # one tub is open: it is known
    assert batch.lot != fresh


# -- how it is known of which lot something was


def test_a_draw_keeps_whether_its_lot_was_scanned_named_or_assumed(hand: ShopInHand) -> None:
    lot = hand.batch(made=20).lot
    sale = hand.sell(lot, f"firm-block@{lot}", "firm-block", "9521234000013")
    assert [n.draws[0].how for n in sale.lines] == ["scanned", "named", "assumed", "assumed"]
    back = hand.shop.counter.refund(sale.number, "changed their mind", {1: 1}, restock=True)
    assert back.lines[0].draws == (Draw(lot=lot, amount=1, how="scanned"),)


def test_a_draw_of_old_books_counts_as_assumed() -> None:
    assert msgspec.json.decode(b'{"lot":"26328-01","amount":2}', type=Draw).how == "assumed"
