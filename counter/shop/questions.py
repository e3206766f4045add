"""What the program asked, what was answered, and what of it goes on to hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from counter.shop.catalogues import Catalogues
from counter.trade.asking import Answer, Answers, Question, answered, still_open


class Questions:
    """Questions and their answers. ``given`` is what whoever is at the desk now has answered, by
    its subject."""

    def __init__(self, catalogues: Catalogues) -> None:
        self.catalogues, self.context = catalogues, catalogues.context
        self.given: Mapping[str, str] = {}

    def answered(self, questions: Sequence[Question], by: str = "") -> list[Answer]:
        """The answers that were given to questions. Asked where one is left open."""
        return answered(questions, self.given, self.context.now(), by) if questions else []

    def confirmed(self) -> Mapping[str, Answer]:
        """The answers that go on to hold, by what they are about."""
        last = self.context.last_of(Answers)
        return last.answers if last else {}

    def confirm(self, questions: Sequence[Question], by: str = "") -> None:
        """Ask what is asked once, until what it rests on changes, and keep what is answered.

        Asked where somebody must answer yet.
        """
        known = self.confirmed()
        if not still_open(questions, known):
            return
        with self.context.books.exclusive():
            new = self.answered(still_open(questions, known), by[:60])
            now, answers = self.context.now(), {**known, **{a.about: a for a in new}}
            self.catalogues.keep({"confirmed": [Answers(answers=answers, at=now, by=by[:60])]})
