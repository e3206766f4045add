"""Every figure of day, week, month and closing paper, worked out again by a second, plain path.

Random days are played with refunds whole and in part, cash that is rounded, goods put back, batches
voided, corrections of each kind and oversold lots that are explained. Then all is exported as CSV,
read with the csv module, and added up by hand; nothing of the program's own reckoning is used.
"""

from __future__ import annotations

import csv
import io
import random
from collections import Counter
from collections.abc import Callable, Iterable
from datetime import date, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

import pdfplumber
import pytest

from counter.errors import CounterError
from counter.shop import make_shop
from counter.shop.production import BatchNote
from counter.trade.closing import Closing
from counter.trade.payments import Tender
from counter.trade.sales import Discount, PaperSale, Sale, Slip, SlipItem
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand, kilos
from tests.often import often
from tests.reports.plain import us_date

FIRST, DAYS = date(2026, 11, 23), 5  # a Monday
DAY_NAMES = [FIRST + timedelta(days=n) for n in range(DAYS)]
SEEDS = range(1, 1 + often(4, 2))
COST = {"firm": Decimal(4800) / 48, "soft": Decimal(2800) / 30, "pudding": Decimal(1400) / 8000}
PRICE = {  # cents of one piece or millilitre at the usual price, by portion
    "firm-block": Decimal(325), "soft-block": Decimal(300), "cup-small": Decimal(350) / 237,
    "cup-medium": Decimal(475) / 355, "cup-large": Decimal(575) / 473,
}  # fmt: skip
PORTIONS = {
    "firm": ["firm-block"], "soft": ["soft-block"],
    "pudding": ["cup-small", "cup-medium", "cup-large"],
}  # fmt: skip
Row = dict[str, str]


class Yes(dict[str, str]):
    """Somebody who answers whatever is asked."""

    def get(self, key: str, default: Any = None) -> Any:
        return "it is so"

    def __contains__(self, key: object) -> bool:
        return True


class Player:
    """Plays one shop for some days, as a seed says; what is refused is not done."""

    def __init__(self, folder: Path, seed: int, settings: str) -> None:
        self.dice, self.clock = random.Random(seed), Clock("2026-11-23 09:00")
        shop = make_shop(folder, settings, self.clock)
        shop.products.load_catalogue(CATALOGUE)
        shop.desk.questions.given = Yes()
        self.hand, self.shop, self.done = ShopInHand(shop, self.clock), shop, Counter[str]()
        self.sales: list[Sale] = []

    def play(self) -> list[Closing]:
        deeds: list[Callable[[], None]] = [
            self.sell, self.sell, self.sell, self.odd, self.whole, self.part, self.put_back,
            self.oversell, self.waste, self.count, self.void, self.more, self.cash, self.paper,
            self.correct_lot, self.correct_cash, self.correct_sale, self.forgotten, self.measured,
        ]  # fmt: skip
        closings = []
        for day in DAY_NAMES:
            self.clock.set(f"{day} 09:00")
            for product, made in (("firm", 48), ("soft", 30), ("firm", 24), ("pudding", 8000)):
                self.batch(product, made)
            lot = next(b.lot for b in self.shop.production.made_on(day) if b.product == "pudding")
            self.shop.tubs.open_tub(lot, "cold", 8000, Decimal(4))
            self.dice.shuffle(deeds)
            for deed in [*deeds, *deeds]:
                self.clock.forward(minutes=self.dice.randint(1, 9))
                self.try_to(deed)
            drawer = self.shop.desk.ledger().drawer.expected
            cash = drawer + self.dice.choice((0, -500, 325))
            words = {lot: "looked into" for lot, row in self.shop.desk.ledger().rows.items()
                     if row.oversold and self.dice.random() < 0.5}  # fmt: skip
            closings.append(self.shop.evening.close_day(cash=cash, explained=words))
        return closings

    def try_to(self, deed: Callable[[], None]) -> None:
        try:
            deed()
        except (CounterError, IndexError):
            return
        self.done[deed.__name__] += 1

    def batch(self, product: str, made: int) -> None:
        beans = {} if product == "pudding" else {"soybeans": kilos("11.5")}
        self.shop.production.log_batch(product, BatchNote(
            made=made, ingredients=beans, boiled_minutes=10, cook_ended=time(4, 0),
            cooled=(time(5, 30), time(8, 0)), brix=Decimal("11.2"),
        ))  # fmt: skip

    def book(self, *items: SlipItem, off: int = 0, cash: bool = True) -> None:
        slip = Slip(items, discount=Discount(why="chipped", amount=off) if off else None)
        self.sales.append(self.shop.counter.sell(slip, [Tender("cash" if cash else "card")]))

    def sell(self) -> None:
        some = self.dice.sample(["firm-block", "soft-block", "cup-small", "cup-large"], 2)
        items = [SlipItem(portion, self.dice.randint(1, 3)) for portion in some]
        self.book(*items, cash=self.dice.random() < 0.5)

    def odd(self) -> None:
        self.book(SlipItem("firm-block", 1), off=self.dice.choice((1, 2, 3)))

    def recent(self) -> Sale:
        return self.dice.choice(self.sales[-12:])

    def whole(self) -> None:
        self.shop.counter.refund(self.recent().number, "spilt")

    def part(self) -> None:
        self.shop.counter.refund(self.recent().number, "one was broken", {1: 1})

    def put_back(self) -> None:
        self.book(SlipItem("soft-block", 2))
        self.shop.counter.refund(self.sales[-1].number, "a slip of the finger", restock=True)

    def oversell(self) -> None:
        [self.book(SlipItem("soft-block", 25)) for _ in range(self.dice.randint(0, 1))]

    def lot(self) -> str:
        return self.dice.choice(list(self.shop.desk.ledger().rows))

    def waste(self) -> None:
        reason = self.dice.choice(["broken", "tasting", "given"])
        self.shop.waste.throw_away(self.lot(), self.dice.randint(1, 3), reason)  # type: ignore[arg-type]

    def count(self) -> None:
        lot = self.lot()
        there = max(0, self.hand.on_hand(lot) + self.dice.choice((0, 0, -1, 1)))
        self.shop.evening.count(lot, there)

    def void(self) -> None:
        if self.dice.random() < 0.4:
            self.shop.amendments.void_batch(self.lot(), "never was")

    def more(self) -> None:
        lot = self.lot()
        note = BatchNote(made=self.shop.desk.batch(lot).made + self.dice.randint(1, 4))
        self.shop.amendments.amend_batch(lot, note, "miscounted")

    def cash(self) -> None:
        self.shop.evening.move_cash(self.dice.choice(["in", "out"]), 1000, "coins")  # type: ignore[arg-type]

    def paper(self) -> None:
        at, item = self.clock().replace(minute=0), SlipItem("firm-block")
        self.sales += self.shop.counter.sell_from_paper([PaperSale(items=(item,), at=at)] * 2)

    def before(self) -> date:
        return self.dice.choice([d for d in DAY_NAMES if d < self.clock().date()])

    def correct_lot(self) -> None:
        day = self.before()
        lot = self.dice.choice([n.lot for n in self.shop.closings.of(day).lots])
        self.shop.closed_days.correct(day, "a tray", lot=lot, amount=self.dice.choice((-2, 3)))

    def correct_cash(self) -> None:
        self.shop.closed_days.correct(
            self.before(), "paid the ice man", cash=self.dice.choice((-2000, 500))
        )

    def correct_sale(self) -> None:
        sale = self.dice.choice([s for s in self.sales if s.at.date() < self.clock().date()])
        self.shop.closed_days.correct(sale.at.date(), "it was two", sale=sale.number, money=325)

    def forgotten(self) -> None:
        day = self.before()
        lots = [n.lot for n in self.shop.closings.of(day).lots if n.product == "firm"]
        item = SlipItem("firm-block", 2, self.dice.choice(lots))
        paid = self.dice.choice(["cash", "card"])
        self.shop.closed_days.forgotten_sale(day, item, paid, "on the slip", time(10, 30))  # type: ignore[arg-type]

    def measured(self) -> None:
        celsius = Decimal(self.dice.choice((3, 9)))
        self.shop.closed_days.forgotten_temperature(
            self.before(), "fridge", celsius, "on the door", time(14, 0)
        )


class Plain:
    """The figures of one day (or of several, added up) out of the rows of the CSV alone, with what
    was taken back ``until`` a later one."""

    def __init__(self, tables: dict[str, list[Row]], day: date, until: date | None = None) -> None:
        self.t = {
            name: [r for r in rows if r["trading_day"] == str(day)] for name, rows in tables.items()
        }
        self.about = [r for r in tables["corrections"] if r["corrects"] == str(day)]
        self.day, self.every = day, tables
        back: Counter[tuple[str, str]] = Counter()
        for line in tables["refund_lines"]:
            if line["trading_day"] > str(until or day):
                continue
            back[line["sale"], line["line_of_sale"]] += int(line["quantity"])
        whole = Counter(n["sale"] for n in self.t["sale_lines"])
        gone = Counter(
            n["sale"] for n in self.t["sale_lines"]
            if back[n["sale"], n["line_of_sale"]] >= int(n["quantity"])
        )  # fmt: skip
        self.back = {sale for sale in whole if gone[sale] == whole[sale]}
        self.kept = [n for n in self.t["sale_lines"] if n["sale"] not in self.back]

    def money(self, table: str, column: str) -> int:
        return sum(cents(r[column]) for r in self.t[table])

    @property
    def taken(self) -> int:
        return self.money("sales", "total")

    @property
    def paid(self) -> int:
        return self.money("payments", "amount")

    @property
    def given_back(self) -> int:
        return self.money("refunds", "amount") + self.money("refunds", "rounding")

    @property
    def stayed(self) -> int:
        return sum(cents(s["total"]) for s in self.t["sales"] if s["sale"] not in self.back)

    def portions(self) -> dict[str, tuple[int, int]]:
        found: dict[str, tuple[int, int]] = {}
        for line in self.kept:
            quantity, net = found.get(line["portion_key"], (0, 0))
            found[line["portion_key"]] = quantity + int(line["quantity"]), net + cents(line["net"])
        return found

    def hours(self) -> dict[int, tuple[int, int]]:
        found: dict[int, tuple[int, int]] = {}
        for sale in self.t["sales"]:
            if sale["sale"] not in self.back:
                n, total = found.get(hour := int(sale["moment"][11:13]), (0, 0))
                found[hour] = n + 1, total + cents(sale["total"])
        return found

    def batches(self) -> dict[str, Row]:
        """Made this day and not voided by its end, as last corrected then."""
        last: dict[str, Row] = {}
        for row in self.t["batches"]:
            if row["lot"].startswith(f"{self.day:%y%j}"):
                last[row["lot"]] = row
        return last

    def lots(self) -> dict[str, dict[str, int]]:
        """What came and went of each lot, by hand."""
        found: dict[str, dict[str, int]] = {}

        def add(lot: str, what: str, amount: int) -> None:
            row = found.setdefault(lot, dict.fromkeys(("made", "sold", "wasted", "corrected"), 0))
            row[what] += amount

        for lot, batch in self.batches().items():
            add(lot, "made", int(batch["made"]))
        for row in self.t["sale_lots"]:
            add(row["lot"], "sold", int(row["amount"]))
        restocked = {r["refund"] for r in self.t["refunds"] if r["restocked"] == "true"}
        for row in self.t["refund_lots"]:
            if row["refund"] in restocked:
                add(row["lot"], "sold", -int(row["amount"]))
        for row in self.t["waste"]:
            add(row["lot"], "wasted", int(row["amount"]))
        for row in self.t["corrections"]:
            if row["on_shelf"] == "true":
                add(row["lot"], "corrected", int(row["amount"]))
        return found

    def waste(self) -> dict[tuple[str, str], tuple[int, int, int]]:
        """Amount, cost and price by product and reason; the price as portions were drawn."""
        products = {b["lot"]: b["product"] for b in self.every["batches"]}
        amounts: Counter[tuple[str, str]] = Counter()
        for row in self.t["waste"]:
            amounts[products[row["lot"]], row["reason"]] += int(row["amount"])
        lines = {(n["sale"], n["line_of_sale"]): n["portion_key"] for n in self.kept}
        drawn: Counter[str] = Counter()
        for row in self.t["sale_lots"]:
            if (row["sale"], row["line_of_sale"]) in lines:
                drawn[lines[row["sale"], row["line_of_sale"]]] += int(row["amount"])
        found = {}
        for (product, reason), amount in amounts.items():
            mine = PORTIONS[product]
            whole = sum(drawn[p] for p in mine)
            unit = sum((PRICE[p] for p in mine), Decimal(0)) / len(mine)
            if whole:
                unit = sum((PRICE[p] * drawn[p] for p in mine), Decimal(0)) / whole
            found[product, reason] = (amount, half(amount * COST[product]), half(amount * unit))
        return found

    def taxes(self) -> dict[tuple[str, str], tuple[int, int]]:
        """Tax and what of it went back, by class and rate."""
        classes = {(n["sale"], n["line_of_sale"]): n["tax_class"] for n in self.every["sale_lines"]}
        rates = {(x["sale"], x["tax_class"]): x["rate"] for x in self.every["sale_taxes"]}
        found: dict[tuple[str, str], list[int]] = {}
        for tax in self.t["sale_taxes"]:
            found.setdefault((tax["tax_class"], tax["rate"]), [0, 0])[0] += cents(tax["tax"])
        for line in self.t["refund_lines"]:
            name = classes[line["sale"], line["line_of_sale"]]
            if (line["sale"], name) in rates:
                key = (name, rates[line["sale"], name])
                found.setdefault(key, [0, 0])[1] += cents(line["tax"])
        return {key: (tax, back) for key, (tax, back) in found.items()}

    def cash(self, opening: int) -> dict[str, int]:
        sold = sum(cents(p["amount"]) for p in self.t["payments"] if p["kind"] == "cash")
        back = sum(
            cents(r["amount"]) + cents(r["rounding"]) - cents(r["by_card"])
            for r in self.t["refunds"] if r["kind"] == "cash"
        )  # fmt: skip
        moved = {
            kind: sum(cents(m["amount"]) for m in self.t["drawer"] if m["kind"] == kind)
            for kind in ("in", "out")
        }
        expected = opening + sold - back + moved["in"] - moved["out"]
        return {"sales": sold, "refunds": back, "expected": expected, **moved}

    @property
    def corrected(self) -> tuple[int, int]:
        """What later corrections of the day add to what it took, and to its drawer."""
        taken = sum(cents(c["money"]) for c in self.about)
        return taken, sum(cents(c["drawer"]) for c in self.about)


def cents(text: str) -> int:
    return int(Decimal(text or "0") * 100)


def half(value: Decimal) -> int:
    return int(value.quantize(Decimal(1), ROUND_HALF_UP))


def money(minor: int) -> str:
    """As the papers write it: $1,234.50, −$3.25."""
    return f"{'−' if minor < 0 else ''}${abs(minor) // 100:,}.{abs(minor) % 100:02d}"


def text_of(data: bytes) -> str:
    with pdfplumber.open(io.BytesIO(data)) as document:
        return " ".join(" ".join(page.extract_text().split()) for page in document.pages)


def say(text: str, rows: Iterable[tuple[str, int]]) -> None:
    """Each line stands on the paper with its amount."""
    for words, amount in rows:
        assert f"{words} {money(amount)}" in text, words


Played = tuple[Player, list[Closing], list[Plain]]
INCLUDED = SETTINGS.replace('mode = "added"', 'mode = "included"')


@pytest.fixture(scope="module", params=SEEDS)
def played(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Played:
    place = tmp_path_factory.mktemp("played")
    settings = INCLUDED if request.param % 2 else SETTINGS
    player = Player(place / "shop", request.param, settings)
    closings = player.play()
    player.shop.exports.export("all", place / "csv")
    tables = {}
    for file in (place / "csv").glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as stream:
            tables[file.stem] = list(csv.DictReader(stream))
    return player, closings, [Plain(tables, day) for day in DAY_NAMES]


def test_each_kind_of_deed_was_done(played: Played) -> None:
    player, closings, _ = played
    deeds = {"sell", "odd", "whole", "part", "put_back", "waste", "count", "void", "more", "paper",
             "correct_lot", "correct_cash", "correct_sale", "forgotten", "measured"}  # fmt: skip
    assert deeds <= set(player.done)
    assert any(c.taken_back for c in closings)
    assert any(c.takings.rounding for c in closings)


def test_the_money_of_a_closing(played: Played) -> None:
    player, closings, plains = played
    for closing, plain in zip(closings, plains, strict=True):
        takings = closing.takings
        assert takings.sales == closing.sales == len(plain.t["sales"])
        assert takings.total == closing.total == plain.taken
        assert takings.discounts == plain.money("sales", "discount")
        assert takings.tax == plain.money("sale_taxes", "tax")
        assert takings.rounding == plain.money("sales", "rounding")
        assert takings.paid == plain.paid == plain.taken + takings.rounding
        assert (takings.refunds, takings.given_back) == (len(plain.t["refunds"]), plain.given_back)
        assert takings.left == plain.paid - plain.given_back
        assert (takings.taken_back, takings.stayed) == (len(plain.back), plain.stayed)
        count = len(plain.t["sales"]) - len(plain.back)
        assert takings.average == (half(Decimal(plain.stayed) / count) if count else 0)
        included = player.shop.desk.settings.tax.mode == "included"
        assert takings.net(included) == plain.money("sale_lines", "net")
        assert takings.price(included) == plain.money("sale_lines", "price")
        assert {p.portion: (p.quantity, p.net) for p in closing.portions} == plain.portions()
        assert {h.hour: (h.sales, h.total) for h in closing.hours} == plain.hours()
        assert {(x.tax_class, str(x.rate)): (x.tax, x.refunded) for x in closing.by_rate} == (
            plain.taxes()
        )
        wasted = {(w.product, w.reason): (w.amount, w.cost, w.price) for w in closing.waste}
        assert wasted == plain.waste()


def test_the_drawer_of_a_closing(played: Played) -> None:
    opening = 15000
    for closing, plain in zip(played[1], played[2], strict=True):
        cash, found = closing.cash, plain.cash(opening)
        assert (cash.opening, cash.start) == (opening, opening)
        assert (cash.sales, cash.refunds) == (found["sales"], found["refunds"])
        assert (cash.moved_in, cash.moved_out) == (found["in"], found["out"])
        assert cash.expected == found["expected"]
        assert cash.counted is not None
        assert cash.variance == found["expected"] - cash.counted
        opening = min(15000, cash.counted)
        assert cash.left == opening


def test_every_lot_of_a_closing(played: Played) -> None:
    carried: dict[str, int] = {}
    for closing, plain in zip(played[1], played[2], strict=True):
        found = plain.lots()
        for lot in closing.lots:
            row = found.get(lot.lot, dict.fromkeys(("made", "sold", "wasted", "corrected"), 0))
            assert lot.carried_in == carried.get(lot.lot, 0)
            assert (lot.made, lot.sold, lot.corrected) == (
                row["made"], row["sold"], row["corrected"],
            )  # fmt: skip
            assert sum(lot.wasted.values()) == row["wasted"]
            there = lot.carried_in + row["made"] + row["corrected"] - row["sold"] - row["wasted"]
            assert lot.variance == there - row["corrected"] - lot.carried_out
            if not lot.counted:
                assert lot.carried_out == max(0, there)
                assert lot.oversold == (there < 0 and lot.lot not in closing.explained)
        assert set(found) <= {lot.lot for lot in closing.lots}
        made = {lot: b for lot, b in plain.batches().items() if not b["void"]}
        assert closing.batches == len(made)
        assert {y.lot: y.made for y in closing.yields} == {
            lot: int(b["made"]) for lot, b in made.items()
        }
        carried = {lot.lot: lot.carried_out for lot in closing.lots}


def test_a_forgotten_sale_is_worth_its_lines_and_lay_in_the_drawer_if_it_was_cash(
    played: Played,
) -> None:
    for plain in played[2]:
        for row in (r for r in plain.t["corrections"] if r["paid"]):
            lines = [n for n in plain.t["correction_lines"] if n["correction"] == row["correction"]]
            assert cents(row["money"]) == sum(cents(n["net"]) for n in lines) > 0
            assert cents(row["tax"]) == 0  # a block is a grocery
            assert cents(row["drawer"]) == (cents(row["money"]) if row["paid"] == "cash" else 0)
            assert int(row["amount"]) == -sum(int(n["quantity"]) for n in lines)


@pytest.mark.parametrize("kind", ["week", "month"])
def test_the_figures_of_a_span(played: Played, kind: str) -> None:
    player, closings, plains = played
    span = player.shop.reports.span_summary(kind, FIRST)  # type: ignore[arg-type]
    takings = span.takings
    on_its_day, plains = plains, [Plain(p.every, p.day, DAY_NAMES[-1]) for p in plains]
    assert sum(len(p.back) for p in plains) > sum(len(p.back) for p in on_its_day)
    assert (span.sales, span.total) == (
        sum(len(p.t["sales"]) for p in plains), sum(p.taken for p in plains),
    )  # fmt: skip
    assert (takings.paid, takings.given_back) == (
        sum(p.paid for p in plains), sum(p.given_back for p in plains),
    )  # fmt: skip
    assert span.refunded == takings.given_back
    assert (takings.rounding, takings.left) == (
        takings.paid - span.total, takings.paid - takings.given_back,
    )  # fmt: skip
    assert takings.stayed == sum(p.stayed for p in plains)
    portions: dict[str, tuple[int, int]] = {}
    hours: dict[int, tuple[int, int]] = {}
    for plain in plains:
        for sums, more in ((portions, plain.portions()), (hours, plain.hours())):
            for key, (n, amount) in more.items():
                have = sums.get(key, (0, 0))  # type: ignore[attr-defined]
                sums[key] = have[0] + n, have[1] + amount  # type: ignore[index]
    assert {p.portion: (p.quantity, p.net) for p in span.portions} == portions
    assert {h.hour: (h.sales, h.total) for h in span.hours} == hours
    corrected = [p.corrected for p in plains]
    assert (span.corrected_money, span.corrected_drawer) == (
        sum(taken for taken, _ in corrected), sum(drawer for _, drawer in corrected),
    )  # fmt: skip
    missing = sum(c.cash.expected - (c.cash.counted or 0) for c in closings)
    assert span.missing == missing
    assert span.missing_in_all == missing + span.start_missing + span.corrected_drawer
    assert len(span.corrections) == sum(len(p.about) for p in plains)
    assert span.batches == sum(c.batches for c in closings)
    for figures, plain in zip(span.days, plains, strict=True):
        assert (figures.total, figures.refunded) == (plain.taken, plain.given_back)
        assert figures.wasted_cost == sum(cost for _, cost, _ in plain.waste().values())
    for product in span.products:
        lots = [n for c in closings for n in c.lots if n.product == product.flow.product]
        assert product.flow.made == sum(n.made for n in lots)
        assert product.flow.sold == sum(n.sold for n in lots)
        assert product.flow.balances


def test_the_closing_paper_says_the_same(played: Played) -> None:
    player, closings, plains = played
    for closing, plain in zip(closings, plains, strict=True):
        text = text_of(player.shop.reports.day_report(closing.day))
        taken, drawer = plain.corrected
        rows = money_rows([plain])
        rows.append(("Expected", closing.cash.expected))
        if taken:
            rows.append(("Corrected since", taken))
            rows.append(("Left, as corrected", plain.paid - plain.given_back + taken))
        if drawer:
            rows.append(("Corrected since, expected", drawer))
            off = closing.cash.variance + drawer
            rows.append(("Missing, as corrected" if off >= 0 else "Too much, as corrected",
                         abs(off)))  # fmt: skip
        say(text, rows)
        for refund in plain.t["refunds"]:
            back = cents(refund["amount"]) + cents(refund["rounding"])
            kind = "card, cash" if cents(refund["by_card"]) else refund["kind"]
            assert f"{refund['refund']} {refund['sale']} {kind} {money(back)}" in text
        for correction in (*plain.about, *plain.t["corrections"]):
            assert f"{correction['correction']} {us_date(correction['corrects'])}" in text
        quantity = sum(n for n, _ in plain.portions().values())
        assert f"All {quantity} {money(sum(net for _, net in plain.portions().values()))}" in text


def money_rows(plains: list[Plain]) -> list[tuple[str, int]]:
    """The lines that every paper has, added up over some days."""

    def whole(figure: Callable[[Plain], int]) -> int:
        return sum(map(figure, plains))

    sales, refunds = whole(lambda p: len(p.t["sales"])), whole(lambda p: len(p.t["refunds"]))
    paid, back = whole(lambda p: p.paid), whole(lambda p: p.given_back)
    return [
        ("At the prices on the tags", whole(lambda p: p.money("sale_lines", "price"))),
        ("Discounts", -whole(lambda p: p.money("sales", "discount"))),
        ("Net of discounts", whole(lambda p: p.money("sale_lines", "net"))),
        (f"Taken in {sales} sales", whole(lambda p: p.taken)),
        ("Rounding of cash", whole(lambda p: p.money("sales", "rounding"))),
        ("Paid", paid),
        (f"Given back in {refunds} refunds", -back),
        ("Taken less given back", paid - back),
    ]


@pytest.mark.parametrize("kind", ["week", "month"])
def test_the_paper_of_a_span_says_the_same(played: Played, kind: str) -> None:
    player, closings, plains = played
    span = player.shop.reports.span_summary(kind, FIRST)  # type: ignore[arg-type]
    text = text_of(player.shop.reports.span_report(span))
    rows = money_rows(plains)
    taken, drawer = (sum(p.corrected[i] for p in plains) for i in (0, 1))
    missing = sum(c.cash.expected - (c.cash.counted or 0) for c in closings)
    rows += [
        ("Corrections of these days", taken),
        ("Left, as corrected", sum(p.paid - p.given_back for p in plains) + taken),
        ("Missing from the drawer at closing", missing),
        ("Corrected since, expected", drawer),
        ("Missing in all", missing + span.start_missing + drawer),
    ]
    say(text, rows)
    for plain in plains:
        for correction in plain.about:
            assert correction["correction"] in text
