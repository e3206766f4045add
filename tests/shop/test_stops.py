"""A stop works on any lot at any moment, with what was made from it; what the program stopped itself
takes an owner to release.

21 CFR 117.139(b), 7.49 and 7.59 ask that what is recalled is found and held; that what was made from
a stopped lot is stopped with it, and who may release it, is the shop's own rule.
"""

from __future__ import annotations

from datetime import date, time
from decimal import Decimal

import pytest

from counter.errors import Asked, BadInput, DaySealed, NotSafe, Refused
from counter.shop import Shop
from counter.shop.desk import Desk
from counter.shop.production import BatchNote
from tests.conftest import CATALOGUE, Maker, ShopInHand

SLOW = {"cook_ended": time(10), "cooled": (time(13), time(16, 45))}


def stopped(hand: ShopInHand, lot: str) -> str:
    return hand.shop.desk.standing().held(lot) or ""


def slow(hand: ShopInHand) -> str:
    """A lot that the program stopped: it took three hours to 21 °C."""
    hand.clock.set("2026-11-24 17:00")
    return hand.batch(**SLOW).lot


# -- reasons


def test_a_reason_of_two_parts_is_known_again_and_hides_none_that_is_new(hand: ShopInHand) -> None:
    lot, two = hand.batch().lot, "smells; smells"
    hand.shop.holds.stop([lot], two)
    with pytest.raises(Refused, match="it is already stopped: smells; smells"):
        hand.shop.holds.stop([lot], two)
    hand.shop.holds.stop([lot], "too soft")
    assert stopped(hand, lot) == "smells; smells; too soft"


# -- what the program stopped takes an owner


def test_who_said_the_program_s_reason_before_it_takes_no_owner_s_release_away(
    hand: ShopInHand,
) -> None:
    why = hand.shop.desk.batch(slow(hand)).why_stopped
    lot = hand.batch(cook_ended=SLOW["cook_ended"]).lot
    hand.shop.holds.stop([lot], why, by="Teo")
    note = BatchNote(cooled=(time(13), time(16, 45)))
    hand.shop.amendments.amend_batch(lot, note, "read off late", by="Teo")
    assert stopped(hand, lot) == why
    with pytest.raises(Refused, match="the program stopped it, and Teo is no owner"):
        hand.shop.holds.hold(lot, False, "it is cold after all", by="Teo")


@pytest.mark.parametrize(
    ("by", "why", "refusal"),
    [
        ("", "the thermometer was wrong", "the program stopped it, and nobody is named"),
        ("Teo", "the thermometer was wrong", "the program stopped it, and Teo is no owner"),
        ("Nobody", "the thermometer was wrong", "the program stopped it, and Nobody is no owner"),
        ("Rosa", "ok", "'ok' is no reason"),
        ("Rosa", "  ", "no reason is given"),
        ("rosa", "the thermometer was wrong", ""),
    ],
)
def test_what_the_program_stopped_is_released_by_an_owner_with_a_reason(
    hand: ShopInHand, by: str, why: str, refusal: str
) -> None:
    lot = slow(hand)
    if not refusal:
        hand.shop.holds.hold(lot, False, why, by=by)
        assert stopped(hand, lot) == ""
        return
    with pytest.raises((Refused, BadInput)) as refused:
        hand.shop.holds.hold(lot, False, why, by=by)
    assert refused.value.why == refusal
    with pytest.raises(NotSafe):
        hand.sell(lot)


def test_in_a_shop_without_staff_whoever_releases_it_is_named(make: Maker) -> None:
    hand = make(catalogue=CATALOGUE[: CATALOGUE.index("[staff.rosa]")])
    lot = slow(hand)
    with pytest.raises(Refused, match="nobody is named"):
        hand.shop.holds.hold(lot, False, "the thermometer was wrong")
    hand.shop.holds.hold(lot, False, "the thermometer was wrong", by="Sam")
    assert stopped(hand, lot) == ""


def test_what_a_person_stopped_a_person_releases(hand: ShopInHand) -> None:
    lot = hand.batch().lot
    hand.shop.holds.hold(lot, True, "a hair", by="Ida")
    hand.shop.holds.hold(lot, False, "no", by="Ida")
    assert stopped(hand, lot) == ""


def test_a_reason_of_a_person_beside_it_takes_the_owner_not_away(hand: ShopInHand) -> None:
    lot = slow(hand)
    hand.shop.holds.hold(lot, True, "a hair", by="Ida")
    with pytest.raises(Refused, match="Ida is no owner"):
        hand.shop.holds.hold(lot, False, "the hair is out", by="Ida")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 09:00")  # nor does a closing
    with pytest.raises(Refused, match="Ida is no owner"):
        hand.shop.holds.hold(lot, False, "the hair is out", by="Ida")
    hand.shop.holds.hold(lot, False, "both looked at", by="Rosa")
    hand.shop.holds.hold(lot, True, "a hair again", by="Ida")  # from here on it is a person's
    hand.shop.holds.hold(lot, False, "it was a thread", by="Ida")


def test_what_was_out_of_its_temperature_takes_an_owner_too(hand: ShopInHand) -> None:
    lot = hand.batch().lot
    hand.shop.records.note_temperature("fridge", Decimal(4))
    hand.clock.set("2026-11-24 08:30")
    hand.shop.records.note_temperature("fridge", Decimal(12))
    assert "out of its temperature" in stopped(hand, lot)
    with pytest.raises(Refused, match="Teo is no owner"):
        hand.shop.holds.hold(lot, False, "the probe lay in the sun", by="Teo")
    hand.shop.holds.hold(lot, False, "the probe lay in the sun", by="Rosa")


# -- what was made from it


def test_what_was_made_from_a_stopped_lot_is_stopped_in_the_same_commit(hand: ShopInHand) -> None:
    firm, other = hand.batch(), hand.batch()
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((firm.lot, 10),))
    again = hand.batch("smoked", 2, boiled_minutes=None, mixed=((smoked.lot, 2),))
    lines = len(hand.shop.desk.records_of(hand.shop.desk.today()))
    holds = hand.shop.holds.stop([firm.lot], "glass in it", by="Ida")
    assert [(h.lot, h.why, h.own) for h in holds] == [
        (firm.lot, "glass in it", False),
        (smoked.lot, f"lot {firm.lot} went into it: glass in it", True),
        (again.lot, f"lot {firm.lot} went into it: glass in it", True),
    ]
    assert len(hand.shop.desk.records_of(hand.shop.desk.today())) == lines + 1
    for lot in (firm.lot, smoked.lot, again.lot):
        with pytest.raises(NotSafe):
            hand.sell(lot)
    assert stopped(hand, other.lot) == ""


def test_it_is_released_lot_by_lot(hand: ShopInHand) -> None:
    firm = hand.batch()
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((firm.lot, 10),))
    hand.shop.holds.hold(firm.lot, True, "glass in it", by="Ida")
    hand.shop.holds.hold(firm.lot, False, "it was ice", by="Ida")
    assert stopped(hand, smoked.lot) == f"lot {firm.lot} went into it: glass in it"
    with pytest.raises(Refused, match="Ida is no owner"):
        hand.shop.holds.hold(smoked.lot, False, "it was ice", by="Ida")
    hand.shop.holds.hold(smoked.lot, False, "it was ice", by="Rosa")
    hand.sell(smoked.lot)


def test_all_lots_of_a_suppliers_code_are_stopped_at_once(hand: ShopInHand) -> None:
    one = hand.batch(codes={"soybeans": "B-1207"})
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 05:00")
    two = hand.batch("soft", 20, codes={"soybeans": " b-1207 "})
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((one.lot, 10),))
    good = hand.batch(codes={"soybeans": "B-1208"})
    holds = hand.shop.records.stop_code("B-1207", "recalled by the mill", by="Ida")
    assert [h.lot for h in holds] == [one.lot, two.lot, smoked.lot]
    assert [bool(stopped(hand, lot)) for lot in (one.lot, two.lot, smoked.lot, good.lot)] == [
        True, True, True, False,
    ]  # fmt: skip
    with pytest.raises(Refused, match="no lot has the supplier code 'Z-9'"):
        hand.shop.records.stop_code("Z-9", "recalled by the mill")
    with pytest.raises(Refused, match="already stopped: recalled by the mill"):
        hand.shop.records.stop_code("B-1207", "recalled by the mill")


# -- at any moment


def test_a_lot_of_a_clock_that_was_ahead_is_stopped_and_stays_so(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-26 05:00")  # two days ahead
    ahead = hand.batch()
    smoked = hand.batch("smoked", 10, boiled_minutes=None, mixed=((ahead.lot, 10),))
    hand.clock.set("2026-11-24 05:00")
    holds = hand.shop.holds.stop([ahead.lot], "a hair")
    assert [h.lot for h in holds] == [ahead.lot, smoked.lot]
    assert stopped(hand, ahead.lot) == "a hair"
    assert hand.shop.closings.trace(ahead.lot).holds[-1].stopped
    for day in ("2026-11-24", "2026-11-25", "2026-11-26", "2026-11-27"):
        hand.clock.set(f"{day} 09:00")
        with pytest.raises((NotSafe, Refused)):
            hand.sell(ahead.lot)
        assert stopped(hand, ahead.lot) == "a hair"
        again = Shop(Desk(hand.shop.desk.books, hand.shop.desk.settings, hand.clock))
        assert again.desk.standing().held(ahead.lot) == "a hair"


def test_a_stop_holds_over_a_release_in_the_book_of_a_later_day(hand: ShopInHand) -> None:
    lot = hand.batch().lot
    hand.clock.set("2026-11-26 05:00")
    hand.shop.holds.hold(lot, True, "a thread")
    hand.shop.holds.hold(lot, False, "it was ours")
    hand.clock.set("2026-11-25 05:00")  # set right
    hand.shop.holds.hold(lot, True, "a hair")
    for day in ("2026-11-25", "2026-11-26", "2026-11-27"):
        hand.clock.set(f"{day} 09:00")
        assert stopped(hand, lot) == "a hair"
        with pytest.raises(NotSafe, match="it is stopped: a hair"):
            hand.sell(lot)
    found = hand.shop.closings.trace(lot)
    assert (found.holds[-1].why, found.holds[-1].stopped) == ("a hair", True)
    for one in hand.shop.closings.open_days():
        hand.shop.evening.close_day(day=one)
    hand.clock.set("2026-11-28 09:00")
    assert stopped(hand, lot) == "a hair"
    hand.shop.holds.hold(lot, False, "it was a thread")  # and a release holds as well
    hand.sell(lot)
    hand.clock.set("2026-11-28 10:00")
    assert stopped(hand, lot) == ""


def test_a_lot_is_stopped_while_its_day_is_closed(hand: ShopInHand) -> None:
    lot = hand.batch().lot
    hand.clock.set("2026-11-24 18:00")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-24 20:00")
    hand.shop.holds.hold(lot, True, "the mill called", by="Rosa")
    assert stopped(hand, lot) == "the mill called"
    with pytest.raises(NotSafe, match="the mill called"):
        hand.shop.labels.label(lot)
    with pytest.raises(DaySealed):
        hand.shop.holds.hold(lot, False, "it was another lot", by="Rosa")  # that can wait
    last = hand.shop.closings.trace(lot).holds[-1]
    assert (last.why, last.by, last.at.date()) == ("the mill called", "Rosa", date(2026, 11, 24))
    hand.clock.set("2026-11-25 09:00")
    with pytest.raises(NotSafe, match="the mill called"):
        hand.sell(lot)
    assert hand.shop.audit.check().sound


@pytest.mark.usefixtures("nobody_answers")
def test_a_stop_does_not_wait_until_the_day_is_said(hand: ShopInHand) -> None:
    lot = hand.batch().lot
    hand.clock.set("2026-11-20 09:00")  # set back: which day it is would be asked
    with pytest.raises(Asked):
        hand.batch()
    hand.shop.holds.hold(lot, True, "a hair", by="Ida")
    assert stopped(hand, lot) == "a hair"
    assert hand.shop.desk.books.days() == [date(2026, 11, 24)]  # no day is begun by it
    with pytest.raises(Asked):
        hand.batch()
    hand.clock.set("2026-11-24 09:00")
    with pytest.raises(NotSafe, match="a hair"):
        hand.sell(lot)


def test_a_stop_that_was_forgotten_is_noted_for_its_moment(hand: ShopInHand) -> None:
    lot = hand.batch().lot
    hand.clock.set("2026-11-24 12:00")
    hand.shop.amendments.amend_batch(lot, BatchNote(notes="x"), "later than the stop")
    made = hand.shop.holds.hold(lot, True, "a hair", at=hand.shop.desk.now().replace(hour=9))
    assert made.at.hour == 9
    assert stopped(hand, lot) == "a hair"


def test_other_records_of_the_shop_do_not_lose_a_stop(hand: ShopInHand) -> None:
    lot = hand.batch().lot
    hand.shop.holds.hold(lot, True, "a hair")
    hand.shop.desk.questions.given = {"catalogue": "nothing but the price of cups"}
    hand.shop.products.load_catalogue(CATALOGUE)
    again = Shop(Desk(hand.shop.desk.books, hand.shop.desk.settings, hand.clock))
    assert again.desk.stops.last()[lot].why == "a hair"
    assert again.desk.standing().held(lot) == "a hair"
