"""What can hardly be is a question, and what can be is none: thresholds and sentences.

Common practice, no source, but for cooling: FDA Food Code 3-501.14 and 3-501.16.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from msgspec.structs import replace

from counter.trade import doubts
from counter.trade.asking import Question
from counter.trade.catalogue import Part, Product, Range
from counter.trade.cooling import Cooling
from counter.trade.dates import DateMark
from counter.trade.payments import Payment
from counter.trade.production import Batch, Cook
from counter.trade.stock import Lot, LotRow
from labels.units import parse_measure
from tests.conftest import ZONE

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=ZONE)
MARK = DateMark("best-by", date(2026, 11, 28), None, "")
FIRM = Product(
    "firm", "Firm", "piece", 5, mould=48, recipe=(Part("soybeans", Decimal(1000)),),
    recipe_makes=8, usual={"brix": Range(Decimal(10), Decimal(13))},
)  # fmt: skip


def batch(made: int = 48, **more: object) -> Batch:
    known: dict[str, object] = {"cook": Cook(minutes=10), **more}
    return Batch(
        lot="26328-01", product="firm", unit="piece", made=made, at=NOON, mark=MARK, **known
    )  # type: ignore[arg-type]


def asked(questions: list[Question]) -> dict[str, str]:
    return {q.about: q.text for q in questions}


LAST = [batch(made) for made in (96, 48, 96)]


@pytest.mark.parametrize(
    ("value", "usual", "far"),
    [
        (960, 96, True),  # a zero too many
        (760, 95, True),  # of a figure that is a fifth below the usual
        (480, 96, False),  # five times: a feast
        (9, 96, True),  # a zero too few
        (13, 96, False),
        (0, 96, False),  # nothing is left out, not far off
        (960, 0, False),  # nothing is usual
        (960, None, False),
    ],
)
def test_ten_times_and_a_tenth_are_far_off(value: int, usual: int | None, far: bool) -> None:
    assert doubts.far_off(value, usual) is far


@pytest.mark.parametrize(
    ("made", "recent", "far"),
    [
        (960, LAST, True),
        (9, LAST, True),
        (9, LAST[:2], False),  # two batches do not say that a small one is a slip
        (480, LAST[1:2], True),  # one says it of a large one
        (900, [], False),
        (960, [], True),  # twenty moulds at once, and none was ever made
    ],
)
def test_the_amount_made_is_held_against_the_last_batches(
    made: int, recent: list[Batch], far: bool
) -> None:
    found = asked(doubts.of_batch(batch(made), FIRM, recent, "log a batch of firm"))
    assert ("made" in found) is far


def test_the_question_names_the_figure_and_what_is_usual() -> None:
    found = asked(doubts.of_batch(batch(960), FIRM, LAST, "log a batch of firm"))
    assert found == {"made": "960 for the amount made of Firm, where about 96 is usual"}


@pytest.mark.parametrize(
    ("about", "more"),
    [
        ("brix", {"brix": Decimal("1.1")}),  # against the middle of the usual range
        ("cook", {"cook": Cook(minutes=100)}),
        ("cook", {"cook": Cook(minutes=1)}),
        ("press", {"press_kpa": Decimal(4130)}),
        ("press-minutes", {"press_minutes": 250}),
        ("amount.soybeans", {"ingredients": (Part("soybeans", Decimal(100_000), "100 kg"),)}),
        ("amount.soybeans", {"ingredients": (Part("soybeans", Decimal(600), "600 g"),)}),
        ("amount.salt", {"ingredients": (Part("salt", Decimal(3000), "3 kg"),)}),  # as last time
    ],
)
def test_ten_times_the_usual_in_any_figure_is_asked(about: str, more: dict[str, object]) -> None:
    salt = (Part("salt", Decimal(300), "300 g"),)
    usual = batch(press_kpa=Decimal(413), press_minutes=25, ingredients=salt)
    found = asked(doubts.of_batch(batch(**more), FIRM, [usual] * 3, "log"))
    assert list(found) == [about]


def test_what_the_recipe_filled_in_is_not_doubted() -> None:
    filled = batch(ingredients=(Part("soybeans", Decimal(100_000)),))
    assert doubts.of_batch(filled, FIRM, LAST, "log") == []


@pytest.mark.parametrize(
    ("minutes", "abouts"),
    [
        ((5, 200), ["cooled-21"]),
        ((60, 65), ["cooled-5"]),
        ((2, 5), ["cooled-21", "cooled-5"]),
        ((11, 22), []),
        ((60, None), []),
    ],
)
def test_cooling_within_ten_minutes_is_asked(
    minutes: tuple[int, int | None], abouts: list[str]
) -> None:
    ended = NOON - timedelta(hours=6)
    warm, cold = (None if m is None else ended + timedelta(minutes=m) for m in minutes)
    assert warm is not None
    one = batch(cook=Cook(minutes=10, celsius=None, ended=ended), cooling=Cooling(warm, cold))
    assert list(asked(doubts.of_cooling(one, "log"))) == abouts


def test_a_tub_is_not_cold_before_its_lot_is() -> None:
    cold = Cooling(NOON - timedelta(hours=2), NOON)
    assert doubts.refuse_not_cold(batch(cooling=cold), NOON, "open it") is None
    early = doubts.refuse_not_cold(batch(cooling=cold), NOON - timedelta(minutes=1), "open it")
    warm = doubts.refuse_not_cold(batch(cooling=Cooling(NOON)), NOON, "open it")
    assert early is not None
    assert warm is not None
    assert str(early) == (
        "Cannot open it: it reached 5 °C / 41 °F only at 12:00. Cool it first, and note in the "
        "production log when it was cold."
    )
    assert (early.lot, "5 °C / 41 °F is not noted" in str(warm)) == ("26328-01", True)


def row(made: int = 48, sold: int = 0) -> LotRow:
    found = LotRow(
        Lot(lot="26328-01", product="firm", unit="piece", mark=MARK, made_on=date(2026, 11, 24))
    )
    found.made = made
    if sold:
        found.sell(sold, NOON)
    return found


@pytest.mark.parametrize(
    ("sold", "counted", "text"),
    [
        (0, 48, ""),
        (0, 3, ""),  # what is missing is variance
        (0, 49, "49 of lot 26328-01 is more than the 48 ever there"),
        (44, 40, "40 of lot 26328-01, where the log has 4"),
        (50, 2, ""),  # oversold: bookkeeping
    ],
)
def test_a_count_above_all_that_was_there_is_asked(sold: int, counted: int, text: str) -> None:
    found = asked(doubts.of_count(row(sold=sold), counted, "count lot 26328-01"))
    assert found == ({"count.26328-01": text} if text else {})


NOTES = (10000, 5000, 2000, 1000, 500, 100, 25)


@pytest.mark.parametrize(
    ("due", "given", "far"),
    [
        (2000, 200_000, True),  # two zeros too many
        (600, 10_000, False),  # the largest note for a cup: it is tapped every day
        (75, 1000, False),
        (600, 20_000, True),
        (9000, 20_000, False),
    ],
)
def test_only_cash_that_nobody_hands_over_is_asked_about(due: int, given: int, far: bool) -> None:
    paid = [Payment(kind="cash", amount=due, given=given), Payment(kind="card", amount=500)]
    assert bool(doubts.of_tender(paid, NOTES, 2, 600)) is far


@pytest.mark.parametrize(
    ("kind", "amount", "far"),
    [
        ("float", 150_000, True), ("float", 1500, True), ("float", 20_000, False),
        ("in", 150_000, True), ("in", 500, False), ("out", 150_000, False),
    ],
)  # fmt: skip
def test_a_start_ten_times_the_usual_float_is_asked(kind: str, amount: int, far: bool) -> None:
    assert bool(doubts.of_move(kind, amount, usual=15_000, places=2, tried="book it")) is far  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("weights", "far"),
    [
        (["0.42 lb", "0.5 lb", "0.38 lb"], False),
        (["0.42 lb", "4.2 lb"], True),  # of 8 oz
        (["0.04 lb"], True),
        (["5 lb"], True),  # more than was made, 2 kg
    ],
)
def test_a_pack_ten_times_the_others_is_asked(weights: list[str], far: bool) -> None:
    made = Batch(lot="26328-01", product="pressed", unit="g", made=2000, at=NOON, mark=MARK)
    packs = [parse_measure(text) for text in weights]
    assert bool(doubts.of_packs(packs, parse_measure("8 oz"), made, "print")) is far
    assert not doubts.of_packs(packs[:1], None, replace(made, made=10_000), "print")
