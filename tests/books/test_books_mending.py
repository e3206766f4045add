"""What is taken from copies: laws over random books, of which lines are lost."""

from __future__ import annotations

import random
from datetime import UTC, datetime

import pytest

from counter.books.lines import ORIGIN, Line, Types, link_of
from counter.books.mend import Kept, bring_back

AT = datetime(2026, 11, 24, tzinfo=UTC)


def chain(before: list[Line], count: int, word: str) -> list[Line]:
    """Lines, and ``count`` more that go on from them."""
    lines = list(before)
    for n in range(len(lines) + 1, len(lines) + 1 + count):
        body = Types().write(n, "2026-11-24", n, AT, {"notes": [{"word": f"{word} {n}"}]})
        link = link_of(body, lines[-1].link if lines else ORIGIN)
        lines.append(Line(n, "2026-11-24", n, link, body))
    return lines


def kept(lines: list[Line]) -> Kept:
    found = Kept()
    for line in lines:
        found.add(line.n, line.link, line.body)
    return found


@pytest.mark.parametrize("same", [True, False])
def test_no_copy_takes_the_place_of_a_line_that_the_shop_has(same: bool) -> None:
    """Neither an older one of this shop, nor one of a computer that wrote on otherwise."""
    filled = 0
    for seed in range(400):
        dice = random.Random(seed)
        begun = chain([], dice.randint(1, 8), "both")
        ours = chain(begun, dice.randint(0, 8), "ours")
        copied = ours[: dice.randint(0, len(ours))] if same else chain(begun, 12, "theirs")
        own = kept([line for line in ours if dice.random() < 0.75])
        copies = kept([line for line in copied if not same or dice.random() < 0.9])
        last = (ours[-1].n, ours[-1].link)
        found = {n: brought.line for n, brought in bring_back(own, copies, last)}
        for line in ours:
            there, known = found[line.n], line.n <= own.top  # behind all of ours nobody can tell
            assert there == line or (not there and line.n not in own.lines) or not known, seed
            filled += line.n not in own.lines and there == line
        assert same is False or len(found) == len(ours)
    assert filled > 50
