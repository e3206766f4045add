"""A shop of every format that was released opens with the program of today, and goes on selling.

``figures.toml`` beside the books says what they said when they were made.
"""

from __future__ import annotations

import shutil
import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args

import msgspec
import pytest

from counter.books.formats import FILE, FORMAT
from counter.shop import Shop
from counter.trade.catalogue import Cooking, Pack
from counter.trade.tables import TABLES
from tests.conftest import Clock, ShopInHand

HERE = Path(__file__).parent
FORMATS = sorted(path.name for path in HERE.iterdir() if path.name.isdecimal())


@pytest.fixture(params=FORMATS)
def kept(request: pytest.FixtureRequest, tmp_path: Path) -> ShopInHand:
    """A copy of the shop; the one in the tests stays as it is."""
    folder = tmp_path / request.param
    shutil.copytree(HERE / request.param, folder)
    clock = Clock("2026-11-25 18:00")
    return ShopInHand(Shop.open(folder, clock), clock)


def figures_of(shop: Shop) -> dict[str, Any]:
    """What the books say: records by table, and the money and pieces of the closed days."""
    tables = {name: len(shop.desk.books.lines.find(name, kind)) for name, kind in TABLES.items()}
    days = {
        str(day): _figures(shop, day) for day in shop.records.days() if day <= date(2026, 11, 24)
    }
    return {"tables": tables, "days": days}


def _figures(shop: Shop, day: date) -> dict[str, int]:
    closing = shop.closings.of(day)
    return {
        "sales": closing.sales,
        "total": closing.total,
        "refunded": closing.refunded,
        "cash": closing.cash.expected,
        "pieces": sum(lot.sold for lot in closing.lots if lot.unit == "piece"),
        "left": sum(lot.carried_out for lot in closing.lots),
    }


def test_the_format_of_today_has_its_shop() -> None:
    assert FORMATS[-1] == str(FORMAT)
    assert [path.name for path in HERE.glob(f"*/{FILE}-*")] == []
    assert all((HERE / name / FILE).stat().st_size < 300_000 for name in FORMATS)


def test_every_table_is_read_typed_and_says_what_it_said(kept: ShopInHand) -> None:
    shop = kept.shop
    assert shop.desk.folder is not None
    figures = tomllib.loads((HERE / shop.desk.folder.name / "figures.toml").read_text("utf-8"))
    assert all(figures["tables"].values())  # each that there was is in use
    found = figures_of(shop)
    assert {name: found["tables"][name] for name in figures["tables"]} == figures["tables"]
    assert found["days"] == figures["days"]
    for document in shop.desk.books.lines.table("lines"):
        for records in document.record.records.values():
            assert all(isinstance(record, msgspec.Struct) for record in records)


def test_it_is_sound_sells_on_and_closes(kept: ShopInHand) -> None:
    shop = kept.shop
    assert [f for f in shop.audit.check().findings if f.line is not None] == []
    kept.batch("firm", 12)
    sale = kept.sell("firm-block*2", cash=1000)
    assert sale.total == 650
    assert shop.counter.booked("slip-0") is not None  # a key stands for ever
    shop.evening.close_day(cash=shop.evening.closing_preview().cash.expected, by="Rosa")
    assert shop.desk.sealed_until() == date(2026, 11, 25)
    shop.desk.books.close()


# What an old record that does not say it means; all else that it does not say is nothing.
MEANT = {
    "Batch.chilled": True, "Draw.how": "assumed", "SaleLine.kind": "price", "Sale.where": "away",
    "Lot.kind": "cold", "Product.day_one": "made", "Product.date": "best-by",
    "Product.held": "cold", "Product.cook": Cooking(Decimal(95), 5), "Product.cooled": True,
    "Product.mould": 1, "Product.recipe_makes": 1, "Product.pack": Pack(),
    "Cooking.celsius": Decimal(95), "Cooking.minutes": 5, "Pack.symbols": ("lot",),
    "Pack.shape": "rectangle", "Pack.sub_ingredients": "brackets", "Person.role": "counter",
    "Tax.mode": "added",
}  # fmt: skip


def records_in(kind: Any, found: dict[str, Any]) -> dict[str, Any]:
    """The types of records that a type is made of, by name."""
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct) and kind.__name__ not in found:
        found[kind.__name__] = kind
        for field in msgspec.structs.fields(kind):
            records_in(field.type, found)
    for part in get_args(kind):
        records_in(part, found)
    return found


def test_what_an_old_record_does_not_say_is_nothing_or_what_was_meant() -> None:
    found: dict[str, Any] = {}
    for kind in TABLES.values():
        records_in(kind, found)
    assert len(found) > 50
    said = {}
    for name, kind in found.items():
        for field in msgspec.structs.fields(kind):
            made = field.default_factory
            value = field.default if made is msgspec.NODEFAULT else made()
            if value is not msgspec.NODEFAULT and value:
                said[f"{name}.{field.name}"] = value
    assert said == MEANT
