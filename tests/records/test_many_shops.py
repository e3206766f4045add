"""Five invented shops over three years: what engines say of the lake is what the shops' own reports
say, to the cent. What is asked is the session of DEVELOPERS.md, as it stands there."""

from __future__ import annotations

import re
import tempfile
from collections import Counter
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import dask
import duckdb
import pytest
from distributed import Client, LocalCluster

from counter.shop import Shop
from tests.records.makers import BRANCHES, live

FIRST, LAST = date(2024, 1, 2), date(2026, 12, 31)
GUIDE = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")
SESSION = GUIDE[GUIDE.index("## Many shops") :]
Answers = list[dict[tuple[str, str], Any]]


def block(language: str, nth: int = 0) -> str:
    return re.findall(rf"```{language}\n(.*?)```", SESSION, re.DOTALL)[nth]


@pytest.fixture(scope="module")
def shops() -> Iterator[tuple[Path, list[Shop]]]:
    """The shops, and the folder around their lake. Where syncing costs nothing, if there is such a
    place: some ten thousand commits are written."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as name:
        folder = Path(name)
        made = [live(b, folder / f"shop-{n}", FIRST, LAST, 8) for n, b in enumerate(BRANCHES)]
        for shop in made:
            shop.exports.export_lake(folder / "lake")
        yield folder, made


@pytest.fixture(scope="module")
def reported(shops: tuple[Path, list[Shop]]) -> Answers:
    """The same three figures out of the yearly reports, as money."""
    months: dict[tuple[str, str], Decimal] = {}
    waste: Counter[tuple[str, str]] = Counter()
    sold: Counter[tuple[str, str]] = Counter()
    nets: Counter[tuple[str, str]] = Counter()
    money = {}
    for shop in shops[1]:
        name, places = shop.desk.settings.shop.name, shop.desk.settings.places
        money[name] = places
        for year in range(FIRST.year, LAST.year + 1):
            report = shop.reports.span_summary("year", date(year, 6, 1))
            for piece in report.pieces:
                months[name, f"{piece.first:%Y-%m}"] = Decimal(piece.total).scaleb(-places)
            for lost in report.waste:
                waste[name, lost.reason] += lost.cost
            for portion in report.portions:
                sold[name, portion.portion] += portion.quantity
                nets[name, portion.portion] += portion.net
    return [
        months,
        {key: Decimal(cost).scaleb(-money[key[0]]) for key, cost in waste.items()},
        {key: (n, Decimal(nets[key]).scaleb(-money[key[0]])) for key, n in sold.items()},
    ]


def test_the_shops_differ_in_money_and_clock_and_sold_on_some_hundred_days_each(
    shops: tuple[Path, list[Shop]], reported: Answers
) -> None:
    assert {shop.desk.settings.places for shop in shops[1]} == {0, 2, 3}
    assert len({shop.desk.settings.shop.timezone for shop in shops[1]}) == 5
    assert all(len(shop.closings.between(FIRST, LAST)) > 130 for shop in shops[1])
    assert len({shop.exports.whose.mark for shop in shops[1]}) == 5
    assert len(reported[0]) == 5 * 36
    assert all(total > 0 for total in reported[0].values())
    assert {reason for _, reason in reported[1]} == {
        "broken",
        "tasting",
        "given",
        "stopped",
        "date",
    }
    back = [c for shop in shops[1] for c in shop.closings.between(FIRST, LAST) if c.back]
    assert len(back) > 40  # sales that went back whole on a later day


def test_duckdb_says_of_the_lake_what_the_reports_say(
    shops: tuple[Path, list[Shop]], reported: Answers, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(shops[0])
    with duckdb.connect() as con:
        opening = block("python").replace("import duckdb", "").replace("duckdb.sql", "con.execute")
        exec(opening, {"con": con})
        found = [con.execute(sql).fetchall() for sql in block("sql").split(";")[:3]]
    firsts = [" | ".join(map(str, rows[0])) for rows in found]
    assert firsts == re.findall("^-- (.*)$", block("sql"), re.MULTILINE)
    assert {(shop, month): total for shop, month, total in found[0]} == reported[0]
    assert {(shop, reason): cost for shop, reason, cost in found[1]} == reported[1]
    assert {(shop, key): (n, net) for shop, key, n, net in found[2]} == reported[2]
    names = [row[0] for row in found[2]]
    best = [key for name in dict.fromkeys(names) for key in _best(reported[2], name)]
    assert [row[1] for row in found[2]] == best


def test_duckdb_says_of_a_shops_own_database_what_its_reports_say(
    shops: tuple[Path, list[Shop]], reported: Answers
) -> None:
    for n, shop in enumerate(shops[1]):  # open all the while
        with duckdb.connect() as con:
            opening = block("python", 2).replace("north/", f"{shops[0]}/shop-{n}/")
            opening = opening.replace("import duckdb\n", "").replace("duckdb.sql", "con.execute")
            exec(opening, {"con": con})
            found = [con.execute(sql).fetchall() for sql in block("sql", 1).split(";")[:-1]][2:]
        name, places = shop.desk.settings.shop.name, shop.desk.settings.places
        months, waste, sold = (
            {key: answer for (town, key), answer in answers.items() if town == name}
            for answers in reported
        )

        def money(minor: int, places: int = places) -> Decimal:
            return Decimal(minor).scaleb(-places)

        assert {month: money(total) for month, total in found[0]} == months
        assert {reason: money(cost) for reason, cost in found[1]} == waste
        assert {key: (n, money(net)) for key, n, net in found[2]} == sold


def _best(sold: dict[tuple[str, str], Any], shop: str) -> list[str]:
    mine = {key: net for (name, key), (_, net) in sold.items() if name == shop}
    return sorted(mine, key=lambda key: -mine[key])


# The cluster closes some of its sockets only as it is forgotten.
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_a_cluster_says_of_the_lake_what_the_reports_say(
    shops: tuple[Path, list[Shop]], reported: Answers, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(shops[0])
    told: dict[str, Any] = {"__name__": "session"}
    exec(block("python", 1), told)
    with (
        dask.config.set({"distributed.worker.daemon": True}),
        LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
        ) as cluster,
        Client(cluster) as client,
    ):
        assert cluster.scheduler_address.startswith("tcp://127.0.0.1:")
        client.wait_for_workers(2)
        pids = set(client.run(lambda: __import__("os").getpid()).values())
        found = [client.compute(answer).result() for answer in told["answers"]()]
    assert len(pids) == 2
    assert found[0].to_dict() == reported[0]
    assert found[1].to_dict() == reported[1]
    assert {key: (row.quantity, row.net) for key, row in found[2].iterrows()} == reported[2]
