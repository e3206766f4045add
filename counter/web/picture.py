"""The shelf as a picture: where each block stands. Figures only; the template draws them."""

from __future__ import annotations

import msgspec

from counter.trade.shelf import ShelfLot, ShelfProduct

# (up to so many blocks in a row, blocks in a column, side of a square, step to the next one)
SIZES = ((80, 5, 10, 12), (200, 6, 7, 9), (1_000_000_000, 10, 5, 6))


class Stack(msgspec.Struct, frozen=True):
    """One square a block, in columns from the front, the last maybe short; ``path`` draws them."""

    width: int
    height: int
    path: str


def stack_of(blocks: int, in_row: int) -> Stack:
    """One lot's blocks from the front; the more stand in the row, the smaller they are drawn.

    >>> stack_of(2, 2)
    Stack(width=12, height=60, path='M0 50h10v10h-10zM0 38h10v10h-10z')
    """
    _, high, side, step = next(size for size in SIZES if in_row <= size[0])
    blocks = max(blocks, 0)
    columns = max(1, -(-blocks // high))
    height = high * step
    path = "".join(
        f"M{i // high * step} {height - side - i % high * step}h{side}v{side}h-{side}z"
        for i in range(blocks)
    )
    return Stack(columns * step, height, path)


def in_row(product: ShelfProduct) -> int:
    """How many blocks stand in a row of the shelf."""
    return sum(max(lot.amount, 0) for lot in product.lots)


def share(amount: int, whole: int) -> int:
    """How full something is, 0 to 100."""
    return max(0, min(100, round(100 * amount / whole))) if whole > 0 else 0


def standing_behind(product: ShelfProduct, lot: ShelfLot) -> int:
    """What of a lot is not in an open tub."""
    return max(0, lot.amount - sum(tub.level for tub in product.tubs if tub.lot == lot.lot))
