"""A line given back piece by piece gives back to the cent what it cost, and its tax with it."""

from __future__ import annotations

from datetime import datetime

import pytest

from counter.trade.refunds import Refund, RefundLine, refund_lines
from counter.trade.sales import Sale, SaleLine
from counter.trade.stock import Draw
from tests.conftest import ZONE

NOON = datetime(2026, 11, 24, 12, tzinfo=ZONE)
LOTS = (Draw(lot="26328-01", amount=2), Draw(lot="26328-02", amount=1))


def sale(*, included: bool) -> Sale:
    """Three pieces of two lots for 10.00, tax 0.88 on it or in it."""
    line = SaleLine(
        portion="block", product="firm", name="Firm", quantity=3, draws=LOTS, price=1000, tax=88
    )
    total = 1000 if included else 1088
    return Sale(
        number="2026-11-24/0001",
        at=NOON,
        lines=(line,),
        taxes=(),
        total=total,
        payments=(),
        included=included,
    )


def refund(line: RefundLine) -> Refund:
    return Refund(
        number="1",
        sale="2026-11-24/0001",
        lines=(line,),
        amount=line.amount,
        kind="cash",
        why="sour",
        at=NOON,
    )


# A third of 10.88 is 362.67 cents, two thirds are 725.33; of 0.88 they are 29.33 and 58.67.
@pytest.mark.parametrize(
    ("included", "steps", "amounts", "taxes"),
    [
        (False, (1, 1, 1), (363, 362, 363), (29, 30, 29)),
        (False, (1, 2), (363, 725), (29, 59)),
        (False, (2, 1), (725, 363), (59, 29)),
        (False, (3,), (1088,), (88,)),
        (True, (1, 1, 1), (333, 334, 333), (29, 30, 29)),
        (True, (2, 1), (667, 333), (59, 29)),
    ],
)
def test_a_part_refund_is_right_to_the_cent(
    included: bool, steps: tuple[int, ...], amounts: tuple[int, ...], taxes: tuple[int, ...]
) -> None:
    sold, done = sale(included=included), list[RefundLine]()
    for quantity in steps:
        [line] = refund_lines(sold, [refund(line) for line in done], {1: quantity})
        assert sum(draw.amount for draw in line.draws) == quantity
        done.append(line)
    assert tuple(line.amount for line in done) == amounts
    assert tuple(line.tax for line in done) == taxes
    assert sum(amounts) == sold.total
    back = [draw for line in done for draw in line.draws]
    assert {d.lot: sum(o.amount for o in back if o.lot == d.lot) for d in LOTS} == {
        draw.lot: draw.amount for draw in LOTS
    }
