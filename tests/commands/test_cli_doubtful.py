"""Doubtful stock on the command line: the lot is asked for, and named with @ or by a scan."""

from __future__ import annotations

import json

from tests.commands.conftest import COLD, CommandLine


def test_the_lot_of_the_piece_in_the_hand_is_asked_for(line: CommandLine) -> None:
    line.done("stop", "26328-01", "--because", "a hair was found")
    line.done("batch", "firm", "--made", "2", "--boiled", "10min")
    assert line.refused(1, "sell", "firm-block*3", "--card") == (
        "Cannot sell firm-block: the log has only 2 more that may be sold; lot 26328-01 is still "
        "there: it is stopped: a hair was found. Scan or name the lot of the piece in your hand."
    )
    assert "it is stopped" in line.refused(1, "sell", "firm-block@26328-01*3", "--card")
    sold = line.run("sell", "firm-block@26328-04*3", "--card", "--json")
    assert "flagged as oversold" in line.run("sell", "26328-04", "--card").stderr
    assert [d["how"] for d in json.loads(sold.stdout)["lines"][0]["draws"]] == ["named"]
    assert "named" in line.done("export", "sale_lots")
    assert "scanned" in line.done("export", "sale_lots")


def test_a_trace_says_what_is_surely_of_the_lot_and_what_may_be(line: CommandLine) -> None:
    line.done("batch", "firm", "--made", "10", "--boiled", "10min")
    line.done("sell", "26328-04*2", "--card")
    line.done("sell", "firm-block*3", "--card")
    said = line.done("trace", "26328-04")
    assert "10 made, 2 sold, 8 left" in said
    assert "2 surely sold, in 1 lines:" in said
    assert "1 lines of sales that may be of it; the log took 0 from it:" in said
    assert "by the log of 26328-01" in said
    recall = line.done("recall", "26328-04", "--drill")
    assert "10 of 10 Firm Tofu, 3 that the log took from other lots may be of it" in recall
    assert "%" not in recall


def test_a_late_note_answers_for_the_lot_in_words(line: CommandLine) -> None:
    line.done("stop", "26328-01", "--because", "a hair was found")
    line.done("batch", "firm", "--made", "2", "--boiled", "10min")
    late = ("sell", "firm-block*3", "--card", "--at", "11:30")
    assert "the log has only 2 more that may be sold" in line.refused(1, *late)
    assert "Sale 2026-11-24/0001" in line.done(*late, "--sure", "lot=nobody looked")
    assert "nobody looked" in line.done("export", "answers")


def test_more_older_stock_than_was_ever_there_takes_a_word(line: CommandLine) -> None:
    more = ("batch", "smoked", "--made", "8", "--from", "26328-01:960")
    assert line.refused(1, *more) == (
        "Cannot log a batch of smoked: 960 of lot 26328-01 is more than the 96 ever there. "
        "If it is so, say so with a word why: add --sure from.26328-01='a word why'."
    )
    said = line.done(*more, "--sure", "from.26328-01=the log of it is wrong")
    assert "from lot 26328-01: 960\n" in said


def test_older_stock_is_shown_in_its_own_unit(line: CommandLine) -> None:
    said = line.done("batch", "pudding", "--made", "8l", *COLD, "--from", "26328-03:2l")
    assert "from lot 26328-03: 2 l\n" in said
