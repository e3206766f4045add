"""Labels that are printed already, or just being drawn, when what they say turns out wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from counter.errors import Refused
from counter.shop import Shop
from counter.trade.batch_note import BatchNote
from tests.conftest import ShopInHand, kilos

SESAME = {"sesame": kilos("0.2")}


def stopped(hand: ShopInHand, lot: str) -> str:
    return hand.shop.desk.ledger().rows[lot].lot.stopped


def test_a_lot_whose_printed_labels_lack_an_allergen_is_stopped(folder_shop: ShopInHand) -> None:
    hand = folder_shop
    made, other = hand.batch("firm"), hand.batch("firm")
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((made.lot, 10),))
    hand.shop.labels.print_labels([(made.lot, 2), (smoked.lot, 2)])
    for one in (made, other):
        hand.shop.amendments.amend_batch(one.lot, BatchNote(ingredients=SESAME), "sesame went in")
    why = "its printed labels do not name sesame"
    assert [stopped(hand, b.lot) for b in (made, smoked, other)] == [why, why, ""]
    hand.shop.holds.hold(made.lot, False, "labelled anew", by="Rosa")
    hand.sell(made.lot, cash=400)


def test_a_lot_whose_printed_labels_bear_a_later_date_is_stopped(folder_shop: ShopInHand) -> None:
    hand = folder_shop
    old = hand.batch("firm")
    hand.clock.set("2026-11-27 05:00")
    made = hand.batch("firm")
    hand.shop.labels.print_labels([(made.lot, 2)])
    hand.shop.amendments.amend_batch(
        made.lot, BatchNote(mixed=((old.lot, 3),)), "old blocks went in"
    )
    assert stopped(hand, made.lot) == "its printed labels bear a later date than 2026-11-28"


def test_another_list_than_that_of_the_printed_labels_is_said(folder_shop: ShopInHand) -> None:
    hand = folder_shop
    made = hand.batch("firm")
    hand.shop.labels.print_labels([(made.lot, 2)])
    salted = BatchNote(ingredients={"salt": kilos("0.1")})
    assert hand.shop.amendments.amend_batch(made.lot, salted, "salt went in").warnings == (
        "labels of it are printed that list something else: print new ones",
    )
    assert stopped(hand, made.lot) == ""


@pytest.mark.parametrize("meanwhile", ["stopped", "corrected"])
def test_labels_of_what_changed_while_they_were_drawn_are_not_printed(
    folder_shop: ShopInHand, meanwhile: str
) -> None:
    hand = folder_shop
    first, second = hand.batch("firm"), hand.batch("soft", 5)
    assert hand.shop.desk.folder is not None
    other, place = (
        Shop.open(hand.shop.desk.folder, hand.clock),
        Path(hand.shop.desk.folder / "run.pdf"),
    )

    def happens(done: int, _: int) -> None:
        if done == 1 and meanwhile == "stopped":
            other.holds.hold(first.lot, True, "glass")
        elif done == 1:
            other.amendments.amend_batch(first.lot, BatchNote(ingredients=SESAME), "sesame went in")

    with pytest.raises(Refused, match=f"{first.lot}: it (is stopped: glass|was corrected)"):
        hand.shop.labels.print_labels([(first.lot, 5), (second.lot, 5)], place, progress=happens)
    assert (place.exists(), hand.shop.products.printed_of(second.lot)) == (False, [])
