"""What the program asks once before it believes it, and what was answered.

A figure that can hardly be, a day that was skipped, a claim on a label: it stops nobody, and nobody
passes it over in silence. The question is put, a person answers it with a word, and question,
answer, person and moment are kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

import msgspec

from counter.errors import Asked
from labels.say import NOTHING, Said, join

LONGEST = 200


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """Something that a person must say before it is written down.

    ``about`` names it in a word or a path (``made``, ``label.firm.claim``), by which it is
    answered; ``tried`` and ``text`` are the first two parts of a refusal. ``clause`` is the law or
    the rule it comes from. ``basis`` is what it rests on: a kept answer holds while that is so.
    """

    about: str
    tried: Said
    text: Said
    clause: str = ""
    basis: str = ""


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """What a person said to a question, in whose words and when; ``tried`` is what he wanted."""

    about: str
    asked: Said
    words: str
    at: datetime
    by: str = ""
    basis: str = ""
    tried: Said = NOTHING

    @property
    def of(self) -> Said:
        """What was asked, with what it was asked of."""
        return join(": ", (part for part in (self.tried, self.asked) if part))


class Answers(msgspec.Struct, frozen=True, kw_only=True):
    """All answers that go on to hold, by what they are about; the last record counts."""

    answers: dict[str, Answer]
    at: datetime
    by: str = ""


def answered(
    questions: Iterable[Question], given: Mapping[str, str], at: datetime, by: str
) -> list[Answer]:
    """The answers to questions out of the words ``given``, by what they are about.

    Raises Asked with every question that has none: a word of two characters at least.
    """
    once = {q.about: q for q in questions}.values()
    words = {q.about: " ".join(given.get(q.about, "").split())[:LONGEST] for q in once}
    left = tuple(q for q in once if len(words[q.about]) < 2)
    if left:
        raise Asked(left[0].tried, left)
    return [
        Answer(
            about=q.about,
            asked=q.text,
            words=words[q.about],
            at=at,
            by=by,
            basis=q.basis,
            tried=q.tried,
        )
        for q in once
    ]


def still_open(questions: Sequence[Question], known: Mapping[str, Answer]) -> list[Question]:
    """Those of the questions that nobody has answered as things stand now."""
    return [q for q in questions if q.about not in known or known[q.about].basis != q.basis]
