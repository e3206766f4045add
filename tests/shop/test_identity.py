"""For every lot, always: made + carried in = sold + used + wasted + carried out + variance."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from counter.errors import CounterError
from counter.shop import Shop
from counter.shop.desk import Desk
from counter.trade.closing import Closing
from counter.trade.settings import parse_settings
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand
from tests.often import examples

STEP = st.one_of(
    st.tuples(st.just("batch"), st.sampled_from(["firm", "soft", "milk"]), st.integers(1, 60)),
    st.tuples(st.just("smoke"), st.integers(1, 30), st.integers(1, 20)),
    st.tuples(st.just("pudding"), st.integers(1000, 20000), st.sampled_from(["hot", "cold", "time"])),
    st.tuples(st.just("sell"), st.sampled_from(
        ["firm-block", "soft-block", "milk", "cup-small", "cup-large+ginger"]), st.integers(1, 9)),
    st.tuples(st.just("refund"), st.integers(0, 9), st.booleans()),
    st.tuples(st.just("waste"), st.integers(0, 9), st.integers(1, 20)),
    st.tuples(st.just("count"), st.integers(0, 9), st.integers(0, 60)),
    st.tuples(st.just("end tub"), st.integers(0, 9000), st.booleans()),
    st.tuples(st.just("stop"), st.integers(0, 9), st.booleans()),
    st.tuples(st.just("cash"), st.sampled_from(["in", "out", "float"]), st.integers(1, 30000)),
    st.tuples(st.just("later"), st.integers(1, 300), st.just(0)),
    st.tuples(st.just("close"), st.booleans(), st.integers(-500, 500)),
)  # fmt: skip


def play(hand: ShopInHand, step: tuple[str, object, object]) -> Closing | None:
    """Try one thing; a refusal is as good as a deed, as long as nothing of it is left."""
    what, a, b = step
    shop, lots = hand.shop, list(hand.shop.desk.ledger().rows)
    lot = lots[int(a) % len(lots)] if lots and isinstance(a, int) else ""
    if what == "batch":
        hand.batch(str(a), int(b))  # type: ignore[call-overload]
    elif what == "smoke":
        firm = next((k for k, r in shop.desk.ledger().rows.items() if r.lot.product == "firm"), "")
        hand.batch("smoked", int(a), boiled_minutes=None, mixed=((firm, int(b)),))  # type: ignore[call-overload]
    elif what == "pudding":
        batch = hand.hot(made=int(a)) if b == "hot" else hand.batch("pudding", int(a))  # type: ignore[call-overload]
        shop.tubs.open_tub(batch.lot, b, None, Decimal(60) if b == "hot" else Decimal(4))  # type: ignore[arg-type]
    elif what == "sell":
        hand.sell(f"{a}*{b}", cash=100000)
    elif what == "refund":
        sale = list(shop.desk.ledger().sales)[int(a) % max(1, len(shop.desk.ledger().sales))]  # type: ignore[call-overload]
        shop.counter.refund(sale, "sour", {1: 1}, restock=bool(b))
    elif what == "waste":
        shop.waste.throw_away(lot, int(b), "broken")  # type: ignore[call-overload]
    elif what == "count":
        shop.evening.count(lot, int(b))  # type: ignore[call-overload]
    elif what == "end tub":
        tub = next(iter(shop.desk.ledger().open_tubs()))
        shop.tubs.end_tub(tub.tub, int(a), bool(b))  # type: ignore[call-overload]
    elif what == "stop":
        shop.holds.hold(lot, bool(b), "to be looked at")
    elif what == "cash":
        shop.evening.move_cash(str(a), int(b), "because")  # type: ignore[arg-type, call-overload]
    elif what == "later":
        hand.clock.forward(minutes=int(a))  # type: ignore[call-overload]
    else:
        expected = shop.desk.ledger().drawer.expected
        closing = shop.evening.close_day(cash=max(0, expected + int(b)) if a else None)  # type: ignore[call-overload]
        hand.clock.forward(hours=24)
        return closing
    return None


@examples(120)
@given(st.lists(STEP, min_size=5, max_size=40))
def test_nothing_appears_or_vanishes_over_random_days(
    steps: list[tuple[str, object, object]],
) -> None:
    clock = Clock("2026-11-24 06:00")
    hand = ShopInHand(Shop.memory(parse_settings(SETTINGS), clock), clock)
    hand.shop.products.load_catalogue(CATALOGUE)
    closings: list[Closing] = []
    for step in [*steps, ("close", True, 0)]:
        before = hand.shop.desk.books.head(str(hand.shop.desk.today()))
        try:
            closing = play(hand, step)  # type: ignore[arg-type]
        except (CounterError, StopIteration, IndexError):
            assert hand.shop.desk.books.head(str(hand.shop.desk.today())) == before
            continue
        if closing:
            closings.append(closing)
    carried: dict[str, int] = {}
    cash = 15000
    for closing in closings:
        assert all(lot.balances for lot in closing.lots), closing.lots
        for lot in closing.lots:
            assert lot.carried_in == carried.get(lot.lot, 0)
            assert lot.carried_out >= 0
        carried = {c.lot.lot: c.amount for c in closing.carried}
        assert carried == {lot.lot: lot.carried_out for lot in closing.lots if lot.lot in carried}
        assert all(n.carried_out == 0 for n in closing.lots if n.lot not in carried)
        moved = closing.cash.moved_in - closing.cash.moved_out
        flow = closing.cash.sales - closing.cash.refunds
        assert closing.cash.expected == closing.cash.start + moved + flow
        assert closing.cash.start == cash or any(s[0] == "cash" and s[1] == "float" for s in steps)
        cash = closing.cash.left
        assert sum(closing.payments.values()) == closing.total + sum(
            s.rounding
            for commit in hand.shop.desk.records_of(closing.day)
            for s in commit.get("sales", [])  # type: ignore[misc]
        )
    assert not hand.shop.audit.check().findings


@examples(40)
@given(st.lists(STEP, min_size=5, max_size=30))
def test_a_ledger_folded_bit_by_bit_is_the_one_folded_at_once(
    steps: list[tuple[str, object, object]],
) -> None:
    clock = Clock("2026-11-24 06:00")
    hand = ShopInHand(Shop.memory(parse_settings(SETTINGS), clock), clock)
    hand.shop.products.load_catalogue(CATALOGUE)
    for step in steps:
        try:
            play(hand, step)  # type: ignore[arg-type]
        except (CounterError, StopIteration, IndexError):
            continue
    fresh = Shop(Desk(hand.shop.desk.books, hand.shop.desk.settings, clock))
    ours, theirs = hand.shop.desk.ledger(), fresh.desk.ledger()
    for lot, row in ours.rows.items():
        assert vars(row) == vars(theirs.rows[lot])
    assert ours.tubs == theirs.tubs
    assert vars(ours.drawer) == vars(theirs.drawer)
    assert (ours.sales, ours.refunds) == (theirs.sales, theirs.refunds)
