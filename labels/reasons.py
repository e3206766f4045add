"""Why a label says what it says: every statement with its rule, and its height on this label."""

from __future__ import annotations

from pathlib import Path

import msgspec

from labels.blanks import Blank
from labels.errors import DoesNotFit
from labels.facts import Facts
from labels.fonts import MM
from labels.layout import lay_out
from labels.placed import Label
from labels.rules import Statement, statements
from labels.rules.eu_list import unlisted_water
from labels.rules.listing import unlisted_aids
from labels.rules.statement import absent
from labels.say import Said, say


class Explained(msgspec.Struct, frozen=True, kw_only=True):
    """One row. Heights in millimetres on the outline of ``glyph``; ``height_mm`` is None where
    the statement is absent, or no label was laid out. ``answer``: the row is a question that a
    person is asked, and this is what was said."""

    key: str
    text: str
    clause: str
    placement: str
    glyph: str
    least_mm: float
    height_mm: float | None
    why_absent: Said
    answer: str = ""


def unlisted(key: str, clause: str, why: Said) -> Explained:
    """A row of something that is in no statement, and why."""
    return _row(absent(key, clause, why), None)


def asked(text: str, clause: str, answer: str) -> Explained:
    """A row of a question about the label, and its answer."""
    row = _row(Statement(key="question", clause=clause), None)
    return msgspec.structs.replace(row, text=text, answer=answer, glyph="")


def explain(
    facts: Facts,
    market: str,
    blank: Blank | None = None,
    *,
    language: str = "en",
    second_face: str | Path | None = None,
) -> list[Explained]:
    """A row for each statement of ``market``, in the order of the rule set.

    Without a ``blank``, or when the label does not fit it, heights are None. Raises what the rules
    raise: MissingFact, BadValue.
    """
    label = None
    if blank is not None:
        try:
            label = lay_out(
                facts, market=market, blank=blank, language=language, second_face=second_face
            )
        except DoesNotFit:
            label = None
    said = label.statements if label else statements(facts, market, language=language)
    return [_row(statement, label) for statement in said] + _left_out(facts, market)


def _left_out(facts: Facts, market: str) -> list[Explained]:
    """What went in and stands in no list: processing aids, and in the EU a little added water."""
    if market not in ("us", "eu"):
        return []
    law, found = "21 CFR 101.100(a)(3)(ii); EU 1169/2011 Art. 20(b)", []
    for name in unlisted_aids(facts.ingredients, market):
        found.append(unlisted("ingredients", law, say("{name} is a processing aid", name=name)))
    for name in unlisted_water(facts) if market == "eu" else ():
        why = say("{name} is at most 5 % of the finished food", name=name)
        found.append(unlisted("ingredients", "EU 1169/2011 Annex VII A 1(b)", why))
    return found


def _row(statement: Statement, label: Label | None) -> Explained:
    height = height_on(label, statement) if label else None
    return Explained(
        key=statement.key,
        text=statement.text,
        clause=statement.clause,
        placement=statement.placement,
        glyph=statement.glyph,
        least_mm=round(statement.least_mm, 4),
        height_mm=None if height is None else round(height, 4),
        why_absent=statement.why_absent,
    )


def height_on(label: Label, statement: Statement) -> float | None:
    """The least height in mm, on the statement's glyph, of what a label sets of it.

    Of a statement with a part that stands out, only this part if the law speaks of figures.
    """
    texts = [text for text in label.texts if text.statement == statement.key]
    if statement.glyph == "1":
        texts = [text for text in texts if any(character.isdigit() for character in text.text)]
    heights = [text.size * text.face.height(statement.glyph) / MM for text in texts]
    return min(heights, default=None)
