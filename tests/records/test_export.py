"""What an export says is what the day books say, read a second time by plain JSON."""

from __future__ import annotations

import csv
import io
import json
import re
import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import BadInput, NotFound, Refused
from counter.reports.export import csv_line, defuse
from counter.reports.schema import TYPES, schema_text
from counter.reports.tables import ALL, kinds
from counter.shop import Shop
from counter.shop.production import BatchNote
from counter.shop.staffing import set_pin
from labels.errors import NotWritten
from labels.say import Said, from_kept
from tests.conftest import CATALOGUE, ShopInHand
from tests.lines import lines_of
from tests.shop.test_mending import folder_of, mended, spoil


def plain_lines(folder: Path, table: str) -> Iterator[tuple[str, dict[str, Any], dict[str, Any]]]:
    """Day, line and record of a table, read without any of our code."""
    for text in sorted(lines_of(folder), key=lambda text: json.loads(text)["book"]):
        line = json.loads(text)
        for record in line["records"].get(table, []):
            yield line["book"], line, record


def exported(hand: ShopInHand, name: str, *days: date) -> list[dict[str, str]]:
    stream = io.StringIO(newline="")
    hand.shop.exports.export_to(name, stream, *days)
    return list(csv.DictReader(io.StringIO(stream.getvalue(), newline="")))


def cents(text: str) -> int:
    return int(Decimal(text) * 100)


def test_sales_add_up_to_the_cent_as_in_the_day_books(hand: ShopInHand, tmp_path: Path) -> None:
    sales = exported(hand, "sales")
    records = list(plain_lines(tmp_path / "shop", "sales"))
    assert [(r["trading_day"], int(r["line"]), r["sale"], cents(r["total"])) for r in sales] == [
        (day, line["line"], sale["number"], sale["total"]) for day, line, sale in records
    ]
    lines = exported(hand, "sale_lines")
    assert len(lines) == sum(len(sale["lines"]) for _, _, sale in records)
    for _, _, sale in records:
        mine = [r for r in lines if r["sale"] == sale["number"]]
        added = 0 if sale.get("included") else sum(cents(r["tax"]) for r in mine)
        assert sum(cents(r["net"]) for r in mine) + added == sale["total"]
        paid = [r for r in exported(hand, "payments") if r["sale"] == sale["number"]]
        assert sum(cents(r["amount"]) for r in paid) == sale["total"] + sale.get("rounding", 0)


def test_lots_of_sales_add_up_to_the_piece(hand: ShopInHand, tmp_path: Path) -> None:
    mine: dict[str, int] = {}
    for row in exported(hand, "sale_lots"):
        mine[row["lot"]] = mine.get(row["lot"], 0) + int(row["amount"])
    theirs: dict[str, int] = {}
    for _, _, sale in plain_lines(tmp_path / "shop", "sales"):
        for line in sale["lines"]:
            for draw in line["draws"]:
                theirs[draw["lot"]] = theirs.get(draw["lot"], 0) + draw["amount"]
    assert mine == theirs
    assert set(theirs) == {"26328-01", "26328-02", "26328-03", "26329-01"} & set(theirs)
    assert len(theirs) >= 3


@pytest.mark.parametrize(
    ("name", "table", "pairs"),
    [
        ("waste", "waste", {"lot": "lot", "amount": "amount", "reason": "reason"}),
        ("counts", "counts", {"lot": "lot", "amount": "amount"}),
        ("holds", "holds", {"lot": "lot", "why": "why"}),
        ("tubs", "tubs", {"tub": "tub", "level": "level", "mode": "mode"}),
        ("checks", "checks", {"tub": "tub", "celsius": "celsius"}),
        ("ended", "ended", {"tub": "tub", "left_ml": "left"}),
        ("temperatures", "temperatures", {"place": "place", "celsius": "celsius", "note": "note"}),
        ("thermometers", "thermometers", {"thermometer": "thermometer", "celsius": "celsius"}),
        ("batches", "batches", {"lot": "lot", "made": "made", "product": "product"}),
        ("refunds", "refunds", {"refund": "number", "sale": "sale", "why": "why"}),
    ],
)
def test_each_row_is_a_record_of_the_day_books(
    hand: ShopInHand, tmp_path: Path, name: str, table: str, pairs: dict[str, str]
) -> None:
    rows = exported(hand, name)
    records = list(plain_lines(tmp_path / "shop", table))
    assert rows
    assert [[r["trading_day"], r["entered"], *(r[ours] for ours in pairs)] for r in rows] == [
        [day, iso(line["entered"]), *(plain(record.get(theirs, "")) for theirs in pairs.values())]
        for day, line, record in records
    ]


def plain(value: object) -> str:
    """A value as a cell has it: a text of the program in English."""
    return str(from_kept(Said, value) if isinstance(value, dict) else value)


def iso(text: str) -> str:
    return datetime.fromisoformat(text).isoformat()


def test_what_went_in_stands_with_its_supplier_code(hand: ShopInHand) -> None:
    rows = [r for r in exported(hand, "ingredients") if r["lot"] == "26328-01"]
    codes = {r["ingredient"]: r["supplier_code"] for r in rows if r["supplier_code"]}
    assert codes == {"soybeans": "AF-46", "gypsum": "G-7"}


def test_each_figure_of_a_batch_stands_in_its_own_column(hand: ShopInHand) -> None:
    note = {
        "boiled_minutes": None, "cook_minutes": 7, "cook_celsius": Decimal(96), "brix": Decimal(11),
        "cook_ended": time(7, 10), "cooled": (time(7, 50), time(8, 40)), "passed_57": time(7, 20),
        "press_kpa": Decimal(390), "press_minutes": 25, "notes": "pale",
    }  # fmt: skip
    made = hand.batch("firm", 44, **note)
    [row] = [row for row in exported(hand, "batches") if row["lot"] == made.lot]
    clocks = {
        "passed_57": "07:20",
        "cook_ended": "07:10",
        "cooled_21": "07:50",
        "cooled_5": "08:40",
    }
    assert {name: row[name][11:16] for name in clocks} == clocks
    assert row["pack_date"] == "2026-11-30"
    figures = {"made": "44", "brix": "11", "cook_minutes": "7", "cook_celsius": "96",
               "press_kpa": "390", "press_minutes": "25", "notes": "pale"}  # fmt: skip
    assert {name: row[name] for name in figures} == figures


def test_closings_hold_the_identity_of_every_lot(hand: ShopInHand) -> None:
    rows = exported(hand, "closing_lots")
    assert {r["trading_day"] for r in rows} == {"2026-11-24", "2026-11-25"}
    for r in rows:
        n = {
            k: int(r[k])
            for k in ("carried_in", "made", "sold", "used", "wasted", "carried_out", "variance")
        }
        assert n["carried_in"] + n["made"] == (
            n["sold"] + n["used"] + n["wasted"] + n["carried_out"] + n["variance"]
        )
    (tuesday, _) = exported(hand, "closings")
    cash = {
        k: cents(tuesday[f"cash_{k}"])
        for k in ("start", "sales", "refunds", "in", "out", "expected", "counted", "variance")
    }
    assert (
        cash["expected"]
        == cash["start"] + cash["sales"] - cash["refunds"] + cash["in"] - cash["out"]
    )
    assert cash["variance"] == cash["expected"] - cash["counted"]


def test_what_was_weighed_is_a_number_of_grams(hand: ShopInHand) -> None:
    hand.batch("pressed", 4000)
    hand.sell("pressed:0.5lb")
    [line] = [r for r in exported(hand, "sale_lines") if r["weight"]]
    # The pound is 0.45359237 kg (international yard and pound agreement, 1959).
    assert (line["weight"], line["grams"]) == ("0.5 lb", "226.796185")


def test_every_row_says_of_which_shop_and_in_which_currency_it_is(hand: ShopInHand) -> None:
    whose = {
        "shop_name": "Millrace Tofu Works",
        "currency": "USD",
        "time_zone": "America/Los_Angeles",
    }
    marks = set()
    for name in kinds():
        for row in exported(hand, name):
            assert {key: row[key] for key in whose} == whose
            marks.add(row["shop_id"])
    hand.shop.products.load_catalogue(CATALOGUE.replace("3.25", "3.50"))
    assert marks == {f"{hand.shop.exports.whose.mark}"}
    assert re.fullmatch("s[0-9a-f]{6}", hand.shop.exports.whose.mark)


def test_the_latest_revision_of_a_batch_is_flagged_also_where_a_later_day_has_it(
    hand: ShopInHand,
) -> None:
    hand.shop.amendments.amend_batch("26329-01", BatchNote(notes="pale"), "looked again", by="Teo")
    tuesday, wednesday = date(2026, 11, 24), date(2026, 11, 25)

    def flags(name: str, *days: date) -> list[tuple[str, str, str]]:
        rows = exported(hand, name, *days)
        return [(r["lot"], r["revision"], r["latest"]) for r in rows if r["lot"] == "26329-01"]

    assert flags("batches") == [("26329-01", "0", "false"), ("26329-01", "1", "true")]
    assert flags("batches", tuesday, wednesday) == [("26329-01", "0", "false")]
    assert {latest for _, _, latest in flags("ingredients", wednesday, wednesday)} == {"false"}


def test_a_day_closed_twice_has_both_closings_and_one_of_them_is_the_latest(
    hand: ShopInHand,
) -> None:
    hand.sell("firm-block")
    hand.shop.evening.close_day()

    def flags() -> list[tuple[str, str, str]]:
        rows = exported(hand, "closings")
        return [(r["trading_day"][8:], r["revision"], r["latest"]) for r in rows]

    before = [("24", "0", "true"), ("25", "0", "true")]
    assert flags() == [*before, ("26", "0", "true")]
    hand.shop.evening.reopen_day("one more came")
    assert flags() == [*before, ("26", "0", "false")]
    hand.sell("firm-block")
    hand.shop.evening.close_day()
    assert flags() == [*before, ("26", "0", "false"), ("26", "1", "true")]
    sold = [r for r in exported(hand, "closing_portions") if r["trading_day"] == "2026-11-26"]
    assert [(r["quantity"], r["latest"]) for r in sold] == [("1", "false"), ("2", "true")]


def test_catalogues_prices_and_people_are_tables_with_since_when(hand: ShopInHand) -> None:
    hand.clock.set("2026-11-26 12:00")
    dearer = CATALOGUE.replace('price = "3.25"\nbreaks', 'price = "3.50"\nbreaks')
    hand.shop.products.load_catalogue(dearer.replace('role = "maker"', 'role = "owner"'), by="Rosa")
    prices = [r for r in exported(hand, "prices") if r["portion_key"] == "firm-block"]
    assert [(r["price"], r["last_day_price"], r["since"][:16], r["latest"]) for r in prices] == [
        ("3.25", "2.25", "2026-11-24T04:10", "false"), ("3.50", "2.25", "2026-11-26T12:00", "true"),
    ]  # fmt: skip
    [old, _] = [r for r in exported(hand, "price_breaks") if r["portion_key"] == "firm-block"]
    assert (old["quantity"], old["price"]) == ("3", "9.00")
    rights = [(r["name"], r["rights"]) for r in exported(hand, "staff") if r["latest"] == "true"]
    assert rights == [("Rosa", "owner"), ("Teo", "owner"), ("Ida", "counter")]
    inside = {
        (r["allergen"], r["ingredient"]) for r in exported(hand, "product_allergens")
        if r["product"] == "spiced"
    }  # fmt: skip
    assert inside == {("soy", "soybeans"), ("soy", "soy-sauce"), ("wheat", "soy-sauce")}
    only = exported(hand, "prices", date(2026, 11, 24), date(2026, 11, 25))
    assert {r["revision"] for r in only} == {"0"}


def test_who_changed_what_is_a_table_and_no_pin_is_in_it(hand: ShopInHand) -> None:
    shop = hand.shop
    shop.products.change_portion("firm-block", 350, by="Rosa")
    set_pin(shop.desk, "rosa", "4711", by="Rosa")
    set_pin(shop.desk, "rosa", "47119", by="Rosa")
    there = shop.setup.settings_file()
    shop.setup.change_settings({("shop", "phone"): "555-0199"}, there.digest, by="Rosa")
    told = [
        (r["person"], r["about"], r["thing"], r["what"], r["was"], r["became"])
        for r in exported(hand, "changes") if r["trading_day"] == "2026-11-26"
    ]  # fmt: skip
    assert ("Rosa", "catalogue", "firm-block", "price", "3.25", "3.50") in told
    assert ("Rosa", "pin", "rosa", "PIN", "", "set") in told
    assert ("Rosa", "pin", "rosa", "PIN", "set", "another") in told
    assert ("Rosa", "settings", "", "shop.phone: '555-0142' -> '555-0199'", "", "") in told
    first = [r for r in exported(hand, "changes") if r["trading_day"] == "2026-11-24"]
    assert {"firm", "firm-block", "rosa", "soybeans"} <= {r["thing"] for r in first}
    for name in kinds():
        assert "scrypt" not in str(exported(hand, name))


def test_a_range_of_days_is_that_range(hand: ShopInHand) -> None:
    day = date(2026, 11, 25)
    assert {r["trading_day"] for r in exported(hand, "sales", day, day)} == {"2026-11-25"}
    assert {r["trading_day"] for r in exported(hand, "closings", day, day)} == {"2026-11-25"}
    with pytest.raises(BadInput, match="ends before it begins"):
        exported(hand, "sales", date(2026, 11, 25), date(2026, 11, 24))


def test_all_kinds_go_into_a_folder_with_their_columns(hand: ShopInHand, tmp_path: Path) -> None:
    made = hand.shop.exports.export("all", tmp_path / "out")
    names = {kind.name for kind in ALL}
    assert {Path(m.path).stem for m in made} == names
    assert {p.name for p in (tmp_path / "out").iterdir()} == {
        "columns.md",
        *(f"{n}.csv" for n in names),
    }
    for one in made:
        data = Path(one.path).read_bytes()
        assert data.endswith(b"\r\n")
        assert b"\n" not in data.replace(b"\r\n", b"")
        rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))
        kind = kinds()[Path(one.path).stem]
        assert rows[0] == [f.name for f in kind.columns]
        assert len(rows) - 1 == one.rows
        assert all(len(row) == len(rows[0]) for row in rows)
    empty = {Path(m.path).stem for m in made if not m.rows}
    assert empty <= {
        "closing_back",
        "printed",
        "warnings",
        "refund_lots",
        "corrections",
        "correction_lines",
        "answers",
        "reopenings",
        "sale_taxes",
        "mendings",
        "lost",
    }


def test_every_table_of_a_day_book_is_exported() -> None:
    from counter.shop.desk import TABLES

    # Who changed settings, PINs and standing answers is told by changes; stops repeat the holds.
    told = {"settings", "pins", "confirmed"}
    assert {k.source for k in ALL} == {*TABLES, "changes"} - told - {"stops"}


def lose_one(hand: ShopInHand, book: str) -> int:
    """Spoil the last line of a book and mend the shop; which line of the shop that was."""
    number = hand.shop.desk.books.entries(book)[-1].number
    hand.shop.desk.books.close()
    spoil(folder_of(hand), number)
    mended(hand)
    return number


@pytest.mark.parametrize("book", ["2026-11-24", "closings", "catalogue"])
def test_a_mending_and_each_line_it_lost_are_tables(hand: ShopInHand, book: str) -> None:
    at = hand.shop.desk.books.entries(book)[-1].n
    number = lose_one(hand, book)
    [mending] = exported(hand, "mendings")
    whole = hand.shop.desk.books.end()[0] - 2  # without the one lost and that of the mending
    assert (mending["lines"], mending["lost_lines"]) == (str(whole), str(number))
    assert (mending["person"], mending["trading_day"]) == ("Ida", str(hand.shop.desk.today()))
    assert mending["kept_as"].startswith("books.sqlite.damaged-")
    [lost] = exported(hand, "lost")
    assert (lost["number"], lost["book"], lost["line_of_book"]) == (str(number), book, str(at))
    assert lost["moment"] == mending["moment"]
    assert lost["since"] <= lost["until"] <= lost["moment"]


def test_a_stop_on_a_closed_day_is_exported_without_a_line(hand: ShopInHand) -> None:
    before = exported(hand, "holds")
    day = date(2026, 11, 25)
    hand.clock.set("2026-11-25 20:00")  # it was closed at six
    hand.shop.holds.hold("26329-01", True, "the mill called", by="Rosa")
    [row] = [r for r in exported(hand, "holds") if r not in before]
    assert (row["lot"], row["why"], row["person"]) == ("26329-01", "the mill called", "Rosa")
    assert (row["line"], row["trading_day"]) == ("", str(day))
    assert row in exported(hand, "holds", day, day)
    assert row not in exported(hand, "holds", day - timedelta(days=1), day - timedelta(days=1))


def test_a_stop_whose_line_a_mending_lost_is_exported_once(hand: ShopInHand) -> None:
    hand.shop.holds.hold("26329-01", True, "a hair", by="Ida")
    known = [r for r in exported(hand, "holds") if r["why"] == "a hair"]
    lose_one(hand, str(hand.shop.desk.today()))
    [row] = [r for r in exported(hand, "holds") if r["why"] == "a hair"]
    assert [row] == [r | {"line": "", "entered": ""} for r in known]


def test_the_documentation_names_every_column_and_type() -> None:
    text = schema_text(ALL)
    for kind in ALL:
        assert f"## {kind.name}\n" in text
        names = [f.name for f in kind.columns]
        assert len(names) == len(set(names))
        assert all(f.type in TYPES for f in kind.columns)
        assert names[0] == "trading_day"
        assert names[-4:] == ["shop_id", "shop_name", "currency", "time_zone"]
        assert ("latest" in names) is ("revision" in names)
        for column in kind.columns:
            assert column.says.strip()
            assert f"| {column.name} | {column.type} | {column.says} |" in text


# -- formulas


@pytest.mark.parametrize(
    ("text", "safe"),
    [
        ("=SUM(A1)", "'=SUM(A1)"), ("+1-2", "'+1-2"), ("-A1", "'-A1"), ("@now", "'@now"),
        ("\tx", "'\tx"), ("\rx", "'\rx"), ("\nx", "'\nx"), ("＝1", "'＝1"),
        ("-5", "-5"), ("+5", "+5"), ("-0.5", "-0.5"), ("-5.", "'-5."), ("-.5", "'-.5"),
        ("-5\n", "'-5\n"), ("-١", "'-١"), ("-1e5", "'-1e5"),
        ("plain", "plain"), ("", ""), ("a=b", "a=b"), ("'=1", "'=1"),
    ],
)  # fmt: skip
def test_formulas_are_defused_and_numbers_are_left(text: str, safe: str) -> None:
    assert defuse(text) == safe


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"])), min_size=1))
def test_a_line_reads_back_as_it_was_but_for_the_apostrophe(cells: list[str]) -> None:
    line = csv_line(cells)
    assert line.endswith("\r\n")
    (row,) = csv.reader(io.StringIO(line, newline=""), strict=True)
    assert row == [defuse(c) for c in cells]
    for read, cell in zip(row, cells, strict=True):
        assert read.removeprefix("'") == cell.removeprefix("'") or read == cell
        assert read[:1] not in {"=", "@", "\t", "\r"}


def test_a_note_of_the_maker_is_no_formula_in_a_spreadsheet(hand: ShopInHand) -> None:
    assert exported(hand, "batches")[0]["notes"] == "'=SUM(A1)"
    assert "'@dropped, by the delivery" in {r["words"] for r in exported(hand, "waste")}


# -- Parquet


def test_parquet_holds_what_csv_holds(hand: ShopInHand, tmp_path: Path) -> None:
    pq = pytest.importorskip("pyarrow.parquet")
    for one in hand.shop.exports.export("all", tmp_path / "out", form="parquet"):
        kind = kinds()[Path(one.path).stem]
        table = pq.read_table(one.path)
        assert table.column_names == [f.name for f in kind.columns]
        assert table.num_rows == one.rows
        for row, text in zip(table.to_pylist(), exported(hand, kind.name), strict=True):
            for field in kind.columns:
                assert same(row[field.name], text[field.name]), (kind.name, field)


def same(value: object, text: str) -> bool:
    if value is None:
        return text == ""
    if isinstance(value, bool):
        return text == str(value).lower()
    if isinstance(value, datetime):
        return datetime.fromisoformat(text).astimezone(UTC) == value
    if isinstance(value, Decimal):
        return Decimal(text) == value
    return text.removeprefix("'") == str(value) or text == str(value)


def test_parquet_says_what_its_columns_mean(hand: ShopInHand, tmp_path: Path) -> None:
    pq = pytest.importorskip("pyarrow.parquet")
    hand.shop.exports.export("waste", tmp_path / "w.parquet", form="parquet")
    schema = pq.read_schema(tmp_path / "w.parquet")
    assert schema.metadata[b"table"] == b"waste"
    assert str(schema.field("moment").type) == "timestamp[us, tz=UTC]"
    assert schema.field("words").metadata[b"says"] == b"where the reason is other"


def test_without_pyarrow_a_sentence_says_how_to_get_it(
    hand: ShopInHand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(Refused) as refusal:
        hand.shop.exports.export("waste", tmp_path / "w.parquet", form="parquet")
    assert str(refusal.value) == (
        "Cannot export as Parquet: pyarrow is not installed."
        " Install it with `pip install pyarrow`, or export as CSV."
    )
    assert {p.name for p in tmp_path.iterdir()} == {"shop"}


# -- refusals


def test_an_unknown_kind_is_refused_with_near_names(hand: ShopInHand, tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="Did you mean sale_lines"):
        hand.shop.exports.export("sales_lines", tmp_path / "x.csv")


def test_all_into_a_file_is_refused(hand: ShopInHand, tmp_path: Path) -> None:
    (tmp_path / "x.csv").write_text("mine")
    with pytest.raises(BadInput, match="it is a file"):
        hand.shop.exports.export("all", tmp_path / "x.csv")
    assert (tmp_path / "x.csv").read_text() == "mine"


def test_a_disk_that_refuses_leaves_what_was_there(
    hand: ShopInHand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "w.csv"
    out.write_text("before")

    def full(fd: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("counter.reports.export.os.fsync", full)
    with pytest.raises(NotWritten, match="no space left on device"):
        hand.shop.exports.export("waste", out)
    assert out.read_text() == "before"
    assert {p.name for p in tmp_path.iterdir()} == {"shop", "w.csv"}


def test_a_shop_without_a_day_has_nothing_to_export(tmp_path: Path) -> None:
    from counter.shop import make_shop
    from tests.conftest import SETTINGS, Clock

    shop: Shop = make_shop(tmp_path / "empty", SETTINGS, Clock())
    with pytest.raises(Refused, match="no day is begun yet"):
        shop.exports.export("waste", tmp_path / "x.csv")
