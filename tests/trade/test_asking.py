"""Questions that are asked once: a word answers, silence does not, an answer holds for its basis."""

from __future__ import annotations

import pytest

from counter.errors import Asked
from counter.trade.asking import Question, answered, still_open
from tests.conftest import Clock, Maker

MADE = Question(about="made", tried="log a batch", text="960 is ten times the usual 96")
DAY = Question(about="day", tried="log a batch", text="it is Friday")


@pytest.mark.parametrize("given", [{}, {"made": ""}, {"made": " y "}, {"day": "yes"}])
def test_silence_and_one_letter_answer_nothing(given: dict[str, str]) -> None:
    with pytest.raises(Asked) as caught:
        answered([MADE], given, Clock()(), "Ana")
    assert caught.value.questions == (MADE,)
    assert str(caught.value) == (
        "Cannot log a batch: 960 is ten times the usual 96. If it is so, say so with a word why."
    )


def test_all_open_questions_are_asked_at_once() -> None:
    with pytest.raises(Asked) as caught:
        answered([MADE, DAY, MADE], {}, Clock()(), "")
    assert [q.about for q in caught.value.questions] == ["made", "day"]


def test_an_answer_keeps_question_words_person_and_moment() -> None:
    now = Clock()()
    (kept,) = answered([MADE], {"made": " two  shifts "}, now, "Ana")
    assert (kept.asked, kept.words, kept.at, kept.by) == (MADE.text, "two shifts", now, "Ana")


def test_a_kept_answer_holds_until_its_basis_changes(make: Maker) -> None:
    shop = make().shop
    claim = Question(about="label.firm.claim", tried="label it", text="organic?", basis="v1")
    with pytest.raises(Asked):
        shop.desk.questions.confirm([claim])
    shop.desk.questions.given = {"label.firm.claim": "certified by the county"}
    shop.desk.questions.confirm([claim], "Ana")
    shop.desk.questions.given = {}
    shop.desk.questions.confirm([claim])
    assert shop.desk.questions.confirmed()["label.firm.claim"].by == "Ana"
    other = Question(about="label.firm.claim", tried="label it", text="organic?", basis="v2")
    assert still_open([claim, other], shop.desk.questions.confirmed()) == [other]
    with pytest.raises(Asked):
        shop.desk.questions.confirm([other])
