"""What was thrown away, tasted or given away, with the reason."""

from __future__ import annotations

from datetime import datetime
from typing import Literal, get_args

import msgspec

from counter.errors import BadInput

Reason = Literal[
    "date", "broken", "scooping", "tasting", "given", "time", "temperature", "unmeasured",
    "stopped", "other",
]  # fmt: skip
REASONS: tuple[str, ...] = get_args(Reason)
WORDS = {
    "date": "past its date",
    "broken": "broken",
    "scooping": "scooping loss",
    "tasting": "tasting",
    "given": "given away",
    "time": "past its time at the counter",
    "temperature": "out of its temperature",
    "unmeasured": "its temperature not measured",
    "stopped": "stopped lot",
    "other": "other",
}


class Waste(msgspec.Struct, frozen=True):
    """So much of a lot that is gone; ``amount`` in the lot's unit. ``other`` says it in words."""

    lot: str
    amount: int
    reason: Reason
    at: datetime
    words: str = ""
    tub: str = ""
    by: str = ""


def parse_reason(text: str) -> tuple[Reason, str]:
    """A known reason, or ``other`` with the words themselves.

    >>> parse_reason("broken")
    ('broken', '')
    >>> parse_reason("dropped by the delivery")
    ('other', 'dropped by the delivery')
    """
    word = " ".join(text.split())
    if not word:
        raise BadInput(
            "note waste", "it has no reason", f"Say why: {', '.join(REASONS[:-1])}, or in words"
        )
    for reason in get_args(Reason):
        if word.lower() in (reason, WORDS[reason]) and reason != "other":
            return reason, ""
    if word.lower() == "other":
        raise BadInput("note waste", "'other' says nothing", "Say why in words")
    return "other", word[:200]
