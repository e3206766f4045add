"""What many tests share: the invented shop, in memory and in a folder, with a clock to move."""

from __future__ import annotations

import compileall
import os
import re
import shutil
from collections.abc import Callable, Sequence
from datetime import datetime, time, timedelta
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from counter.shop import Shop, make_shop
from counter.shop.production import BatchNote
from counter.shop.questions import Questions as Asking
from counter.trade.asking import Answer, Question
from counter.trade.payments import Tender
from counter.trade.production import Batch
from counter.trade.sales import Sale, Slip
from counter.trade.settings import parse_settings
from labels.units import Measure
from tests.often import IN_CI

ROOT = Path(__file__).parents[1]
ZONE = ZoneInfo("America/Los_Angeles")
SETTINGS = (files("demo_shop") / "shop.toml").read_text("utf-8")
CATALOGUE = (files("demo_shop") / "catalogue.toml").read_text("utf-8")
# In a market eu each product says which date it bears.
DATED_CATALOGUE = re.sub("^keeps = ", 'date = "best-by"\nkeeps = ', CATALOGUE, flags=re.MULTILINE)


class Clock:
    """The shop's clock, moved by hand. It begins on Tuesday 2026-11-24 at 04:10."""

    def __init__(self, text: str = "2026-11-24 04:10") -> None:
        self.set(text)

    def set(self, text: str) -> None:
        self.moment = datetime.fromisoformat(text).replace(tzinfo=ZONE)

    def forward(self, **span: float) -> None:
        moved = self.moment.timestamp() + timedelta(**span).total_seconds()
        self.moment = datetime.fromtimestamp(moved, ZONE)

    def __call__(self) -> datetime:
        return self.moment


class ShopInHand:
    """A shop with shortcuts for what tests do all the time."""

    def __init__(self, shop: Shop, clock: Clock) -> None:
        self.shop, self.clock = shop, clock

    def batch(self, product: str = "firm", made: int = 48, **note: object) -> Batch:
        """A batch that was boiled an hour ago and is cold, where ``note`` says nothing of it."""
        note.setdefault("boiled_minutes", 10)
        given = self.shop.desk.questions.given
        made_as = self.shop.desk.catalogue.products.get(product)
        chilled = made_as is not None and made_as.cooled
        cooked = bool(note["boiled_minutes"] or "cook_minutes" in note)
        if chilled and "cook_ended" not in note and "cooled" not in note:
            if cooked:
                note["cook_ended"] = self.ago(60)
            if cooked or "mixed" in note:
                note["cooled"] = (self.ago(35), self.ago(10))
            if not cooked:
                self.shop.desk.questions.given = {
                    "cooked": "smoked until it was put in the ice",
                    **given,
                }
        made_of = BatchNote(made=made, **note)  # type: ignore[arg-type]
        try:
            return self.shop.production.log_batch(product, made_of)
        finally:
            self.shop.desk.questions.given = given

    def ago(self, minutes: int) -> time:
        """What the clock showed so many minutes ago."""
        then = self.clock.moment.timestamp() - 60 * minutes
        moment = datetime.fromtimestamp(then, self.shop.desk.settings.zone)
        return moment.time().replace(second=0, microsecond=0)

    def hot(self, product: str = "pudding", made: int = 16000, ended: int = 20) -> Batch:
        """A batch that came from the cook a while ago and is hot still."""
        return self.batch(product, made, cook_ended=self.ago(ended))

    def pudding(self, made: int = 16000, mode: str = "cold") -> tuple[Batch, str]:
        """A batch of pudding with an open tub of 8 l; the tub's name."""
        batch = self.hot("pudding", made) if mode == "hot" else self.batch("pudding", made)
        celsius = Decimal(4) if mode == "cold" else Decimal(60)
        tub = self.shop.tubs.open_tub(batch.lot, mode, 8000, celsius)  # type: ignore[arg-type]
        return batch, tub.tub

    def sell(self, *items: str, cash: int | None = None, **slip: object) -> Sale:
        parsed = tuple(self.shop.counter.read_item(text) for text in items)
        tender = Tender("card") if cash is None else Tender("cash", cash)
        return self.shop.counter.sell(Slip(parsed, **slip), [tender])  # type: ignore[arg-type]

    def on_hand(self, lot: str) -> int:
        return self.shop.desk.ledger().rows[lot].on_hand


def kilos(text: str) -> Measure:
    return Measure(Decimal(text), "kg")


# What a person says who is asked in a test of something else: days are skipped there by moving the
# clock, and closed without a count.
SAID = dict.fromkeys(("day", "cash", "uncounted", "cooling"), "so it is, said the test")


@pytest.fixture
def nobody_answers() -> None:
    """Asked for by a test of the questions themselves: it must say everything itself."""


@pytest.fixture(autouse=True)
def somebody_answers(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """In every other test whoever is asked about the day or the closing says that it is so."""
    if "nobody_answers" in request.fixturenames:
        return
    asked = Asking.answered

    def answered(self: Asking, questions: Sequence[Question], by: str = "") -> list[Answer]:
        given, self.given = self.given, {**SAID, **self.given}
        try:
            return asked(self, questions, by)
        finally:
            self.given = given

    monkeypatch.setattr(Asking, "answered", answered)


@pytest.fixture
def wheels() -> None:
    """Asked for by a test of the program beside the copies: it takes seconds to pack."""


@pytest.fixture(autouse=True)
def no_wheels(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """In every other test the program is not put beside the copies."""
    if "wheels" not in request.fixturenames:
        monkeypatch.setattr("counter.shop.wheels.carry_wheels", lambda place: [])


Fill = Callable[[ShopInHand], object]
Filled = Callable[[Path, Fill], ShopInHand]


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Filled:
    """The invented shop in a folder, with what ``fill`` did in it: done once, then copied."""
    done: dict[Fill, tuple[Path, datetime]] = {}

    def copied(folder: Path, fill: Fill) -> ShopInHand:
        if fill not in done:
            place, clock = tmp_path_factory.mktemp("filled") / "shop", Clock()
            hand = ShopInHand(make_shop(place, SETTINGS, clock), clock)
            hand.shop.desk.questions.given = SAID
            hand.shop.products.load_catalogue(CATALOGUE)
            fill(hand)
            hand.shop.desk.books.close()
            done[fill] = place, clock.moment
        place, moment = done[fill]
        shutil.copytree(place, folder)
        clock = Clock()
        clock.moment = moment
        return ShopInHand(Shop.open(folder, clock), clock)

    return copied


def nothing(hand: ShopInHand) -> None:
    """Nothing is made yet."""


def a_morning(hand: ShopInHand) -> None:
    """Lots 26328-01 firm, -02 soft, -03 pressed, -04 pudding with an open cold tub; half past eight."""
    hand.batch("firm", 48)
    hand.batch("soft", 30)
    hand.batch("pressed", 4000)
    hand.pudding()
    hand.clock.set("2026-11-24 08:00")
    hand.shop.tubs.check_tub("26328-04/1", Decimal(4))
    hand.clock.set("2026-11-24 08:30")


Maker = Callable[..., ShopInHand]
# Here the laws of the shop are held over files as well; elsewhere in memory alone, but in CI.
OVER_FILES = {"tests.shop.test_day", "tests.shop.test_corners", "tests.records.test_corrections"}


PATIENCE_S = 300
# These take the most time, and wait the most.
LONG = (
    "tests/crash",
    "tests/browser",
    "tests/records",
    "tests/demo",
    "tests/planning",
    "tests/web",
)


def pytest_configure(config: pytest.Config) -> None:
    """Compile the program once: else every command that a test starts does, where Python is told
    to write no bytecode."""
    if not hasattr(config, "workerinput"):
        for package in ("counter", "labels", "demo_shop"):
            compileall.compile_dir(ROOT / package, quiet=2)


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: a third of the time goes by waiting for disks and programs."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """The long ones first, so that all workers are busy to the end; and who waits longer hangs."""
    order = {room: i for i, room in enumerate(LONG)}
    if config.getoption("timeout", 0) is None:  # else it is not installed, or another was given
        for item in items:
            item.add_marker(pytest.mark.timeout(PATIENCE_S))
    items.sort(key=lambda item: order.get("/".join(item.nodeid.split("/")[:2]), len(order)))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "make" in metafunc.fixturenames:
        files = IN_CI or metafunc.module.__name__ in OVER_FILES
        metafunc.parametrize("make", ["memory", "folder"] if files else ["memory"], indirect=True)


@pytest.fixture
def make(request: pytest.FixtureRequest, tmp_path: Path) -> Maker:
    """Makes a shop, in memory or in a folder: the same tests over both."""

    def build(settings_text: str = SETTINGS, catalogue: str = CATALOGUE) -> ShopInHand:
        clock = Clock()
        if request.param == "memory":
            shop = Shop.memory(parse_settings(settings_text), clock)
        else:
            shop = make_shop(tmp_path / "shop", settings_text, clock)
        shop.products.load_catalogue(catalogue)
        return ShopInHand(shop, clock)

    return build


@pytest.fixture
def hand(make: Maker) -> ShopInHand:
    """The invented shop on a Tuesday at ten past four in the morning."""
    return make()


@pytest.fixture
def folder_shop(tmp_path: Path, filled: Filled) -> ShopInHand:
    """The invented shop in a folder, for what needs files."""
    return filled(tmp_path / "shop", nothing)
