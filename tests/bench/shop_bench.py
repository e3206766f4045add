"""What a sale through Shop costs beside a bare SQLite insert of the same document.

Both sell in turn, so that whatever else the disk does meets both alike. The ten years of history
are 3,130 trading days (six a week), each with its ten batches, sixty sales and a closing of full size:
some 220,000 lines.
"""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import date, datetime, timedelta
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec

from counter.books import Books
from counter.shop import Shop, make_shop
from counter.shop.production import BatchNote
from counter.shop.tables import found_by
from counter.trade.closing import Closing
from counter.trade.payments import Tender
from counter.trade.production import Batch, lot_code
from counter.trade.sales import Sale, Slip
from counter.trade.settings import parse_settings
from counter.trade.tables import TABLES
from counter.trade.units import parse_clock
from labels.say import as_kept, from_kept

HERE = Path(__file__).parent  # a temporary folder may lie in memory, where an fsync costs nothing
ZONE = ZoneInfo("America/Los_Angeles")
SETTINGS = (files("demo_shop") / "shop.toml").read_text("utf-8")
CATALOGUE = (files("demo_shop") / "catalogue.toml").read_text("utf-8")
TODAY = date(2026, 11, 24)
MORNING = datetime(2026, 11, 24, 9, 30, tzinfo=ZONE)
COOKED, WARM, COLD = (parse_clock(text) for text in ("08:00", "09:00", "09:20"))
YEARS = 10
ROUNDS = 240
SALES = 60  # a day of the ten years
ORDER = ("firm-block*2", "cup-small+ginger")
MADE = {"firm": 5000, "soft": 5000, "smoked": 24, "spiced": 48, "pressed": 8000, "pudding": 90000,
        "milk": 3000, "sweet-milk": 48, "puffs": 40, "pulp": 20}  # fmt: skip
Row = tuple[str, float, float]


def begin(folder: Path) -> Shop:
    """The invented shop, this morning's batches logged and a tub open."""
    shop = make_shop(folder, SETTINGS, lambda: MORNING)
    shop.products.load_catalogue(CATALOGUE)
    return shop


def bake(shop: Shop) -> None:
    asked = ("made", "holds", "day", "cash", "uncounted", "cooling")
    shop.desk.questions.given = dict.fromkeys(asked, "so it is, said the bench")
    for product, made in MADE.items():
        mixed = ((f"{shop.desk.today():%y%j}-01", 20),) if product == "smoked" else ()
        note = BatchNote(
            made=made, boiled_minutes=10, mixed=mixed, cook_ended=COOKED, cooled=(WARM, COLD)
        )
        shop.production.log_batch(product, note)
    shop.tubs.open_tub(f"{shop.desk.today():%y%j}-06", "cold", 80000, Decimal(4))


def seller(shop: Shop, name: str) -> Callable[[int], Sale]:
    slip = Slip(tuple(shop.counter.read_item(text) for text in ORDER))

    def sell(number: int) -> Sale:
        keyed = msgspec.structs.replace(slip, key=f"{name}-{number:08d}")
        return shop.counter.sell(keyed, [Tender("cash", 2000)], by="Ida")

    return sell


def floor(
    file: Path, document: Sale, there: int
) -> tuple[sqlite3.Connection, Callable[[int], object]]:
    """A bare insert of the same document: WAL, synchronous=FULL."""
    con = sqlite3.connect(file, isolation_level=None)
    con.execute("PRAGMA journal_mode=WAL")
    con.execute("PRAGMA synchronous=FULL")
    con.execute("CREATE TABLE sales (id INTEGER PRIMARY KEY, document TEXT)")
    text = msgspec.json.encode(document, enc_hook=as_kept).decode()
    con.execute("BEGIN")
    for _ in range(there):
        con.execute("INSERT INTO sales (document) VALUES (?)", (text,))
    con.execute("COMMIT")

    def insert(number: int) -> object:
        row = msgspec.json.encode(
            msgspec.structs.replace(document, key=f"{number:08d}"), enc_hook=as_kept
        ).decode()
        return con.execute("INSERT INTO sales (document) VALUES (?)", (row,))

    return con, insert


def in_turn(*deeds: Callable[[int], object]) -> list[float]:
    """The middle half of the times of each, done in turn, averaged."""
    times: list[list[float]] = [[] for _ in deeds]
    for i in range(ROUNDS):
        for k in range(len(deeds)):
            which = (i + k) % len(deeds)
            start = time.perf_counter()
            deeds[which](i)
            times[which].append(time.perf_counter() - start)
    middles = [sorted(t)[ROUNDS // 4 : -ROUNDS // 4] for t in times]
    return [sum(m) / len(m) for m in middles]


def sale_beside_sqlite(there: int) -> Row:
    with tempfile.TemporaryDirectory(dir=HERE) as name:
        shop = begin(Path(name) / "shop")
        sell = seller(shop, "till")

        def fill() -> None:
            bake(shop)
            for number in range(there):
                sell(10**6 + number)

        with shop.desk.books.exclusive():
            fill()
        document = sell(10**7)
        con, insert = floor(Path(name) / "floor.db", document, there)
        with closing(con):
            ours, theirs = in_turn(sell, insert)
    return f"a sale through Shop, {there} there / SQLite insert", ours, theirs


# -- ten years


def template() -> tuple[list[list[Batch]], list[Sale], bytes]:
    """A third day in a row in memory: its batches, some sales, its closing as JSON."""
    moment = [datetime(2026, 11, 19, 9, 30, tzinfo=ZONE)]
    shop = Shop.memory(parse_settings(SETTINGS), lambda: moment[0])
    shop.products.load_catalogue(CATALOGUE)
    for _ in range(3):
        bake(shop)
        sell = seller(shop, "past")
        sales = [sell(n) for n in range(3)]
        for tub in shop.desk.ledger().open_tubs():
            shop.tubs.end_tub(tub.tub, tub.level, True)
        last = shop.evening.close_day()
        moment[0] += timedelta(days=1)
    batches = [b for c in shop.desk.records_of(last.day) for b in c.get("batches", [])]
    return [batches], sales, msgspec.json.encode(last, enc_hook=as_kept)  # type: ignore[list-item]


def write_history(folder: Path) -> str:
    """Ten years of books and closings; a lot from the middle of them."""
    (batches,), sales, told = template()
    books = Books.open(folder, TABLES, found_by)
    days = [TODAY - timedelta(days=n) for n in range(365 * YEARS, 0, -1)]
    days = [day for day in days if day.weekday() != 0]
    before = [lot_code(date(2026, 11, 19) + timedelta(days=n), 1)[:6] for n in range(3)]
    for i, day in enumerate(days):
        codes = [f"{d:%y%j}-" for d in (days[max(0, i - 2)], days[max(0, i - 1)], day)]
        at = datetime.combine(day, MORNING.timetz())

        def dated(record: msgspec.Struct, codes: list[str] = codes, day: date = day) -> bytes:
            text = (
                msgspec.json.encode(record, enc_hook=as_kept)
                if not isinstance(record, bytes)
                else record
            )
            for old, new in zip(before, codes, strict=True):
                text = text.replace(old.encode(), new.encode())
            return text.replace(b"2026-11-21", day.isoformat().encode())

        with books.exclusive():
            for batch in batches:
                made = msgspec.json.decode(dated(batch), type=Batch, dec_hook=from_kept)
                books.commit(str(day), {"batches": [made]}, at)
            for number in range(SALES):
                sold = msgspec.json.decode(dated(sales[number % len(sales)]), type=Sale)
                sold = msgspec.structs.replace(
                    sold, number=f"{day}/{number + 1:04d}", key=f"{day:%y%j}{number:05d}"
                )
                books.commit(str(day), {"sales": [sold]}, at)
            line, link = books.head(str(day))
            end = msgspec.json.decode(dated(told), type=Closing, dec_hook=from_kept)  # type: ignore[arg-type]
            end = msgspec.structs.replace(end, day=day, book_lines=line, book_link=link)
            if day == days[-1]:
                end = msgspec.structs.replace(end, carried=(), tubs=())
            books.commit("closings", {"closings": [end]}, at)
    books.close()
    return f"{days[len(days) // 2]:%y%j}-01"


def with_and_without_history(there: int, old: Path, name: Path) -> Row:
    empty = begin(name / "empty")
    aged = Shop.open(old, lambda: MORNING)
    sells = [seller(shop, f"till-{there}") for shop in (aged, empty)]

    for shop, sell in zip((aged, empty), sells, strict=True):
        with shop.desk.books.exclusive():
            bake(shop)
            for number in range(there):
                sell(10**6 + number)
    ours, theirs = in_turn(*sells)
    return f"a sale with {YEARS} years in the folder, {there} there / none", ours, theirs


LOOK = """
import sys, time
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo
from counter.shop import Shop
now = datetime.fromisoformat(sys.argv[2]).replace(tzinfo=ZoneInfo("America/Los_Angeles"))
start = time.perf_counter()
shop = Shop.open(Path(sys.argv[1]), lambda: now)
shop.counter.shelf()
opened = time.perf_counter()
for lot in sys.argv[3:]:
    shop.closings.trace(lot)
status = Path("/proc/self/status").read_text()  # ru_maxrss would count the parent before exec
peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
print(opened - start, (time.perf_counter() - opened) / len(sys.argv[3:]), int(peak.split()[1]) / 1024)
"""


def looking_back(old: Path, lot: str) -> list[Row]:
    """In a process of its own, as ``counter shelf`` and ``counter trace`` are."""
    words = [sys.executable, "-c", LOOK, str(old), "2026-11-24 18:00", lot, f"{TODAY:%y%j}-01"]
    runs = []
    for _ in range(5):
        out = subprocess.run(words, capture_output=True, text=True, check=True).stdout
        runs.append([float(word) for word in out.split()])
    opened, traced, memory = (sorted(column)[2] for column in zip(*runs, strict=True))
    return [
        (f"open a {YEARS}-year shop and lay its shelf / 0.1 s", opened, 0.1),
        ("trace a lot, of the middle and of today / 0.1 s", traced, 0.1),
        ("peak memory of both, MiB instead of ms / 80 MiB", memory / 1000, 0.080),
    ]


def help_beside_click() -> Row:
    def run(*words: str) -> Callable[[int], object]:
        return lambda _: subprocess.run([sys.executable, *words], capture_output=True, check=True)

    asked = run("-c", "from counter.cli import main; main()", "--help")
    bare = run("-c", "import click")
    times: tuple[list[float], list[float]] = ([], [])
    for i in range(15):
        for deed, taken in zip((asked, bare), times, strict=True):
            start = time.perf_counter()
            deed(i)
            taken.append(time.perf_counter() - start)
    return "counter --help / python importing click", sorted(times[0])[7], sorted(times[1])[7]


def run() -> list[Row]:
    rows = [sale_beside_sqlite(there) for there in (300, 1500)]
    with tempfile.TemporaryDirectory(dir=HERE) as name:
        old = Path(name) / "old"
        begin(old)
        lot = write_history(old)
        rows.append(with_and_without_history(300, old, Path(name)))
        rows += looking_back(old, lot)
        size = sum(p.stat().st_size for p in old.rglob("*") if p.is_file())
        print(f"({YEARS} years of books: {size / 2**20:.0f} MiB)", file=sys.stderr)
    return [*rows, help_beside_click()]
