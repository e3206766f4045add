"""The lake: every closed day once, appended without rewriting, whole whatever interrupts it."""

from __future__ import annotations

import hashlib
import itertools
import os
import shutil
import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import pytest
from filelock import FileLock

from counter.errors import BadInput, Refused
from counter.reports.lake import BEGIN, PARTS, Brought, plan
from counter.reports.tables import ALL
from counter.shop.production import BatchNote
from labels.errors import NotWritten
from tests.conftest import Filled, ShopInHand
from tests.often import often
from tests.records.conftest import lived_in
from tests.records.test_export import lose_one

TUESDAY, WEDNESDAY, THURSDAY = (date(2026, 11, day) for day in (24, 25, 26))


def parquet(lake: Path) -> dict[str, str]:
    """The Parquet files of a lake with what is in them, by a hash."""
    return {
        path.relative_to(lake).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in lake.glob("[a-z]*/*/*/*.parquet")
    }


def ask(lake: Path, sql: str) -> list[tuple[Any, ...]]:
    with duckdb.connect() as con:
        con.execute(f"SET file_search_path = '{lake}'")
        con.execute((lake / "views.sql").read_text("utf-8"))
        return con.execute(sql).fetchall()


def sell_and_close(hand: ShopInHand, day: str = "2026-11-26") -> None:
    hand.clock.set(f"{day} 09:00")
    hand.sell("firm-block")
    hand.clock.set(f"{day} 18:00")
    hand.shop.evening.close_day()


@pytest.fixture
def lake(tmp_path: Path) -> Path:
    return tmp_path / "lake"


def test_the_lake_holds_what_the_shop_exports_and_nothing_of_an_open_day(
    hand: ShopInHand, lake: Path, tmp_path: Path
) -> None:
    hand.sell("firm-block")  # on Thursday, which stays open
    made = hand.shop.exports.export_lake(lake)
    assert made.added == (TUESDAY, WEDNESDAY)
    one = {kind.name: tmp_path / f"{kind.name}.parquet" for kind in ALL}
    empty = set()
    for kind in ALL:  # also those without a row: a question does not depend on what happened
        [rows] = hand.shop.exports.export(kind.name, one[kind.name], TUESDAY, WEDNESDAY, "parquet")
        if not rows.rows:
            empty.add(kind.name)
        names = ", ".join(column.name for column in kind.lasting)
        with duckdb.connect() as con:
            bare = con.execute(f"select {names} from '{one[kind.name]}' order by all")
            assert ask(lake, f"select {names} from {kind.name} order by all") == bare.fetchall()
    assert "printed" in empty
    assert {path.split("/")[0] for path in parquet(lake) if "shop=none" in path} == empty
    assert made.rows == sum(ask(lake, f"select count(*) from {t.name}")[0][0] for t in ALL)
    assert (
        f"sales/{PARTS[0]}={hand.shop.exports.whose.mark}/{PARTS[1]}=2026/2026-11-24_2026-11-24.parquet"
        in (parquet(lake))
    )


def test_a_run_adds_the_new_days_and_leaves_every_other_file_as_it_is(
    hand: ShopInHand, lake: Path
) -> None:
    hand.shop.exports.export_lake(lake)
    before = parquet(lake)
    assert hand.shop.exports.export_lake(lake) == Brought(added=())
    assert parquet(lake) == before
    sell_and_close(hand)
    assert hand.shop.exports.export_lake(lake).added == (THURSDAY,)
    after = parquet(lake)
    assert before.items() <= after.items()
    assert {path.rpartition("/")[2] for path in after.keys() - before.keys()} == {
        "2026-11-26_2026-11-26.parquet"
    }
    assert ask(lake, "select trading_day, count(*) from sales group by all order by all") == [
        (TUESDAY, 4), (WEDNESDAY, 1), (THURSDAY, 1),
    ]  # fmt: skip


def test_a_later_correction_is_a_row_of_a_later_day_and_the_view_knows_the_latest(
    hand: ShopInHand, lake: Path
) -> None:
    hand.shop.exports.export_lake(lake)
    ask_for = "select revision, latest, notes from batches where lot = '26329-01' order by revision"
    assert ask(lake, ask_for) == [(0, True, "")]
    hand.shop.amendments.amend_batch("26329-01", BatchNote(notes="pale"), "looked again", by="Teo")
    sell_and_close(hand)
    hand.shop.exports.export_lake(lake)
    assert ask(lake, ask_for) == [(0, False, ""), (1, True, "pale")]
    parts = (
        "select revision, latest from ingredients where lot = '26329-01' group by all order by 1"
    )
    assert ask(lake, parts) == [(0, False), (1, True)]


def test_a_view_knows_that_older_stock_was_taken_off_a_batch_again(
    hand: ShopInHand, lake: Path
) -> None:
    # A table without a row of the latest revision must not flag the one before.
    mixed = hand.batch("smoked", 4, boiled_minutes=None, mixed=(("26329-01", 8),))
    hand.shop.amendments.void_batch(mixed.lot, "logged twice")
    sell_and_close(hand)
    hand.shop.exports.export_lake(lake)
    heads = ask(lake, f"select max(revision) from batches where lot = '{mixed.lot}'")
    rows = ask(lake, f"select revision, latest from mixed where lot = '{mixed.lot}' order by 1")
    assert heads == [(1,)]
    assert rows[0] == (0, False)


def test_a_day_opened_again_is_taken_out_and_comes_back_closed(
    hand: ShopInHand, lake: Path
) -> None:
    hand.shop.exports.export_lake(lake)
    sell_and_close(hand)
    hand.shop.exports.export_lake(lake)
    old = parquet(lake)
    hand.shop.evening.reopen_day("one more came")
    made = hand.shop.exports.export_lake(lake)
    assert (made.added, made.replaced, made.taken_out) == ((), (), (THURSDAY,))
    assert ask(lake, "select count(*) from sales where trading_day = '2026-11-26'") == [(0,)]
    hand.sell("firm-block")
    hand.shop.evening.close_day()
    assert hand.shop.exports.export_lake(lake).added == (THURSDAY,)
    assert ask(lake, "select count(*) from sales where trading_day = '2026-11-26'") == [(2,)]
    kept = {path: data for path, data in old.items() if "2026-11-26_" not in path}
    assert kept.items() <= parquet(lake).items()


def test_a_day_closed_anew_since_replaces_its_file_and_is_named(
    hand: ShopInHand, lake: Path
) -> None:
    sell_and_close(hand)
    hand.shop.exports.export_lake(lake)
    hand.shop.evening.reopen_day("one more came")
    hand.sell("firm-block")
    hand.shop.evening.close_day()
    made = hand.shop.exports.export_lake(lake)
    assert (made.added, made.replaced, made.taken_out) == ((), (THURSDAY,), ())
    told = (
        "select revision, sales, latest from closings where trading_day = '2026-11-26' order by 1"
    )
    assert ask(lake, told) == [(0, 1, False), (1, 2, True)]
    assert ask(lake, "select count(*) from reopenings") == [(1,)]
    assert ask(lake, "select count(distinct trading_day), count(*) from sales") == [(3, 7)]


class Killed(BaseException):
    """As a kill: nothing below may catch it and go on."""


def steps(run: Callable[[], Brought], least: int, monkeypatch: pytest.MonkeyPatch) -> int:
    """How many times a run renames, syncs or removes something; killed before the ``least``-th."""
    count = 0
    with monkeypatch.context() as patch:

        def counted(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
            def call(*given: Any, **named: Any) -> Any:
                nonlocal count
                count += 1
                if count >= least:
                    raise Killed(name)
                return real(*given, **named)

            return call

        for owner, name in ((Path, "replace"), (Path, "unlink"), (os, "fsync"), (shutil, "rmtree")):
            patch.setattr(owner, name, counted(name, getattr(owner, name)))
        with suppress(Killed):
            run()
    return count


@pytest.mark.parametrize("what", ["first run", "a day added", "a day closed anew"])
def test_a_run_killed_anywhere_is_finished_or_undone_by_the_next(
    what: str, hand: ShopInHand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lakes = (tmp_path / f"lake-{n}" for n in itertools.count())
    before, whole = tmp_path / "before", tmp_path / "whole"
    before.mkdir()
    if what == "a day closed anew":
        sell_and_close(hand)
    # Also a first run is not the first of this shop: what an opened one proves once is not counted.
    hand.shop.exports.export_lake(before if what != "first run" else tmp_path / "another")
    if what == "a day closed anew":
        hand.shop.evening.reopen_day("one more came")
        hand.sell("firm-block")
        hand.shop.evening.close_day()
    elif what == "a day added":
        sell_and_close(hand)
    shutil.copytree(before, whole)
    count = steps(lambda: hand.shop.exports.export_lake(whole), 10**6, monkeypatch)
    assert count > 60
    parts = often(9, 3)
    for nth in sorted({1, 2, count - 1, count, *(count * n // parts for n in range(1, parts))}):
        lake = next(lakes)
        shutil.copytree(before, lake)
        assert steps(lambda lake=lake: hand.shop.exports.export_lake(lake), nth, monkeypatch) >= nth
        assert parquet(lake).keys() <= parquet(before).keys() | parquet(whole).keys()
        hand.shop.exports.export_lake(lake)
        assert parquet(lake).keys() == parquet(whole).keys(), nth
        assert not list((lake / "_staging").glob("*"))
        every = "select * from sales order by all"
        assert ask(lake, every) == ask(whole, every)
        assert hand.shop.exports.export_lake(lake) == Brought(added=())


def test_a_full_disk_leaves_the_lake_as_it_was(
    hand: ShopInHand, lake: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand.shop.exports.export_lake(lake)
    before = parquet(lake)
    sell_and_close(hand)

    def full(fd: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("counter.reports.lake.os.fsync", full)
        with pytest.raises(NotWritten, match=r"Cannot write the lake .*no space left on device"):
            hand.shop.exports.export_lake(lake)
    assert parquet(lake) == before
    assert hand.shop.exports.export_lake(lake).added == (THURSDAY,)


def test_two_runs_at_once_do_not_mix(hand: ShopInHand, lake: Path) -> None:
    hand.shop.exports.export_lake(lake)
    held, free = threading.Event(), threading.Event()

    def hold() -> None:
        with FileLock(lake / "_shops" / f"{hand.shop.exports.whose.mark}.lock"):
            held.set()
            free.wait(20)

    other = threading.Thread(target=hold)
    other.start()
    assert held.wait(20)
    with pytest.raises(Refused, match="another program adds the days of this shop just now"):
        hand.shop.exports.export_lake(lake)
    free.set()
    other.join(20)


def test_a_shop_that_went_apart_is_not_mixed_into_the_lake_of_the_other(
    tmp_path: Path, filled: Filled, lake: Path
) -> None:
    one = filled(tmp_path / "one", lived_in)
    one.shop.exports.export_lake(lake)
    stamp = next((lake / "_shops").glob("*.json"))
    stamp.write_text(stamp.read_text("utf-8").replace("2026-11-25T18", "2026-11-25T19"), "utf-8")
    with pytest.raises(Refused) as refusal:
        one.shop.exports.export_lake(lake)
    assert str(refusal.value) == (
        "Cannot add to the lake: it has another closing of 2026-11-25, a day never opened again in"
        " these books. Two computers may have gone apart from one shop; choose another folder."
    )
    stamp.write_text("{}", "utf-8")
    with pytest.raises(BadInput, match="is not as it was written"):
        one.shop.exports.export_lake(lake)


def test_nothing_closed_is_nothing_for_a_lake(tmp_path: Path, lake: Path) -> None:
    from counter.shop import make_shop
    from tests.conftest import SETTINGS, Clock

    shop = make_shop(tmp_path / "empty", SETTINGS, Clock())
    with pytest.raises(Refused, match="no day is begun yet"):
        shop.exports.export_lake(lake)
    shop.evening.move_cash("float", 15000)
    with pytest.raises(Refused) as refusal:
        shop.exports.export_lake(lake)
    assert str(refusal.value) == (
        "Cannot add to the lake: no day is closed yet. Close a day; an open one still changes."
    )
    assert not lake.exists()


def test_what_is_changed_after_a_run_comes_with_the_next(hand: ShopInHand, lake: Path) -> None:
    # In the evening, once the day is closed and in the lake, and on days without a book.
    sell_and_close(hand)
    hand.shop.exports.export_lake(lake)
    prices = "select price, since, latest from prices where portion_key = 'firm-block' order by 2"
    assert [(p, now) for p, _, now in ask(lake, prices)] == [(Decimal("3.25"), True)]
    hand.clock.set("2026-11-26 20:00")
    hand.shop.products.change_portion("firm-block", 350, by="Rosa")
    hand.clock.set("2026-11-27 12:00")
    hand.shop.products.change_portion("firm-block", 375, by="Rosa")
    assert hand.shop.exports.export_lake(lake) == Brought(added=())
    sell_and_close(hand, "2026-11-28")
    hand.shop.exports.export_lake(lake)
    found = [(p, now) for p, _, now in ask(lake, prices)]
    assert found == [(Decimal("3.25"), False), (Decimal("3.5"), False), (Decimal("3.75"), True)]
    told = "select count(*) from changes where thing = 'firm-block' and what = 'price'"
    assert ask(lake, told) == [(2,)]


def test_a_mending_and_a_stop_of_a_closed_day_come_once_with_the_next_run(
    hand: ShopInHand, lake: Path
) -> None:
    sell_and_close(hand)
    hand.shop.exports.export_lake(lake)
    hand.clock.set("2026-11-26 20:00")  # closed, and in the lake
    hand.shop.holds.hold("26329-01", True, "the mill called", by="Rosa")
    number = lose_one(hand, "2026-11-26")
    for day in ("2026-11-27", "2026-11-28"):
        sell_and_close(hand, day)
        hand.shop.exports.export_lake(lake)
    assert ask(lake, "select lost_lines, person from mendings") == [(str(number), "Ida")]
    assert ask(lake, "select number, book from lost") == [(number, "2026-11-26")]
    stops = "select lot, line from holds where why = 'the mill called'"
    assert ask(lake, stops) == [("26329-01", None)]


def test_a_file_that_somebody_removed_is_written_anew(hand: ShopInHand, lake: Path) -> None:
    hand.shop.exports.export_lake(lake)
    before = parquet(lake)
    next((lake / "waste").rglob("*.parquet")).unlink()
    made = hand.shop.exports.export_lake(lake)
    assert (made.added, made.missing) == ((), (TUESDAY,))
    assert parquet(lake) == before


def day(text: str) -> date:
    return date.fromisoformat(text)


def test_the_last_day_has_a_file_of_its_own_since_it_may_be_opened_again() -> None:
    noon = datetime(2025, 3, 1, 12, tzinfo=UTC)
    closed = {day("2024-05-02"): "a", day("2025-01-07"): "b", day("2025-03-01"): "c"}
    stays, anew = plan((), (), closed, noon)
    assert stays == []
    assert [(str(c.first), str(c.last), len(c.days), c.since, c.until) for c in anew] == [
        ("2024-05-02", "2025-01-07", 2, BEGIN, BEGIN),
        ("2025-01-08", "2025-03-01", 1, BEGIN, noon),
    ]  # fmt: skip
    assert plan(anew, (), closed, noon) == (anew, [])
    opened = {k: v for k, v in closed.items() if v != "c"}
    assert plan(anew, (), opened, noon) == (anew[:1], [])
    later = noon.replace(hour=20)
    stays, again = plan(anew[:1], (), closed, later)
    assert (stays, [(str(c.first), c.since, c.until) for c in again]) == (
        anew[:1], [("2025-01-08", BEGIN, later)],
    )  # fmt: skip
