"""A date on a pack is a calendar date: the shop's own day, which turns later, stretches none.

Food Code 3-501.17(A), 3-501.18(A)(1): ready-to-eat food is thrown away when the day it is marked
with is over; read as the calendar day (Conference for Food Protection, issue 2016 I-034).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from counter.errors import NotSafe
from counter.trade.dates import trading_day
from counter.trade.payments import Tender
from counter.trade.sales import Slip, SlipItem
from counter.trade.schema import BadEntry
from counter.trade.settings import parse_settings
from counter.trade.units import parse_clock
from tests.conftest import CATALOGUE, DATED_CATALOGUE, SETTINGS, Maker, ShopInHand

WEST = ZoneInfo("America/Los_Angeles")
Doing = Callable[[ShopInHand, str], object]


@pytest.mark.parametrize(
    "doing",
    [
        lambda hand, lot: hand.sell(lot),
        lambda hand, lot: hand.sell("firm-block"),
        lambda hand, lot: hand.shop.labels.label(lot),
        lambda hand, lot: hand.batch("smoked", 24, boiled_minutes=None, mixed=((lot, 20),)),
    ],
)
def test_at_half_past_two_at_night_the_lot_of_yesterdays_date_is_refused(
    hand: ShopInHand, doing: Doing
) -> None:
    made = hand.batch()
    hand.clock.set("2026-11-28 23:59")
    hand.sell(made.lot)
    hand.clock.set("2026-11-29 02:30")
    assert hand.shop.desk.today() == date(2026, 11, 28)  # the trading day has not turned
    with pytest.raises(NotSafe, match="best-by date 2026-11-28 has passed"):
        doing(hand, made.lot)


def test_the_seven_days_of_the_law_end_at_midnight_too(make: Maker) -> None:
    hand = make(SETTINGS.replace('past_best_by = "refuse"', 'past_best_by = "warn"'))
    lot = hand.batch().lot
    hand.clock.set("2026-11-30 23:59")
    hand.sell(lot)
    hand.clock.set("2026-12-01 02:30")
    with pytest.raises(NotSafe, match="its last date 2026-11-30 has passed"):
        hand.sell(lot)


def test_the_shelf_and_what_must_go_say_it_at_midnight(hand: ShopInHand) -> None:
    lot = hand.batch().lot
    hand.clock.set("2026-11-28 23:59")
    (shown,) = hand.shop.counter.shelf().products[0].lots
    assert (shown.refusal, shown.last_day) == ("", True)
    hand.clock.set("2026-11-29 00:00")
    (shown,) = hand.shop.counter.shelf().products[0].lots
    assert shown.refusal == "its best-by date 2026-11-28 has passed"
    assert [go.lot for go in hand.shop.waste.must_go()] == [lot]


def test_a_pudding_past_its_date_is_not_opened_at_night(hand: ShopInHand) -> None:
    lot = hand.batch("pudding", 16000).lot
    hand.clock.set("2026-11-26 01:00")
    with pytest.raises(NotSafe, match="date 2026-11-25 has passed"):
        hand.shop.tubs.open_tub(lot, "cold", 8000)


def test_a_price_for_the_last_day_begins_at_midnight_with_the_last_day(hand: ShopInHand) -> None:
    hand.batch()
    hand.clock.set("2026-11-27 23:59")
    usual = hand.sell("firm-block").lines[0]
    hand.clock.set("2026-11-28 00:10")  # the trading day is still the 27th
    last = hand.sell("firm-block").lines[0]
    assert (usual.kind, last.kind) == ("price", "last day")


def test_a_late_note_is_judged_by_the_calendar_date_of_its_own_moment(hand: ShopInHand) -> None:
    lot = hand.batch().lot
    hand.clock.set("2026-11-29 02:50")
    slip, before = Slip((SlipItem("firm-block"),)), datetime(2026, 11, 28, 23, 50, tzinfo=WEST)
    assert hand.shop.counter.sell(slip, [Tender("card")], before).lines[0].draws[0].lot == lot
    with pytest.raises(NotSafe, match="date 2026-11-28 has passed"):
        hand.shop.counter.sell(slip, [Tender("card")], before + timedelta(minutes=20))


def test_a_batch_cooked_after_midnight_is_marked_from_the_day_it_was_cooked(
    hand: ShopInHand,
) -> None:
    """3-501.17(A)(1): the day of preparation is day 1. Seven days, and no trading day more."""
    hand.clock.set("2026-11-25 01:40")
    late = hand.batch(cook_ended=parse_clock("01:10"))
    assert (late.lot, late.mark.day) == ("26328-01", date(2026, 11, 29))
    assert late.mark.limit == date(2026, 12, 1)
    early = hand.batch(cook_ended=parse_clock("23:50"))
    assert (early.mark.day, early.mark.limit) == (date(2026, 11, 28), date(2026, 11, 30))
    silent = hand.batch(cook_ended=None)  # not noted: the day that is never later
    assert silent.mark.limit == date(2026, 11, 30)


@pytest.mark.parametrize(
    ("moment", "day_starts", "day"),
    [
        # Summer time ends on 1 November 2026: from 01:00 to 02:00 the clock shows each time twice.
        ("2026-11-01T01:29-07:00", "01:30", "2026-10-31"),
        ("2026-11-01T01:30-07:00", "01:30", "2026-11-01"),
        ("2026-11-01T01:00-08:00", "01:30", "2026-11-01"),  # the second time, an hour later
        ("2026-11-01T01:29-08:00", "01:30", "2026-11-01"),
        ("2026-11-01T00:59-07:00", "01:00", "2026-10-31"),
        ("2026-11-01T01:00-08:00", "01:00", "2026-11-01"),
        ("2026-11-01T02:59-08:00", "03:00", "2026-10-31"),
        # It begins on 8 March 2026: from 02:00 the clock jumps to 03:00.
        ("2026-03-08T01:59-08:00", "02:30", "2026-03-07"),
        ("2026-03-08T03:00-07:00", "02:30", "2026-03-08"),
        ("2026-03-08T03:29-07:00", "02:30", "2026-03-08"),
        ("2026-03-08T03:00-07:00", "03:00", "2026-03-08"),
        ("2026-03-08T00:00-08:00", "00:00", "2026-03-08"),
    ],
)
def test_where_the_clock_changes_the_day_begins_once(
    moment: str, day_starts: str, day: str
) -> None:
    when = datetime.fromisoformat(moment).astimezone(WEST)
    assert trading_day(when, parse_clock(day_starts)) == date.fromisoformat(day)


@pytest.mark.parametrize("starts", [time(0), time(1), time(1, 30), time(2, 30), time(3), time(6)])
@pytest.mark.parametrize("noon", ["2026-10-31T12:00", "2026-03-07T12:00", "2026-06-01T12:00"])
def test_no_day_comes_back_once_the_next_has_begun(noon: str, starts: time) -> None:
    begin = datetime.fromisoformat(noon).replace(tzinfo=WEST).timestamp()
    days = [
        trading_day(datetime.fromtimestamp(begin + 60 * minute, WEST), starts)
        for minute in range(2 * 24 * 60)
    ]
    assert days == sorted(days)


@pytest.mark.parametrize("text", ["06:01", "09:00", "18:00", "23:59"])
def test_a_day_begins_between_midnight_and_six(text: str) -> None:
    with pytest.raises(BadEntry) as refused:
        parse_settings(SETTINGS.replace('day_starts = "03:00"', f'day_starts = "{text}"'))
    assert str(refused.value).startswith(
        f"Cannot read shop.toml: 'shop.day_starts' (line 14): the day begins at {text}, expected is "
        "00:00 to 06:00."
    )


@pytest.mark.parametrize("text", ["00:00", "06:00"])
def test_midnight_and_six_are_still_in_the_night(text: str) -> None:
    text = SETTINGS.replace('day_starts = "03:00"', f'day_starts = "{text}"')
    assert isinstance(parse_settings(text).shop.day_starts, time)


# -- longer than the usual, by a study


EU = SETTINGS.replace('market = "us"', 'market = "eu"')


@pytest.mark.parametrize(("days", "study", "held", "why"), [
    (10, "", "cold", ""),
    (11, "", "cold", "cold for 11 days: name the study or the reason for more than 10"),
    (11, "  ", "cold", "cold for 11 days: name the study or the reason for more than 10"),
    (45, "boiled in its bag, report 7 (invented)", "cold", ""),
    (90, "", "frozen", ""),
])  # fmt: skip
def test_in_the_eu_cold_food_of_more_than_ten_days_names_its_study(
    make: Maker, days: int, study: str, held: str, why: str
) -> None:
    hand = make(EU, DATED_CATALOGUE)
    firm = f'keeps = {days}\nstudy = "{study}"\nheld = "{held}"\nmould = "48"'
    catalogue = DATED_CATALOGUE.replace('keeps = 5\nmould = "48"', firm, 1)
    if why:
        with pytest.raises(BadEntry) as refused:
            hand.shop.products.load_catalogue(catalogue)
        assert f"'products.firm.keeps' (line 92): {why}." in str(refused.value)
        return
    hand.shop.products.load_catalogue(catalogue)
    mark = hand.batch().mark
    assert mark.reason.endswith(f"; by the study '{study}'") is bool(study)


def test_in_the_us_the_date_is_cut_as_ever(make: Maker) -> None:
    hand = make(catalogue=CATALOGUE.replace('keeps = 5\nmould = "48"', 'keeps = 11\nmould = "48"'))
    assert hand.batch().mark.day == date(2026, 11, 30)
