"""A tub that is not cold is never good on another day, in whatever order things are noted."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import Asked, CounterError, NotSafe, Refused
from counter.shop import Shop
from counter.shop.desk import Desk
from counter.shop.production import BatchNote
from counter.trade.closing import Closing
from counter.trade.payments import Tender
from counter.trade.sales import Slip, SlipItem
from counter.trade.settings import parse_settings
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand
from tests.often import examples

TUESDAY = date(2026, 11, 24)


def at(text: str) -> datetime:
    return Clock(text).moment


def tub_left_standing(hand: ShopInHand, mode: str, made: int = 16000) -> tuple[str, str]:
    """A tub of 8 l opened on Tuesday and left there; the day is not closed. It is 03:01."""
    batch = hand.hot(made=made) if mode == "hot" else hand.batch("pudding", made)
    celsius = Decimal(60) if mode == "hot" else Decimal(4)
    tub = hand.shop.tubs.open_tub(batch.lot, mode, 8000, celsius)  # type: ignore[arg-type]
    if mode == "hot":  # the rest of it went into the ice
        hand.clock.forward(minutes=60)
        hand.shop.amendments.amend_batch(
            batch.lot, BatchNote(cooled=(hand.ago(30), hand.ago(5))), "read"
        )
    hand.clock.set("2026-11-25 03:01")
    return batch.lot, tub.tub


def reason_of(mode: str) -> str:
    """What goes carries its true reason: nobody measured the hot one again."""
    return "time" if mode == "time" else "unmeasured"


# FDA Food Code 3-501.19(B): after 4 hours food kept by time is thrown away. That a hot tub does
# not outlast its trading day is the shop's own rule.
@pytest.mark.parametrize("mode", ["time", "hot"])
class TestATubLeftStanding:
    def test_it_stands_there_to_be_thrown_away(self, hand: ShopInHand, mode: str) -> None:
        lot, tub = tub_left_standing(hand, mode)
        go = hand.shop.waste.must_go()
        assert [(g.lot, g.tub, g.amount, g.reason, g.surely) for g in go] == [
            (lot, tub, 8000, reason_of(mode), True)
        ]
        pudding = next(p for p in hand.shop.counter.shelf().products if p.product == "pudding")
        assert [(t.tub, t.minutes) for t in pudding.tubs] == [(tub, 0)]
        with pytest.raises(NotSafe) as refused:
            hand.sell("cup-small")
        assert str(refused.value) == (
            f"Cannot sell cup-small: tub {tub} stands since 2026-11-24, and only a cold one "
            "outlasts its day. Throw it away and open another tub."
        )

    def test_no_measuring_makes_it_good(self, hand: ShopInHand, mode: str) -> None:
        _, tub = tub_left_standing(hand, mode)
        hand.shop.tubs.check_tub(tub, Decimal(60 if mode == "hot" else 4))
        with pytest.raises(NotSafe, match="only a cold one outlasts its day"):
            hand.sell("cup-small")

    def test_only_what_was_beside_it_fills_another(self, hand: ShopInHand, mode: str) -> None:
        lot, tub = tub_left_standing(hand, mode, made=11000)
        assert hand.shop.tubs.open_tub(lot, "cold", None, Decimal(4)).level == 3000
        with pytest.raises(NotSafe, match=f"Take tub {tub} away first"):
            hand.shop.tubs.open_tub(lot, "cold", None, Decimal(4))

    def test_closing_the_old_day_changes_nothing_of_it(self, hand: ShopInHand, mode: str) -> None:
        lot, tub = tub_left_standing(hand, mode)
        hand.shop.tubs.open_tub(lot, "cold", None, Decimal(4))
        hand.sell("cup-small")
        before = hand.on_hand(lot)
        closing = hand.shop.evening.close_day(day=TUESDAY)
        assert all(n.balances for n in closing.lots)
        assert hand.on_hand(lot) == before > 0
        assert [g.tub for g in hand.shop.waste.must_go()] == [tub]
        hand.shop.tubs.end_tub(tub, 7000, False)
        last = hand.shop.evening.close_day()
        assert all(n.balances for n in last.lots)
        assert last.lots[0].wasted == {"scooping": 1000, reason_of(mode): 7000}
        assert last.carried[0].amount == before - 8000

    def test_the_closing_of_the_day_it_stands_on_ends_it(self, hand: ShopInHand, mode: str) -> None:
        lot, _ = tub_left_standing(hand, mode)
        hand.batch("firm")
        hand.shop.evening.close_day(day=TUESDAY)
        last = hand.shop.evening.close_day()
        assert last.tubs == ()
        assert [n.wasted for n in last.lots if n.lot == lot] == [{reason_of(mode): 8000}]

    def test_closed_on_its_own_day_it_is_gone(self, hand: ShopInHand, mode: str) -> None:
        tub_left_standing(hand, mode)
        preview = hand.shop.evening.closing_preview(day=TUESDAY)
        closing = hand.shop.evening.close_day(day=TUESDAY, at=hand.shop.evening.end_of(TUESDAY))
        assert closing.tubs == preview.tubs == ()
        assert closing.lots[0].wasted == preview.lots[0].wasted == {reason_of(mode): 8000}
        assert [c.amount for c in closing.carried] == [8000]
        assert hand.shop.waste.must_go() == []
        with pytest.raises(Refused, match="no tub of Soft Tofu Pudding is open"):
            hand.sell("cup-small")


def test_a_cold_tub_stands_on_the_next_day_and_wants_measuring(hand: ShopInHand) -> None:
    _, tub = hand.pudding(mode="cold")
    closing = hand.shop.evening.close_day()
    assert [t.tub for t in closing.tubs] == [tub]
    hand.clock.set("2026-11-25 09:00")
    with pytest.raises(NotSafe, match="has no temperature check since 04:10"):
        hand.sell("cup-small")
    hand.shop.tubs.check_tub(tub, Decimal(4))
    assert hand.sell("cup-small").lines


def test_a_hot_tub_of_a_closing_of_before_is_refused_all_the_same(hand: ShopInHand) -> None:
    """Closings once carried hot tubs over."""
    batch, _ = hand.pudding(mode="hot")
    (standing,) = hand.shop.desk.ledger().open_tubs()
    closing = hand.shop.evening.closing_preview()
    old = Closing(**{
        **{f: getattr(closing, f) for f in Closing.__struct_fields__}, "tubs": (standing,)
    })  # fmt: skip
    hand.shop.desk.books.commit("closings", {"closings": [old]}, hand.clock())
    hand.clock.set("2026-11-25 09:00")
    hand.shop.tubs.check_tub(standing.tub, Decimal(60))
    with pytest.raises(NotSafe, match="only a cold one outlasts its day"):
        hand.sell("cup-small")
    assert [g.lot for g in hand.shop.waste.must_go()] == [batch.lot]


# -- another tub of the same lot


def test_another_tub_is_not_filled_out_of_one_past_its_time(hand: ShopInHand) -> None:
    batch = hand.batch("pudding", 8000)
    first = hand.shop.tubs.open_tub(batch.lot, "time", 8000, Decimal(4))
    hand.clock.forward(hours=5)
    for level in (None, 2000):
        with pytest.raises(NotSafe) as refused:
            hand.shop.tubs.open_tub(batch.lot, "cold", level, Decimal(4))
    assert str(refused.value) == (
        f"Cannot open a tub of lot {batch.lot} cold: so much is left only with what is in a tub: "
        f"tub {first.tub} has been out for 4 hours, since 04:10. Take tub {first.tub} away first."
    )
    hand.shop.tubs.end_tub(first.tub, 8000, False)
    with pytest.raises(Asked, match=f"2 l of lot {batch.lot}, where the log has 0 ml"):
        hand.shop.tubs.open_tub(batch.lot, "cold", 2000, Decimal(4))
    hand.shop.desk.questions.given = {"holds": "a second bowl of it stood in the fridge"}
    assert hand.shop.tubs.open_tub(batch.lot, "cold", 2000, Decimal(4)).level == 2000


def test_another_tub_noted_for_earlier_is_looked_at_as_of_now(hand: ShopInHand) -> None:
    batch = hand.batch("pudding", 8000)
    hand.shop.tubs.open_tub(batch.lot, "time", 8000, Decimal(4))
    early = hand.clock()
    hand.clock.forward(hours=5)
    with pytest.raises(NotSafe, match="has been out for 4 hours"):
        hand.shop.tubs.open_tub(batch.lot, "cold", None, Decimal(4), at=early)


def test_another_tub_is_not_filled_out_of_one_that_measured_wrong(hand: ShopInHand) -> None:
    batch, tub = hand.pudding(8000)
    hand.shop.tubs.check_tub(tub, Decimal(9))
    with pytest.raises(NotSafe, match="measured 9 °C"):
        hand.shop.tubs.open_tub(batch.lot, "cold", None, Decimal(4))


def test_what_the_log_has_too_little_of_is_scooped_all_the_same(hand: ShopInHand) -> None:
    batch, _ = hand.pudding(8000)
    with pytest.raises(Refused, match="nothing left of it to put in. Say how much it holds"):
        hand.shop.tubs.open_tub(batch.lot, "cold", None, Decimal(4))
    assert hand.shop.tubs.open_tub(batch.lot, "cold", 6000, Decimal(4)).level == 6000


# -- a clock set back


@pytest.mark.parametrize("mode", ["time", "cold", "hot"])
def test_a_clock_set_back_gives_no_tub_more_time(hand: ShopInHand, mode: str) -> None:
    hand.clock.set("2026-11-24 10:00")
    _, tub = tub_of(hand, mode)
    hand.clock.set("2026-11-24 09:56")  # clocks differ a little
    assert hand.sell("cup-small").lines
    hand.clock.set("2026-11-24 07:30")
    assert all(t.minutes <= 240 for p in hand.shop.counter.shelf().products for t in p.tubs)
    do = "or throw the tub away" if mode == "time" else "measure the tub now, or take it away"
    with pytest.raises(NotSafe, match=f"was opened on 2026-11-24 at 10:00, .*{do}"):
        hand.sell("cup-small")
    assert [g.tub for g in hand.shop.waste.must_go()] == [tub]


def tub_of(hand: ShopInHand, mode: str) -> tuple[str, str]:
    batch = hand.hot() if mode == "hot" else hand.batch("pudding", 16000)
    celsius = Decimal(60) if mode == "hot" else Decimal(4)
    return batch.lot, hand.shop.tubs.open_tub(batch.lot, mode, 8000, celsius).tub  # type: ignore[arg-type]


def test_a_clock_behind_the_last_check_asks_for_another(hand: ShopInHand) -> None:
    _, tub = hand.pudding()
    hand.clock.set("2026-11-24 10:00")
    hand.shop.tubs.check_tub(tub, Decimal(4))
    hand.clock.set("2026-11-24 08:00")
    with pytest.raises(NotSafe) as refused:
        hand.sell("cup-small")
    assert str(refused.value) == (
        f"Cannot sell cup-small: tub {tub} was measured on 2026-11-24 at 10:00, and the clock "
        "says 08:00. Set the clock right and measure the tub now, or take it away."
    )
    hand.shop.tubs.check_tub(tub, Decimal(4))
    assert hand.sell("cup-small").lines
    hand.clock.set("2026-11-24 12:01")  # four hours from the new measuring, not the old one
    with pytest.raises(NotSafe, match="no temperature check since 08:00"):
        hand.sell("cup-small")


def test_a_check_after_a_clock_set_back_heals_no_failed_tub(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-24 10:00")
    _, tub = hand.pudding()
    hand.shop.tubs.check_tub(tub, Decimal(9))
    hand.clock.set("2026-11-24 08:00")
    hand.shop.tubs.check_tub(tub, Decimal(4))
    with pytest.raises(NotSafe):
        hand.sell("cup-small")
    hand.clock.set("2026-11-24 10:01")
    with pytest.raises(NotSafe, match="measured 9 °C"):
        hand.sell("cup-small")


def test_what_was_scooped_before_the_last_check_is_noted_late(hand: ShopInHand) -> None:
    _, tub = hand.pudding()
    hand.clock.set("2026-11-24 07:00")
    hand.shop.tubs.check_tub(tub, Decimal(4))
    slip = Slip((SlipItem("cup-small"),))
    assert hand.shop.counter.sell(slip, [Tender("card")], at("2026-11-24 06:00")).lines


# -- the law behind it

STEP = st.tuples(
    st.sampled_from(["open", "cups", "check", "end", "hours", "night", "close"]),
    st.integers(0, 12), st.sampled_from(["hot", "cold", "time"]), st.booleans(),
)  # fmt: skip


def play(hand: ShopInHand, lot: str, step: tuple[str, int, str, bool]) -> None:
    what, n, mode, yes = step
    shop = hand.shop
    tubs = shop.desk.ledger().open_tubs()
    earlier = hand.clock.moment - timedelta(minutes=90) if not yes else None
    if what == "hours":
        hand.clock.forward(minutes=25 * n)
    elif what == "night":
        hand.clock.set(f"{date.fromordinal(shop.desk.today().toordinal() + 1)} 03:01")
    elif what == "close":
        shop.evening.close_day(day=shop.closings.open_days()[0])
    elif what == "open":
        celsius = Decimal(60) if mode == "hot" else Decimal(4)
        shop.tubs.open_tub(lot, mode, 500 * n or None, celsius, earlier)  # type: ignore[arg-type]
    elif what == "cups":
        hand.sell(f"cup-small*{n + 1}")
    elif what == "check":
        shop.tubs.check_tub(tubs[n % len(tubs)].tub, Decimal(4 if yes else 60))
    else:
        shop.tubs.end_tub(tubs[n % len(tubs)].tub, 300 * n, yes)


@examples(80)
@given(st.lists(STEP, min_size=4, max_size=25))
def test_nothing_is_scooped_from_a_warm_tub_of_another_day(
    steps: list[tuple[str, int, str, bool]],
) -> None:
    clock = Clock()
    hand = ShopInHand(Shop.memory(parse_settings(SETTINGS), clock), clock)
    hand.shop.products.load_catalogue(CATALOGUE)
    lot = hand.batch("pudding", 20000).lot
    for step in steps:
        try:
            play(hand, lot, step)
        except (CounterError, IndexError, ZeroDivisionError):
            continue
        ledger = hand.shop.desk.standing()
        for sale in ledger.sales.values():
            for draw in (d for line in sale.lines for d in line.draws):
                tub = ledger.tubs[draw.tub]
                opened = hand.shop.desk.day_of(tub.opened)
                assert tub.mode == "cold" or opened == hand.shop.desk.day_of(sale.at)
        fresh = Shop(Desk(hand.shop.desk.books, hand.shop.desk.settings, clock)).desk.standing()
        assert ledger.tubs == fresh.tubs
        assert [r.on_hand for r in ledger.rows.values()] == [
            r.on_hand for r in fresh.rows.values()
        ]  # fmt: skip
    for day in hand.shop.closings.open_days():
        assert all(n.balances for n in hand.shop.evening.close_day(day=day).lots)
