"""Notes from paper, entered in any order into days that are still open, never break the books."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from counter.errors import CounterError
from counter.shop import Shop
from counter.shop.desk import Desk
from counter.shop.production import BatchNote
from counter.trade.payments import Tender
from counter.trade.sales import Kept, Slip
from counter.trade.settings import parse_settings
from tests.conftest import CATALOGUE, SETTINGS, Clock
from tests.often import examples

DAYS = (24, 25, 26)
WHEN = st.builds(
    "2026-11-{} {:02d}:{:02d}".format, st.sampled_from(DAYS), st.integers(3, 19), st.integers(0, 59)
)
STEP = st.tuples(
    st.sampled_from(["batch", "pudding", "sell", "cups", "waste", "count", "end", "check", "refund", "smoke", "stop", "kept"]),
    WHEN, st.integers(0, 4), st.booleans(),
)  # fmt: skip


def cold_note(made: int, at: datetime) -> BatchNote:
    """A batch that was cold when it was noted."""
    cooked, warm, cold = ((at - timedelta(minutes=m)).time() for m in (90, 60, 20))
    return BatchNote(made=made, boiled_minutes=10, cook_ended=cooked, cooled=(warm, cold))


def note(shop: Shop, what: str, at: datetime, n: int, yes: bool) -> None:
    ledger = shop.desk.ledger(shop.desk.day_of(at))
    lots, tubs, sales = list(ledger.rows), list(ledger.tubs), list(ledger.sales)
    lot = lots[n % len(lots)] if lots else "26328-01"
    tub = tubs[n % len(tubs)] if tubs else "26328-01/1"
    if what == "batch":
        product = "firm" if yes else "pulp"
        shop.production.log_batch(product, BatchNote(made=n + 1, boiled_minutes=10), at)
    elif what == "pudding":
        made = shop.production.log_batch("pudding", cold_note(8000, at), at)
        shop.tubs.open_tub(made.lot, "cold" if yes else "time", 4000, Decimal(4), at)
    elif what == "smoke":
        shop.production.log_batch("smoked", BatchNote(made=n + 1, mixed=((lot, n + 1),)), at)
    elif what in ("sell", "cups"):
        item = {"sell": ("firm-block", "pulp"), "cups": ("cup-small", "cup-large")}[what][yes]
        slip = Slip((shop.counter.read_item(f"{item}*{n + 1}", at),))
        shop.counter.sell(slip, [Tender("cash", 100_000)], at)
    elif what == "kept":
        slip = Slip(
            (shop.counter.read_item(f"{'cup-small' if yes else 'pulp'}*{n + 1}"),), key=f"{at} {n}"
        )
        kept = Kept(paid=at, day=shop.desk.day_of(at), booked=at)
        shop.payments.sell_kept(slip, [Tender("cash", 100_000)], kept)
    elif what == "waste":
        shop.waste.throw_away(lot, n + 1, "broken", at=at)
    elif what == "count":
        shop.evening.count(lot, n, at)
    elif what == "end":
        shop.tubs.end_tub(tub, 100 * n, yes, at)
    elif what == "check":
        shop.tubs.check_tub(tub, Decimal(4 if yes else 12), at)
    elif what == "refund":
        shop.counter.refund(sales[n % max(1, len(sales))], "sour", {1: 1}, restock=yes, at=at)
    else:
        shop.holds.hold(lot, yes, "to be looked at", at)


@examples(150)
@given(st.lists(STEP, min_size=2, max_size=25))
def test_days_left_open_take_notes_in_any_order_and_close_in_balance(
    steps: list[tuple[str, str, int, bool]],
) -> None:
    clock = Clock("2026-11-26 20:00")
    shop = Shop.memory(parse_settings(SETTINGS), clock)
    shop.products.load_catalogue(CATALOGUE)
    shop.desk.questions.given = {"late": "from the paper of that day"}
    early = Clock("2026-11-24 03:00").moment  # a lot and a tub that end within these days
    shop.production.log_batch("pulp", BatchNote(made=3, boiled_minutes=10), early)
    pudding = shop.production.log_batch("pudding", cold_note(4000, early), early)
    shop.tubs.open_tub(pudding.lot, "cold", 1000, Decimal(4), early)
    for what, when, n, yes in steps:
        try:
            note(shop, what, Clock(when).moment, n, yes)
        except (CounterError, IndexError):
            continue
        today = shop.desk.ledger()  # every day after it can still be told
        fresh = Shop(Desk(shop.desk.books, shop.desk.settings, clock)).desk.ledger()
        assert {k: vars(r) for k, r in today.rows.items()} == {
            k: vars(r) for k, r in fresh.rows.items()
        }
        assert today.tubs == fresh.tubs
        shop.counter.shelf()
    carried: dict[str, int] = {}
    cash = 15000
    for day in (date(2026, 11, d) for d in DAYS):
        if day not in shop.desk.books.days():
            continue
        closing = shop.evening.close_day(day=day)
        assert all(
            lot.balances and lot.carried_in == carried.get(lot.lot, 0) for lot in closing.lots
        )
        assert closing.cash.start == cash
        carried = {c.lot.lot: c.amount for c in closing.carried}
        cash = closing.cash.left
        shop.counter.shelf()
    assert shop.audit.check().sound
