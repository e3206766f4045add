"""The command line over a shop in a folder, with a clock to move."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from counter.cli import main
from counter.shop import Shop
from tests.conftest import Clock, Filled, ShopInHand, nothing
from tests.lines import kept

_CONTEXT = click.Context(main)
COMMANDS = {n: c for n in main.list_commands(_CONTEXT) if (c := main.get_command(_CONTEXT, n))}
COLD = ("--boiled", "10min", "--cooked-at", "10:45", "--cooled", "11:20,11:50")  # it is 12:00


class CommandLine:
    """Types commands as a user does, on Tuesday 2026-11-24 at 12:00."""

    def __init__(self, folder: Path, clock: Clock) -> None:
        self.folder, self.clock = folder, clock

    def run(self, *words: str, shop: Path | None = None) -> Result:
        """Type a command. A fault of the program fails the test at once."""
        result = CliRunner().invoke(main, ["--shop", str(shop or self.folder), *words])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        assert "Traceback" not in result.output
        return result

    def done(self, *words: str) -> str:
        """Type a command that works; what it prints."""
        result = self.run(*words)
        assert result.exit_code == 0, result.stderr
        return result.stdout

    def refused(self, status: int, *words: str, shop: Path | None = None) -> str:
        """Type a command that is refused: its one sentence, with nothing printed or written."""
        before = self.files()
        result = self.run(*words, shop=shop)
        assert (result.exit_code, result.stdout) == (status, ""), result.output
        assert self.files() == before
        sentence = result.stderr.strip()
        assert sentence.startswith("Cannot ")
        assert "\n" not in sentence
        assert sentence.endswith((".", "?"))
        return sentence

    def files(self) -> dict[str, bytes]:
        """All that lies in the shop folder."""
        return kept(self.folder)

    def shop(self) -> Shop:
        return Shop.open(self.folder)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """Every shop that is opened without a clock of its own goes by this one."""
    hand = Clock("2026-11-24 12:00")
    open_shop = Shop.open.__func__  # type: ignore[attr-defined]

    def opened(cls: type[Shop], folder: Path, clock: Callable[[], datetime] | None = None) -> Shop:
        shop: Shop = open_shop(cls, folder, clock or hand)
        return shop

    monkeypatch.setattr(Shop, "open", classmethod(opened))
    for name in ("COUNTER_SHOP", "COUNTER_BY"):
        monkeypatch.delenv(name, raising=False)
    return hand


def closed(hand: ShopInHand) -> Path:
    """The folder of a shop that no program has open."""
    hand.shop.desk.books.close()
    assert hand.shop.desk.folder is not None
    return hand.shop.desk.folder


@pytest.fixture
def empty(tmp_path: Path, clock: Clock, filled: Filled) -> CommandLine:
    """The invented shop, with its catalogue and nothing made yet."""
    return CommandLine(closed(filled(tmp_path / "shop", nothing)), clock)


def made_by_typing(hand: ShopInHand) -> None:
    """The morning's batches, by the command line."""
    hand.clock.set("2026-11-24 12:00")
    assert hand.shop.desk.folder is not None
    typed = CommandLine(hand.shop.desk.folder, hand.clock)
    typed.done("batch", "firm", "--made", "96", "--beans", "12kg", *COLD)
    typed.done("batch", "soft", "--made", "60", *COLD)
    typed.done("batch", "pudding", "--made", "16l", *COLD)
    typed.done("tub", "open", "26328-03", "--cold", "--holds", "8l", "--temp", "4C")


@pytest.fixture
def line(tmp_path: Path, clock: Clock, filled: Filled) -> CommandLine:
    """The invented shop with the morning's batches: 26328-01 firm, 26328-02 soft, 26328-03
    pudding, of which a cold tub is open."""
    return CommandLine(closed(filled(tmp_path / "shop", made_by_typing)), clock)
