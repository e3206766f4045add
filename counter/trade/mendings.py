"""What a mending of the books says: what was lost, and what is known of it.

A line that could not be brought back is not passed over: in its place stands a line that says so.
So numbers go on without a gap, and every line behind it is, byte for byte, what it was.
"""

from __future__ import annotations

from datetime import datetime

import msgspec

from counter.trade.numbers import Least
from labels.say import Said, join, say, say_n


class Lost(msgspec.Struct, frozen=True, kw_only=True):
    """A line that is lost, in its place. ``at`` is when the books were mended, ``since`` and
    ``until`` when the lines around it were entered; ``names`` are the lots, numbers and keys that
    the indices still said of it. ``behind`` is the link that the line behind it had before: with it
    the links of old can be worked out, and compared with a seal on paper."""

    at: datetime
    since: datetime | None = None
    until: datetime | None = None
    names: tuple[str, ...] = ()
    behind: str = ""


class Mending(msgspec.Struct, frozen=True, kw_only=True):
    """One mending: when, by whom, and what became of the lines of the shop, by their numbers in it.

    ``kept`` is the damaged file as it was set aside. ``lost`` lines are gone, ``filled`` ones were
    taken from ``copy``, ``unproved`` ones read whole, but the line before them is lost, so nothing
    proves them. ``least`` are the numbers behind which those of an open day go on, since some that
    are out may be lost. ``made_up`` are lots and tubs of which little but the name is known: they
    stand in the books, and are not for sale. ``told`` says of each lost line where it stood, when
    it was entered, and what it spoke of, as far as that is known. ``mark`` is what tells this shop
    from others, where the line that it comes from is lost, in this mending or before.
    """

    at: datetime
    by: str = ""
    kept: str = ""
    lines: int = 0
    lost: tuple[int, ...] = ()
    unproved: tuple[int, ...] = ()
    filled: tuple[int, ...] = ()
    copy: str = ""
    least: dict[str, Least] = {}
    made_up: tuple[str, ...] = ()
    told: tuple[Said, ...] = ()
    mark: str = ""

    @property
    def said(self) -> Said:
        """What was done, in one sentence."""
        parts = [say_n("{n} line was brought back", "{n} lines were brought back", n=self.lines)]
        if n := len(self.filled):
            parts.append(
                say("{n} of them came from the copy ({spans})", n=n, spans=spans(self.filled))
            )
        if n := len(self.unproved):
            parts.append(
                say(
                    "{n} of them are not proved by a link ({spans})",
                    n=n,
                    spans=spans(self.unproved),
                )
            )
        lost = say("none is lost")
        if n := len(self.lost):
            lost = say_n(
                "{n} is lost ({spans})", "{n} are lost ({spans})", n=n, spans=spans(self.lost)
            )
        parts.append(lost)
        return say(
            "{done}. The damaged file is kept as {file}.", done=join("; ", parts), file=self.kept
        )


def spans(numbers: tuple[int, ...]) -> str:
    """Numbers as people write them.

    >>> spans((3, 4, 5, 9))
    '3-5, 9'
    """
    found: list[list[int]] = []
    for n in numbers:
        if found and found[-1][1] == n - 1:
            found[-1][1] = n
        else:
            found.append([n, n])
    said = [f"{a}" if a == b else f"{a}-{b}" for a, b in found[:12]]
    return ", ".join([*said, "..."] if len(found) > 12 else said)
