"""What was thrown away, tasted or given away, with the reason."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Literal, NamedTuple, assert_never, get_args

import msgspec

from counter.errors import BadInput
from labels.say import NOTHING, Said, say, term

Reason = Literal[
    "date",
    "broken",
    "scooping",
    "tasting",
    "given",
    "time",
    "temperature",
    "unmeasured",
    "stopped",
    "other",
]
REASONS: tuple[Reason, ...] = get_args(Reason)


class About(NamedTuple):
    """What a reason means: ``left_over`` food was not wanted, ``all_of_it`` leaves nothing of the
    lot, ``unsafe`` food is looked into on its own."""

    words: Said
    left_over: bool = False
    all_of_it: bool = False
    unsafe: bool = False


def about(reason: Reason) -> About:
    """What a reason means, whatever asks for it."""
    match reason:
        case "date":
            return About(term("past its date"), left_over=True, all_of_it=True)
        case "broken":
            return About(term("broken"))
        case "scooping":
            return About(term("scooping loss"))
        case "tasting":
            return About(term("tasting"))
        case "given":
            return About(term("given away"))
        case "time":
            return About(term("past its time at the counter"), left_over=True)
        case "temperature":
            return About(term("out of its temperature"), left_over=True, unsafe=True)
        case "unmeasured":
            return About(term("its temperature not measured"), left_over=True)
        case "stopped":
            return About(term("stopped lot"), all_of_it=True, unsafe=True)
        case "other":
            return About(term("other"))
        case _:
            assert_never(reason)


WORDS: Mapping[str, Said] = {reason: about(reason).words for reason in REASONS}


class Waste(msgspec.Struct, frozen=True, kw_only=True):
    """So much of a lot that is gone; ``amount`` in the lot's unit. ``other`` says it in words."""

    lot: str
    amount: int
    reason: Reason
    at: datetime
    words: Said = NOTHING
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
        do = say("Say why: {names}, or in words", names=", ".join(REASONS[:-1]))
        raise BadInput(say("note waste"), say("it has no reason"), do)
    for reason in REASONS:
        if word.lower() in (reason, WORDS[reason]) and reason != "other":
            return reason, ""
    if word.lower() == "other":
        raise BadInput(say("note waste"), say("'other' says nothing"), say("Say why in words"))
    return "other", word[:200]
