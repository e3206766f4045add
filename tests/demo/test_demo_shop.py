"""The invented shop: the same seed and day give the same shop, and its days are believable."""

from __future__ import annotations

import hashlib
import shlex
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from counter.cli import main
from counter.errors import NotFound, Refused
from counter.languages import language
from counter.shop import Shop
from counter.trade.closing import Closing
from demo_shop import make_demo
from demo_shop.play import Demo
from demo_shop.tell import tell
from demo_shop.town import SHUT_WEEKDAY
from tests.conftest import ZONE, Clock
from tests.lines import kept

NOW = datetime(2026, 11, 24, 9, 30, tzinfo=ZONE)


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    return make_demo(tmp_path_factory.mktemp("town") / "demo", NOW)


@pytest.fixture
def shop(played: Demo) -> Shop:
    return Shop.open(Path(played.folder), Clock("2026-11-24 09:30"))


@pytest.fixture
def closings(shop: Shop) -> list[Closing]:
    return shop.closings.between(date(2026, 1, 1), date(2026, 12, 31))


def marks(folder: Path) -> dict[str, str]:
    return {name: hashlib.sha256(data).hexdigest() for name, data in kept(folder).items()}


def test_the_same_seed_and_day_give_the_same_bytes(tmp_path: Path) -> None:
    one, two = (make_demo(tmp_path / name, NOW, seed=7, days=2) for name in ("one", "two"))
    assert marks(tmp_path / "one") == marks(tmp_path / "two")
    assert (one.sales, one.taken, one.lots) == (two.sales, two.taken, two.lots)


def test_another_seed_gives_other_days(tmp_path: Path) -> None:
    one, two = (make_demo(tmp_path / str(seed), NOW, seed, days=2) for seed in (1, 2))
    assert marks(tmp_path / "1")["books"] != marks(tmp_path / "2")["books"]
    assert one.taken != two.taken


def test_every_day_but_the_shut_one_is_closed_and_every_lot_balances(
    closings: list[Closing],
) -> None:
    days = [date(2026, 10, 27) + timedelta(days=n) for n in range(28)]
    assert [c.day for c in closings] == [d for d in days if d.weekday() != SHUT_WEEKDAY]
    for closing in closings:
        assert closing.lots
        assert all(lot.balances for lot in closing.lots)
        assert not any(lot.open_question for lot in closing.lots)
    carried: dict[str, int] = {}
    for closing in closings:
        assert all(lot.carried_in == carried.get(lot.lot, 0) for lot in closing.lots)
        carried = {c.lot.lot: c.amount for c in closing.carried}


def test_the_books_are_sound_and_the_drawer_adds_up(shop: Shop, closings: list[Closing]) -> None:
    assert shop.audit.check().sound
    for before, after in pairwise(closings):
        assert after.cash.start == before.cash.left
    for closing in closings:
        cash = closing.cash
        flow = cash.sales - cash.refunds + cash.moved_in - cash.moved_out
        assert cash.expected == cash.start + flow
        assert abs(cash.variance) <= 100


def test_days_are_believable(played: Demo, shop: Shop, closings: list[Closing]) -> None:
    # 200 to 400 sales on a busy day (common practice, no source); an invented shop may be smaller.
    assert all(60 <= c.sales <= 400 for c in closings)
    assert 2 <= sum("firm" in c.sold_out_at for c in closings) == played.sold_out_days
    assert sum(c.refunds for c in closings) >= 2
    wasted = {reason for c in closings for lot in c.lots for reason in lot.wasted}
    assert {"date", "scooping"} <= wasted
    assert wasted & {"broken", "tasting", "given"}
    assert any(lot.stopped for c in closings for lot in c.lots)
    busy = [c.sales for c in closings if c.day.weekday() == 5]
    quiet = [c.sales for c in closings if c.day.weekday() == 1]
    assert sum(busy) / len(busy) > sum(quiet) / len(quiet)
    assert all(c.sold_out_at[p].date() == c.day for c in closings for p in c.sold_out_at)


def test_some_ten_products_one_with_a_second_allergen(shop: Shop) -> None:
    catalogue = shop.desk.catalogue
    assert len(catalogue.products) >= 10
    puffs = {
        a for p in catalogue.products["puffs"].recipe for a in catalogue.allergens_of(p.ingredient)
    }
    assert puffs == {"soy", "wheat"}
    assert {p.unit for p in catalogue.products.values()} == {"piece", "ml", "g"}


def test_this_morning_is_logged_labelled_and_open(played: Demo, shop: Shop) -> None:
    assert Path(played.labels).read_bytes().startswith(b"%PDF")
    ledger = shop.desk.ledger()
    assert set(ledger.batches) == set(played.lots.values())
    assert {p.lot for p in ledger.printed} == set(played.lots.values())
    assert all(b.at < NOW for b in ledger.batches.values())
    assert ledger.tubs[played.tub].ended is None
    assert not any(t.refusal for p in shop.counter.shelf().products for t in p.tubs)


@pytest.mark.parametrize("code", ["en", "es"])
def test_what_it_says_fits_a_screen_and_names_what_to_try(played: Demo, code: str) -> None:
    told = map(language(code, code).shown, tell(played))
    lines = [line for text in told for line in text.split("\n")]
    assert len(lines) <= 24
    assert all(len(line) <= 100 + len(played.folder) for line in lines)
    assert any(line.endswith(f"trace {played.lots['firm']}") for line in lines)
    assert ("Pruebe ahora:" in lines) is (code == "es")


@pytest.mark.parametrize("now", ["03:00", "03:01", "05:00", "12:00", "23:59", "00:30", "02:59"])
def test_it_can_be_made_at_any_time_of_the_day(tmp_path: Path, now: str) -> None:
    moment = datetime.fromisoformat(f"2026-11-24 {now}").replace(tzinfo=ZONE)
    made = make_demo(tmp_path / "demo", moment, days=1)
    shop = Shop.open(tmp_path / "demo", lambda: moment)
    assert made.today == shop.desk.today()
    assert all(b.at.timestamp() <= moment.timestamp() for b in shop.desk.ledger().batches.values())
    assert shop.audit.check().sound


@pytest.fixture
def typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COUNTER_SHOP", raising=False)
    return tmp_path


def run(*words: str) -> Result:
    result = CliRunner().invoke(main, list(words))
    assert isinstance(result.exception, SystemExit | None), result.exception
    return result


def test_a_second_demo_is_refused_unless_it_replaces_one(typed: Path) -> None:
    made = ("demo", "./demo", "--days", "1", "--seed", "3")
    assert run(*made).exit_code == 0
    before = marks(typed / "demo")
    again = run(*made)
    assert again.exit_code == 1
    assert again.stderr.strip().splitlines()[-1] == (
        "Cannot make the demo shop in 'demo': the folder is not empty. "
        "Name a new folder, or add --replace if demo is an old demo shop."
    )
    assert marks(typed / "demo") == before
    assert run(*made, "--replace").exit_code == 0


def test_only_a_demo_shop_is_ever_replaced(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    for text in (None, "[shop", "x"):
        folder.mkdir(exist_ok=True)
        (folder / "diary.txt").write_text("years of work", "utf-8")
        if text is not None:
            (folder / "shop.toml").write_text(text, "utf-8")
        result = run("demo", str(folder), "--replace", "--days", "1")
        assert result.exit_code in (1, 2)
        assert (folder / "diary.txt").read_text("utf-8") == "years of work"
    assert run("new", str(tmp_path / "real")).exit_code == 0
    before = marks(tmp_path / "real")
    assert run("demo", str(tmp_path / "real"), "--replace").exit_code == 1
    assert marks(tmp_path / "real") == before
    with pytest.raises((NotFound, Refused)):
        make_demo(tmp_path / "real", NOW, replace=True)


def test_the_commands_it_prints_work_as_they_stand(typed: Path, nobody_answers: None) -> None:
    result = run("demo", "./demo", "--days", "2")
    assert result.exit_code == 0, result.output
    commands = [
        shlex.split(line.strip())
        for line in result.stdout.splitlines()
        if line.strip().startswith("counter ")
    ]
    assert len(commands) >= 5
    for name, *words in commands:
        assert name == "counter"
        done = run(*words)
        assert done.exit_code == 0, f"{' '.join(words)}: {done.output}"
    assert (typed / "labels.pdf").read_bytes().startswith(b"%PDF")
    assert run("--shop", "./demo", "check").exit_code == 0


@pytest.mark.parametrize(
    ("words", "status", "why"),
    [
        (("--today", "2026-02-30"), 2, "there is no such day"),
        (("--today", "0001-01-01"), 2, "lot codes name the years 2000 to 2099"),
        (("--today", "9999-12-31"), 2, "lot codes name the years 2000 to 2099"),
        (("--days", "0"), 2, "0 is not in the range"),
    ],
)
def test_a_day_nobody_can_play_is_refused(
    typed: Path, words: tuple[str, ...], status: int, why: str
) -> None:
    result = run("demo", "./demo", *words)
    assert result.exit_code == status
    assert why in result.stderr
    assert not (typed / "demo").exists()
