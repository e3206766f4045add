"""Frozen is a state with dates: the count of days stands still and goes on, never anew.

FDA Food Code 3-501.17, .18, read strictly: the day it is frozen is used, and the day it is thawed
is the first of those that are left. Regulation (EU) 1169/2011 Annex VI A 2: sold thawed, its name
says "defrosted".
"""

from __future__ import annotations

from datetime import date, time
from decimal import Decimal

import pytest

from counter.errors import NotSafe
from counter.shop import Shop
from counter.shop.desk import Desk
from counter.shop.production import BatchNote
from tests.conftest import CATALOGUE, DATED_CATALOGUE, SETTINGS, Maker, ShopInHand

PLACES = '\n[holding]\nfridge = "cold"\nchest = "freezer"\n'
SEVEN = CATALOGUE.replace("[products.firm]\n", "[products.firm]\nkeeps = 7\n").replace(
    "keeps = 5\n", "", 1
)
HELD = SEVEN.replace("keeps = 7\n", 'keeps = 180\nheld = "frozen"\n', 1)
COLD = Decimal(4)
EU = SETTINGS.replace('market = "us"', 'market = "eu"').replace('second_language = "es"', "")


def made(make: Maker, catalogue: str = SEVEN, settings: str = SETTINGS) -> ShopInHand:
    """A lot of firm made on Thursday 2026-10-01, cold at seven, measured where it lies."""
    hand = make(settings + PLACES, catalogue)
    hand.clock.set("2026-10-01 04:10")
    hand.batch("firm")
    hand.clock.set("2026-10-01 08:00")
    hand.shop.amendments.amend_batch(LOT, BatchNote(cooled=(time(5, 0), time(7, 0))), "read")
    return hand


LOT = "26274-01"


def move(hand: ShopInHand, day: str, place: str) -> None:
    on(hand, day)
    hand.shop.records.move_lot(LOT, place, COLD)


def on(hand: ShopInHand, day: str) -> None:
    """That day at nine, with all days before it closed."""
    hand.clock.set(f"{day} 09:00")
    for open_day in hand.shop.closings.open_days():
        if open_day < date.fromisoformat(day):
            hand.shop.evening.close_day(day=open_day)


def lot(hand: ShopInHand):  # type: ignore[no-untyped-def]
    return hand.shop.desk.standing().rows[LOT].lot


# Prepared Oct 1, frozen Oct 3 (1, 2, 3 are used), thawed Nov 10: 4 days are left, Nov 13.
def test_the_count_stands_still_while_frozen_and_goes_on_when_thawed(make: Maker) -> None:
    hand = made(make)
    assert lot(hand).mark.day == date(2026, 10, 7)
    move(hand, "2026-10-03", "chest")
    assert (lot(hand).frozen_on, lot(hand).thawed_on) == (date(2026, 10, 3), None)
    on(hand, "2026-10-20")
    with pytest.raises(NotSafe) as refused:
        hand.sell("firm-block")
    assert str(refused.value) == (
        f"Cannot sell lot {LOT}: it lies frozen since 2026-10-03, and is not sold so. Thaw it "
        f"first: `counter move {LOT} PLACE`, to a fridge."
    )
    with pytest.raises(NotSafe, match="it lies frozen since 2026-10-03"):
        hand.shop.labels.label(LOT)
    assert hand.shop.waste.must_go() == []
    assert hand.shop.counter.shelf().throw_away == ()
    move(hand, "2026-11-10", "fridge")
    mark = lot(hand).mark
    assert (mark.day, mark.limit) == (date(2026, 11, 13), date(2026, 11, 13))
    assert mark.reason.endswith("it stood still for 37 days while it was frozen")
    assert lot(hand).thawed_on == date(2026, 11, 10)
    on(hand, "2026-11-13")
    assert hand.sell("firm-block").lines
    on(hand, "2026-11-14")
    with pytest.raises(NotSafe, match="its last date 2026-11-13 has passed"):
        hand.sell("firm-block")
    fresh = Shop(Desk(hand.shop.desk.books, hand.shop.desk.settings, hand.clock)).desk.standing()
    assert fresh.rows[LOT].lot == lot(hand)


@pytest.mark.parametrize(
    ("moves", "last"),
    [
        ((("10-03", "chest"), ("10-03", "fridge")), "10-07"),  # in and out: nothing stood still
        ((("10-03", "chest"), ("10-04", "fridge")), "10-07"),  # both days are used
        ((("10-03", "chest"), ("10-05", "fridge")), "10-08"),
        ((("10-07", "chest"), ("11-10", "fridge")), "11-09"),  # no day was left
        # twice: 3 days used, 2 of the 4 left used, 2 left
        ((("10-03", "chest"), ("10-10", "fridge"), ("10-11", "chest"), ("10-20", "fridge")), "10-21"),
    ],
)  # fmt: skip
def test_no_day_is_won_by_freezing(
    make: Maker, moves: tuple[tuple[str, str], ...], last: str
) -> None:
    hand = made(make)
    for day, place in moves:
        move(hand, f"2026-{day}", place)
    assert f"{lot(hand).mark.day:%m-%d}" == last


def test_freezing_makes_nothing_good_that_was_past_its_date(make: Maker) -> None:
    hand = made(make)
    move(hand, "2026-10-09", "chest")
    with pytest.raises(NotSafe, match="its last date 2026-10-07 has passed"):
        hand.sell("firm-block")
    assert [(g.lot, g.reason) for g in hand.shop.waste.must_go()] == [(LOT, "date")]
    move(hand, "2026-11-10", "fridge")
    assert lot(hand).mark.day == date(2026, 10, 7)
    with pytest.raises(NotSafe, match="its last date 2026-10-07 has passed"):
        hand.sell("firm-block")


def test_held_frozen_lifts_no_limit_for_what_lies_in_a_fridge(make: Maker) -> None:
    hand = made(make, HELD)
    assert (lot(hand).mark.day, lot(hand).mark.limit) == (date(2026, 10, 7), date(2026, 10, 7))
    on(hand, "2026-10-08")
    with pytest.raises(NotSafe, match="its last date 2026-10-07 has passed"):
        hand.sell("firm-block")


def test_its_long_date_holds_from_when_it_is_noted_frozen(make: Maker) -> None:
    hand = made(make, HELD)
    move(hand, "2026-10-03", "chest")
    assert lot(hand).mark.day == date(2027, 3, 29)
    on(hand, "2026-12-01")
    assert hand.sell("firm-block").lines
    hand.shop.labels.label(LOT)
    move(hand, "2026-12-02", "fridge")
    assert lot(hand).mark.day == date(2026, 12, 5)
    on(hand, "2026-12-06")
    with pytest.raises(NotSafe, match="its last date 2026-12-05 has passed"):
        hand.sell("firm-block")


def test_a_late_freezing_gives_no_long_date(make: Maker) -> None:
    hand = made(make, HELD)
    move(hand, "2026-10-08", "chest")
    assert lot(hand).mark.day == date(2026, 10, 7)
    with pytest.raises(NotSafe, match="its last date 2026-10-07 has passed"):
        hand.sell("firm-block")


def test_in_the_eu_what_is_held_frozen_has_ten_days_in_a_fridge(make: Maker) -> None:
    held = DATED_CATALOGUE.replace("[products.firm]\n", '[products.firm]\nheld = "frozen"\n')
    held = held.replace("keeps = 5\n", "keeps = 180\n", 1)
    hand = made(make, held, EU)
    assert lot(hand).mark.day == date(2026, 10, 10)


# -- labels


def test_labels_of_before_are_printed_anew_before_it_is_sold_thawed(
    folder_shop: ShopInHand,
) -> None:
    hand = made(lambda *_: restarted(folder_shop))
    hand.shop.labels.print_labels([(LOT, None)])
    move(hand, "2026-10-03", "chest")
    move(hand, "2026-11-10", "fridge")
    with pytest.raises(NotSafe) as refused:
        hand.sell("firm-block")
    assert str(refused.value) == (
        f"Cannot sell lot {LOT}: 48 packs bear the labels of before it was thawed. Print new "
        "labels and destroy the old ones."
    )
    hand.shop.labels.print_labels([(LOT, 40)])
    with pytest.raises(NotSafe, match="8 packs bear the labels"):
        hand.sell("firm-block")
    hand.shop.labels.print_labels([(LOT, 8)])
    assert hand.sell("firm-block").lines
    said = {row.key: row.text for row in hand.shop.cards.explain_label(LOT)}
    assert "Nov 11, 2026" in " ".join(said.values())  # 5 days: 3 of them used, 2 left


def restarted(hand: ShopInHand) -> ShopInHand:
    """The invented shop of a folder with a freezer."""
    folder = hand.shop.desk.folder
    assert folder is not None
    (folder / "shop.toml").write_text(SETTINGS + PLACES, "utf-8")
    hand.shop = Shop.open(folder, hand.clock)
    return hand


def test_in_the_eu_it_is_sold_as_defrosted(make: Maker) -> None:
    hand = made(make, DATED_CATALOGUE, EU)
    before = {row.key: row for row in hand.shop.cards.explain_label(LOT, "roll-100x150")}
    assert before["name"].text == "Firm Tofu"
    move(hand, "2026-10-03", "chest")
    move(hand, "2026-10-10", "fridge")
    after = {row.key: row for row in hand.shop.cards.explain_label(LOT, "roll-100x150")}
    assert after["name"].text == "Firm Tofu, defrosted"
    assert "Annex VI A 2" in after["name"].clause


def test_older_stock_brings_the_date_it_has_now(make: Maker) -> None:
    hand = made(make)
    move(hand, "2026-10-03", "chest")
    with pytest.raises(NotSafe, match="it lies frozen"):
        hand.batch("smoked", 10, mixed=((LOT, 10),))
    move(hand, "2026-11-10", "fridge")
    assert hand.batch("smoked", 10, mixed=((LOT, 10),)).mark.day == date(2026, 11, 13)


def frozen_and_warm(make: Maker) -> ShopInHand:
    """Frozen on the 3rd of October; on the 5th the freezer is measured at 2 °C."""
    hand = made(make)
    move(hand, "2026-10-03", "chest")
    hand.shop.records.note_temperature("chest", Decimal(-20))
    on(hand, "2026-10-05")
    hand.shop.records.note_temperature("chest", Decimal(2))
    return hand


# What is measured above 0 °C is not frozen: the shop's own rule, on the safe side of 3-501.17.
def test_a_freezer_above_0_degrees_lets_no_date_stand_still(make: Maker) -> None:
    hand = frozen_and_warm(make)
    assert (lot(hand).thawed_on, lot(hand).still) == (date(2026, 10, 3), 0)
    with pytest.raises(NotSafe) as refused:
        hand.sell("firm-block")
    assert str(refused.value) == (
        f"Cannot sell lot {LOT}: it thawed in chest on 2026-10-03, which was measured above 0 °C. "
        f"Move it to a fridge, `counter move {LOT} PLACE`, or throw it away."
    )
    on(hand, "2026-10-20")
    assert lot(hand).mark.day == date(2026, 10, 7)
    hand.shop.records.note_temperature("chest", Decimal(-20))  # frozen anew, what was past its date
    move(hand, "2026-11-10", "fridge")
    with pytest.raises(NotSafe, match="date 2026-10-07 has passed"):
        hand.sell("firm-block")


def test_what_froze_again_in_time_stands_still_again(make: Maker) -> None:
    hand = frozen_and_warm(make)
    hand.clock.forward(hours=2)
    hand.shop.records.note_temperature("chest", Decimal(-18))
    move(hand, "2026-10-15", "fridge")
    assert (lot(hand).frozen_on, lot(hand).still) == (date(2026, 10, 5), 9)
    assert hand.sell("firm-block").lines
