"""Code 128: text to symbol characters, as few as can be, and these to bars.

ISO/IEC 15417. Code set A holds capitals and control characters, B capitals and small letters, C
pairs of digits; FNC1 is in all three. Which set is used where is the writer's choice and decides
the width: each symbol character is 11 modules wide.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import cache
from importlib import import_module
from itertools import groupby
from typing import Any

from labels.checks import is_digits

FNC1 = "\xf1"  # stands for the function character in the tables; never a letter of the data
_LATCH = {"A": 101, "B": 100, "C": 99}
_SHIFT = 98
_OTHER = {"A": "B", "B": "A"}
_CHARACTER = 1000  # what a symbol character costs where a change of code set costs 1

Step = tuple[int, str, tuple[int, ...]]  # position and set before, symbol characters in between


@cache
def tables(kind: str = "code128") -> Any:
    """The bar patterns of a kind of symbol; loaded by who draws one, for that takes 10 ms."""
    return import_module(f"barcode.charsets.{kind}")


def character_values(text: str) -> list[int]:
    """The values of the symbol characters from start to check character, as few as possible.

    ``text`` is ASCII, with ``FNC1`` where the function character shall stand. Of ways equally short
    the one that changes its code set least, then the one that prefers C, B, A: the same text always
    gives the same bars.

    >>> character_values("26328-01")
    [105, 26, 32, 100, 24, 13, 16, 17, 47]
    """
    values = _fewest(text)
    check = values[0] + sum(place * value for place, value in enumerate(values[1:], 1))
    return [*values, check % 103]


def bars_of(values: Iterable[int]) -> tuple[int, ...]:
    """Widths in modules, bar, space, bar …, of symbol characters and the stop behind them.

    >>> bars_of([105])[:6], sum(bars_of([105]))
    ((2, 1, 1, 2, 3, 2), 24)
    """
    modules = "".join(tables().CODES[value] for value in values) + tables().STOP + "11"
    return widths(modules)


def widths(modules: str) -> tuple[int, ...]:
    """Run lengths of ``1`` (dark) and ``0`` (light): ``"110100"`` is 2, 1, 1, 2."""
    return tuple(len(list(run)) for _, run in groupby(modules))


def _fewest(text: str) -> list[int]:
    """Shortest path over (position, code set); each step writes one or two symbol characters."""
    cost: list[dict[str, int]] = [{} for _ in range(len(text) + 1)]
    came: list[dict[str, Step]] = [{} for _ in range(len(text) + 1)]
    cost[0] = dict.fromkeys("CBA", 0)
    for at in range(len(text) + 1):
        for now in sorted(cost[at], key=cost[at].__getitem__):
            for to in "CBA" if at else "":
                _reach(cost, came, at, to, (at, now, (_LATCH[to],)))
        for now in cost[at]:
            for size, written in _ways(text, at, now):
                _reach(cost, came, at + size, now, (at, now, written))
    at, now = len(text), min("CBA", key=lambda code_set: cost[-1].get(code_set, math.inf))
    values: list[int] = []
    while now in came[at]:
        at, now, written = came[at][now]
        values[:0] = written
    return [tables().START_CODES[now], *values]


def _reach(
    cost: list[dict[str, int]], came: list[dict[str, Step]], at: int, to: str, step: Step
) -> None:
    before, now, written = step
    changes = to != now or (written[0] == _SHIFT and to != "C")
    total = cost[before][now] + len(written) * _CHARACTER + changes
    if total < cost[at].get(to, total + 1):
        cost[at][to] = total
        came[at][to] = step


def _ways(text: str, at: int, now: str) -> Iterable[tuple[int, tuple[int, ...]]]:
    """What can be written next in code set ``now``: characters used up, values written."""
    if at == len(text):
        return
    if now == "C":
        if text[at] == FNC1:
            yield 1, (tables().C[FNC1],)
        elif at + 2 <= len(text) and is_digits(text[at : at + 2]):
            yield 2, (int(text[at : at + 2]),)
        return
    own, other = getattr(tables(), now), getattr(tables(), _OTHER[now])
    if text[at] in own:
        yield 1, (own[text[at]],)
    elif text[at] in other:
        yield 1, (_SHIFT, other[text[at]])
