"""Each trick of the table, by command and by tap: nothing bad is sold, nothing untrue is printed
without having asked."""

from __future__ import annotations

import re
import shlex
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result

from counter.shop import Shop, make_shop
from counter.web import faults
from counter.web.app import create_app
from tests.commands.conftest import CommandLine, clock  # noqa: F401 - a fixture
from tests.conftest import CATALOGUE, SETTINGS, Clock
from tests.tricks.table import TRICKS, Trick
from tests.web.conftest import Page

pytestmark = pytest.mark.usefixtures("nobody_answers")
FIRST = datetime(2026, 11, 24)  # noqa: DTZ001 - a Tuesday on the shop's own clock
_STEP = re.compile(r"([!?]?)(?:\+(\d+) )?(?:(\d\d:\d\d) )?(.*)", re.DOTALL)
_ASKED = re.compile(r"--sure (\S+)='a word why'")
HOLDING = '\n[holding]\nfridge = "cold"\ndisplay = "room"\nfreezer = "freezer"\n'


class Steps:
    """A shop, and somebody who tries."""

    def __init__(self, line: CommandLine, clock: Clock) -> None:  # noqa: F811 - the fixture's value
        self.line, self.clock = line, clock
        self.day = 0

    def prepare(self, before: list[str], trick: Trick) -> None:
        """All steps but the last: each is done, unless its mark says otherwise."""
        for step in before:
            result = self.take(step, trick)
            if not step.startswith("?"):
                refused = step.startswith("!")
                assert bool(result.exit_code) is refused, f"{step}: {result.output}"

    def words_at(self, step: str) -> list[str]:
        """The words of a step's command, with the clock moved to its time."""
        found = _STEP.fullmatch(step)
        assert found
        _, day, clock_time, command = found.groups()
        self.day = int(day) if day else self.day
        if clock_time:
            self.clock.set(f"{FIRST + timedelta(days=self.day):%Y-%m-%d} {clock_time}")
        return shlex.split(command)

    def take(self, step: str, trick: Trick) -> Result:
        """One step by the command line; that it is the day it is, it says when it is asked."""
        words = self.words_at(step)
        if words[0] == "edit":
            words = self.edit(*words[1:])
        elif words[0] == "new":
            self.line.folder = self.line.folder.parent / "new"
            return self.line.run("new", str(self.line.folder))
        result = self.line.run(*words)
        if _ASKED.findall(result.stderr) == ["day"] and trick.must != "asks day":
            result = self.line.run(*words, "--sure", "day=it is that day")
        return result

    def edit(self, name: str, *pairs: str) -> list[str]:
        """Write a file of the shop anew; the command that puts it to use."""
        file = self.line.folder / name
        text = file.read_text("utf-8")
        for old, new in zip(pairs[::2], pairs[1::2], strict=True):
            assert old in text, old
            text = text.replace(old, new)
        file.write_text(text, "utf-8")
        return ["catalogue", "load", str(file)] if name == "catalogue.toml" else ["shelf"]


@pytest.fixture
def steps(tmp_path: Path, clock: Clock) -> Steps:  # noqa: F811
    folder = tmp_path / "shop"
    make_shop(folder, SETTINGS + HOLDING).products.load_catalogue(CATALOGUE)
    (folder / "catalogue.toml").write_text(CATALOGUE, "utf-8")
    return Steps(CommandLine(folder, clock), clock)


def words_of(trick: Trick) -> list[str]:
    """The steps of a trick."""
    return [line.strip() for line in trick.steps.strip().split("\n        ")]


@pytest.mark.parametrize("trick", TRICKS, ids=[t.name for t in TRICKS])
def test_no_trick_sells_bad_food_or_prints_an_untrue_label(trick: Trick, steps: Steps) -> None:
    *before, last = words_of(trick)
    steps.prepare(before, trick)
    result = steps.take(last, trick)
    asked = _ASKED.findall(result.stderr)
    match trick.must.split():
        case ["yes"]:
            assert result.exit_code == 0, result.output
        case ["asks", about]:
            assert about in asked, result.output
        case _:
            assert result.exit_code, result.output
            assert trick.says in result.stderr


BY_TAP = [t for t in TRICKS if {"sell", "labels"} & {*words_of(t)[-1].split()}]


@pytest.mark.parametrize("trick", BY_TAP, ids=[t.name for t in BY_TAP])
def test_no_trick_ends_otherwise_on_the_page(trick: Trick, steps: Steps) -> None:
    *before, last = words_of(trick)
    steps.prepare(before, trick)
    command, *words = steps.words_at(last)
    page = Page(create_app(Shop.open(steps.line.folder), b"not secret, only for tests"))
    if command == "labels":
        answer = page.post("/labels/print", {"lot": words, "do": "save"})
        said = answer.get_data(as_text=True)
    else:
        slip = {"items": [tapped(page, word) for word in words[:-1]], "key": "one"}
        answer = page.send("/slip/price", slip)
        if answer.status_code == 200:
            sent = {"slip": slip, "tenders": [{"kind": "card"}], "seen": answer.json["seen"]}
            answer = page.send("/slip/pay", sent)
        said = str(answer.json.get("error", ""))
    faults.log_into(None)
    assert (answer.status_code in (200, 302)) is (trick.must == "yes"), said
    if trick.must == "no":
        assert trick.says in said.replace("\u00a0", " ")


def tapped(page: Page, word: str) -> dict[str, object]:
    """An entry of the slip, as a tap on the shelf or a scan puts it there."""
    portion, _, count = word.partition("*")
    portion, _, lot = portion.partition("@")
    if portion[0].isdigit():
        read = page.send("/slip/read", {"text": portion})
        if read.status_code == 200:
            keys = ("portion", "quantity", "lot", "toppings", "gross", "unit")
            return {key: read.json[key] for key in keys}
        return {"portion": "firm-block", "quantity": 1, "lot": portion}
    return {"portion": portion, "quantity": int(count or 1), "lot": lot}
