"""A recall tells what is known: surely of a lot, may be of it, and no share of what was assumed.

The shop's own rule. That every lot handled is to be traced one step forward and back: Regulation
(EC) 178/2002 Article 18; which piece a customer was given is known only where its lot was read.
"""

from __future__ import annotations

import csv
import io
import random
from contextlib import suppress
from pathlib import Path

import pdfplumber
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import Refused
from counter.shop import Shop
from counter.shop.production import BatchNote
from counter.trade.payments import Tender
from counter.trade.recalling import accounted_for
from counter.trade.sales import Slip, SlipItem
from counter.trade.settings import parse_settings
from counter.trade.tracing import Trace
from tests.conftest import CATALOGUE, SETTINGS, Clock, ShopInHand
from tests.often import examples

NAMES = {"firm": "Firm Tofu", "smoked": "Smoked Tofu"}


def day_of(folder: Path) -> ShopInHand:
    """Two lots of firm blocks, 26328-01 (20) and 26328-02 (20), at eight in the morning."""
    from counter.shop import make_shop

    clock = Clock()
    hand = ShopInHand(make_shop(folder, SETTINGS, clock), clock)
    hand.shop.products.load_catalogue(CATALOGUE)
    hand.batch(made=20)
    hand.batch(made=20)
    clock.set("2026-11-24 08:00")
    return hand


FIRST, SECOND = "26328-01", "26328-02"


def numbers(lines: object) -> list[str]:
    return [one.sale.partition("/")[2] for one in lines]  # type: ignore[attr-defined]


def adds_up(trace: Trace) -> bool:
    gone = trace.sold + trace.used + trace.wasted + trace.left + trace.missing
    return trace.made + trace.corrected + trace.over == gone


def test_what_was_read_is_surely_of_its_lot_and_what_was_tapped_may_be_of_either(
    tmp_path: Path,
) -> None:
    hand = day_of(tmp_path / "shop")
    hand.sell("firm-block*2")  # 0001, by the log of the first
    hand.sell(SECOND)  # 0002
    hand.sell(f"firm-block@{FIRST}*3")  # 0003
    hand.batch("soft", 5)
    hand.sell("soft-block")  # 0004, another product
    first, second = (hand.shop.closings.trace(lot) for lot in (FIRST, SECOND))
    assert (numbers(first.surely), numbers(first.may_be)) == (["0003"], ["0001"])
    assert (numbers(second.surely), numbers(second.may_be)) == (["0002"], ["0001"])
    assert (first.sold, first.assumed, second.sold, second.assumed) == (5, 2, 1, 0)
    assert first.may_be == second.may_be
    assert first.may_be[0].lot == FIRST


def test_a_lot_may_be_in_every_sale_from_its_making_until_none_is_left(tmp_path: Path) -> None:
    hand = day_of(tmp_path / "shop")
    hand.sell("firm-block")  # 0001
    hand.clock.set("2026-11-24 09:00")
    third = hand.batch(made=4).lot
    hand.clock.forward(minutes=1)
    hand.sell("firm-block")  # 0002
    hand.clock.forward(minutes=1)
    hand.shop.evening.count(FIRST, 0)
    hand.clock.forward(minutes=1)
    hand.sell("firm-block")  # 0003
    hand.shop.holds.hold(SECOND, True, "a hair was found")
    hand.shop.waste.throw_out(SECOND, hand.on_hand(SECOND), "stopped")
    hand.clock.forward(minutes=1)
    hand.sell("firm-block")  # 0004
    assert numbers(hand.shop.closings.trace(third).may_be) == ["0002", "0003", "0004"]
    assert numbers(hand.shop.closings.trace(FIRST).may_be) == ["0001", "0002"]
    assert numbers(hand.shop.closings.trace(SECOND).may_be) == ["0001", "0002", "0003"]


def test_that_the_log_has_none_left_by_assumption_is_no_proof_before_the_day_is_closed(
    tmp_path: Path,
) -> None:
    hand = day_of(tmp_path / "shop")
    hand.sell("firm-block*20")  # 0001: by the log all of the first
    hand.sell("firm-block")  # 0002: by the log of the second
    assert numbers(hand.shop.closings.trace(FIRST).may_be) == ["0001", "0002"]
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    hand.sell("firm-block")
    assert numbers(hand.shop.closings.trace(FIRST).may_be) == ["0001", "0002"]
    assert numbers(hand.shop.closings.trace(SECOND).may_be) == ["0001", "0002", "0001"]
    hand.sell(FIRST)  # there was one after all
    later = hand.shop.closings.trace(FIRST)
    assert (numbers(later.surely), numbers(later.may_be)) == (["0002"], ["0001", "0002", "0001"])


def test_what_came_back_is_a_line_of_the_trace_and_its_lines_add_up_to_the_head(
    tmp_path: Path,
) -> None:
    hand = day_of(tmp_path / "shop")
    sale = hand.sell("firm-block*3")
    hand.shop.counter.refund(sale.number, "changed their mind", {1: 1}, restock=True)
    hand.batch("smoked", 4, boiled_minutes=None, mixed=((FIRST, 6),))
    hand.shop.waste.throw_away(FIRST, 2, "broken")
    hand.shop.evening.count(FIRST, 9)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    hand.shop.closed_days.correct(
        hand.shop.records.days()[0], "one more was made", lot=FIRST, amount=1
    )
    found = hand.shop.closings.trace(FIRST)
    assert [one.amount for one in found.lines] == [3, -1]
    assert [one.amount for one in found.may_be] == [3, -1]
    assert (found.made, found.corrected, found.sold, found.used) == (20, 1, 2, 6)
    assert (found.wasted, found.left, found.missing, found.over) == (2, 10, 1, 0)
    assert sum(found.parts.values()) == found.used
    assert adds_up(found)
    said = accounted_for(hand.shop.records.recall([FIRST]), NAMES.__getitem__)
    # sold 2, used 6, thrown away 2, on hand 10: of 20 that were made, and one found more
    assert "20 of 21 Firm Tofu, 2 of it by assumption" in said


def test_made_is_what_was_made_and_what_is_too_much_is_a_line_of_its_own(tmp_path: Path) -> None:
    hand = day_of(tmp_path / "shop")
    hand.sell(f"firm-block@{FIRST}*21")
    recall = hand.shop.records.recall([FIRST])
    lot = recall.lots[0]
    assert (lot.made, lot.sold, lot.over, lot.missing) == (20, 21, 1, 0)
    assert accounted_for(recall, NAMES.__getitem__) == (
        "Accounted for in number: 20 of 20 Firm Tofu, 1 more than was made: "
        "sold, used, thrown away or on hand."
    )


@pytest.mark.parametrize(
    ("more", "waste", "said"),
    [
        (1, False, "15 of 21"),  # one more there was, and five are missing
        (-2, False, "15 of 20"),  # two that nobody sold, used, threw away or has
        (2, True, "15 of 20"),  # two were not thrown away after all
        (-2, True, "17 of 20"),  # two more were thrown away
    ],
)
def test_the_share_accounted_for_counts_what_is_on_hand_and_not_what_was_found_less(
    tmp_path: Path, more: int, waste: bool, said: str
) -> None:
    hand = day_of(tmp_path / "shop")
    hand.shop.waste.throw_away(FIRST, 5, "broken")
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    hand.shop.closed_days.correct(
        hand.shop.records.days()[0], "so it was", lot=FIRST, amount=more, waste=waste
    )
    hand.shop.evening.count(FIRST, 12 if waste and more > 0 else 10)
    assert f"{said} Firm Tofu" in accounted_for(
        hand.shop.records.recall([FIRST]), NAMES.__getitem__
    )


def test_a_batch_that_never_was_is_not_accounted_for_and_says_so(tmp_path: Path) -> None:
    hand = day_of(tmp_path / "shop")
    smoked = hand.batch("smoked", 4, boiled_minutes=None, mixed=((FIRST, 6),))
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    hand.shop.amendments.void_batch(smoked.lot, "logged twice")
    recall = hand.shop.records.recall([smoked.lot, FIRST])
    assert accounted_for(recall, NAMES.__getitem__).startswith(
        "Accounted for: 0 of 0 Smoked Tofu (100 %); 20 of 20 Firm Tofu (100 %)"
    )
    assert recall.lots[0].state == "never was: logged twice"
    sheet = hand.shop.reports.write_recall_sheet(recall)
    with pdfplumber.open(sheet) as pdf:
        text = " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)
    assert "4 (-4)" in text
    assert "6 (+6)" not in text
    assert "20 (+6)" in text


def test_no_share_is_claimed_of_what_was_assumed(tmp_path: Path) -> None:
    hand = day_of(tmp_path / "shop")
    hand.sell(f"{FIRST}*2")
    whole = "Accounted for: 20 of 20 Firm Tofu (100 %): sold, used, thrown away or on hand."
    assert accounted_for(hand.shop.records.recall([FIRST]), NAMES.__getitem__) == whole
    hand.sell("firm-block*3")
    assumed = accounted_for(hand.shop.records.recall([FIRST]), NAMES.__getitem__)
    assert "20 of 20 Firm Tofu, 3 of it by assumption" in assumed
    assert "%" not in assumed


def test_a_trace_follows_a_batch_that_was_corrected(tmp_path: Path) -> None:
    hand = day_of(tmp_path / "shop")
    smoked = hand.batch("smoked", 4, boiled_minutes=None, mixed=((FIRST, 6),))
    note = BatchNote(made=5, mixed=((FIRST, 0), (SECOND, 4)))
    hand.shop.amendments.amend_batch(smoked.lot, note, "the other tray")
    first, second = hand.shop.closings.trace(FIRST), hand.shop.closings.trace(SECOND)
    assert (first.went_into, first.used, first.left) == ((), 0, 20)
    assert (second.went_into, second.parts, second.left) == ((smoked.lot,), {smoked.lot: 4}, 16)
    assert hand.shop.closings.trace(smoked.lot).came_from == (SECOND,)
    assert [lot.lot for lot in hand.shop.records.recall([FIRST]).reached] == [FIRST]
    assert hand.shop.closings.trace(smoked.lot).made == 5
    assert hand.shop.closings.trace(smoked.lot).batch.made == 5


def test_a_batch_that_never_was_is_not_taken_off_twice(tmp_path: Path) -> None:
    hand = day_of(tmp_path / "shop")
    smoked = hand.batch("smoked", 4, boiled_minutes=None, mixed=((FIRST, 6),))
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    hand.shop.amendments.void_batch(smoked.lot, "logged twice")
    gone, first = hand.shop.closings.trace(smoked.lot), hand.shop.closings.trace(FIRST)
    assert (gone.made, gone.corrected, gone.left, gone.missing, gone.over) == (4, -4, 0, 0, 0)
    assert (first.went_into, first.used, first.corrected, first.left) == ((), 6, 6, 20)
    assert adds_up(gone)
    assert adds_up(first)


@pytest.mark.parametrize("counted", [False, True])
def test_a_sale_that_was_forgotten_is_a_sale_of_its_lot_once(tmp_path: Path, counted: bool) -> None:
    hand = day_of(tmp_path / "shop")
    day = hand.shop.desk.today()
    hand.sell("firm-block")
    if counted:
        hand.shop.evening.count(SECOND, 18)
    hand.shop.evening.close_day()
    hand.clock.set("2026-11-25 08:00")
    item = SlipItem("firm-block", 2, SECOND, how="named")
    made = hand.shop.closed_days.forgotten_sale(day, item, "cash", "the tablet was off")
    found = hand.shop.closings.trace(SECOND)
    assert [(one.sale, one.amount) for one in found.surely] == [(made.number, 2)]
    assert (found.sold, found.corrected, found.left, found.missing) == (2, 0, 18, 0)
    assert adds_up(found)
    [sale] = hand.shop.records.recall([SECOND]).surely
    # it was sold on its day, whatever the hour, and not when it was written down
    assert (sale.sale, sale.at.date()) == (made.number, day)


def test_the_sheet_has_both_lists_weights_codes_and_the_same_code_elsewhere(tmp_path: Path) -> None:
    hand = day_of(tmp_path / "shop")
    lots = [hand.batch(made=10, codes={"soybeans": "AF-46"}).lot for _ in range(2)]
    hand.sell(lots[0])
    hand.sell("firm-block*2")
    found = hand.shop.records.recall([lots[0]])
    assert found.elsewhere == {"AF-46": (lots[1],)}
    assert found.lots[0].uncoded == ("gypsum",)
    assert found.lots[0].weight(10) == 3969  # 14 oz of 28.349523125 g each, half up
    path = hand.shop.reports.write_recall_sheet(found, tmp_path / "r.pdf")
    with pdfplumber.open(path) as pdf:
        text = " ".join("\n".join(p.extract_text() for p in pdf.pages).split())
    surely, may_be = text.index("Sales surely of"), text.index("Sales that may be of")
    assert surely < text.index("2026-11-24/0001") < may_be < text.index("2026-11-24/0002")
    assert "3.969 kg" in text
    assert f"soybeans AF-46 {lots[0]} {lots[1]}" in text
    assert f"gypsum NOT WRITTEN DOWN {lots[0]}" in text
    assert "100 %" not in text


def test_a_sale_that_may_be_of_two_recalled_lots_stands_once_with_both(tmp_path: Path) -> None:
    hand = day_of(tmp_path / "shop")
    hand.sell("firm-block*2")
    found = hand.shop.records.recall([FIRST, SECOND])
    assert [(one.named, one.amount, one.by_log) for one in found.may_be] == [
        (f"{FIRST} {SECOND}", 2, FIRST)
    ]
    path = hand.shop.reports.write_recall_csv(found, tmp_path / "r.csv")
    rows = list(csv.DictReader(io.StringIO(path.read_text(), newline="")))
    assert [r["list"] for r in rows if r["sale"]] == ["may be"]


class Seen:
    """A shop whose pieces are followed by somebody who sees every lot: what really happened."""

    def __init__(self, seed: int) -> None:
        self.dice = random.Random(seed)
        self.clock = Clock()
        self.shop = Shop.memory(parse_settings(SETTINGS), self.clock)
        self.shop.products.load_catalogue(CATALOGUE)
        self.hand = ShopInHand(self.shop, self.clock)
        self.there: dict[str, int] = {}
        self.sold: list[tuple[str, str]] = []  # sale, and the lot its piece was really of

    def step(self) -> None:
        self.clock.forward(minutes=self.dice.randint(1, 9))
        some = [lot for lot, n in self.there.items() if n]
        deeds = {
            "make": 3, "tap": 8, "scan": 3, "count": 3, "lose_one": 1, "throw": 1, "back": 4,
            "close": 1,
        }  # fmt: skip
        deed = self.dice.choices([*deeds], [*deeds.values()])[0]
        if deed == "make" and len(self.there) < 12:
            made = self.dice.randint(1, 4)
            self.there[self.hand.batch(made=made).lot] = made
        elif deed == "close":
            self.close()
        elif deed == "back":
            self.bring_back()
        elif some and deed != "make":
            getattr(self, deed)(self.dice.choice(some))

    def sell(self, lot: str, named: str) -> None:
        slip = Slip((SlipItem("firm-block", 1, named, how="scanned"),))
        sale = self.shop.counter.sell(slip, [Tender("card")])
        self.there[lot] -= 1
        self.sold.append((sale.number, lot))

    def tap(self, lot: str) -> None:
        self.sell(lot, "")

    def scan(self, lot: str) -> None:
        self.sell(lot, lot)

    def count(self, lot: str) -> None:
        which = self.dice.choice(list(self.there))
        self.shop.evening.count(which, self.there[which])

    def lose(self, lot: str, amount: int, reason: str) -> None:
        by_log = self.shop.desk.ledger().rows[lot].there
        if by_log:
            self.shop.waste.throw_away(lot, min(amount, by_log), reason)  # type: ignore[arg-type]
            self.there[lot] -= amount

    def lose_one(self, lot: str) -> None:
        self.lose(lot, 1, "broken")

    def throw(self, lot: str) -> None:
        self.lose(lot, self.there[lot], "stopped")

    def bring_back(self) -> None:
        today = [sale for sale in self.sold if sale[0].startswith(str(self.shop.desk.today()))]
        if not today:
            return
        number, lot = self.dice.choice(today)
        with suppress(Refused):  # it came back before
            self.shop.counter.refund(number, "changed their mind", restock=True)
            self.there[lot] += 1

    def close(self) -> None:
        if not self.there:
            return
        for lot in self.shop.desk.ledger().rows:
            self.shop.evening.count(lot, self.there[lot])
        self.shop.evening.close_day()
        self.clock.set(f"{self.clock.moment.date().isoformat()} 23:00")
        self.clock.forward(hours=9)


@given(st.integers(0, 10**6))
@examples(40)
def test_no_piece_of_a_lot_is_ever_missing_from_its_two_lists(seed: int) -> None:
    """Whatever is tapped, scanned, counted, broken, thrown out and brought back: the sale a piece
    really went with is in the list *surely* or *may be* of its lot, and the trace adds up."""
    shop = Seen(seed)
    for _ in range(60):
        if (shop.clock.moment.date() - Clock().moment.date()).days > 2:
            break
        shop.step()
    traces = {lot: shop.shop.closings.trace(lot) for lot in shop.there}
    for number, lot in shop.sold:
        listed = {one.sale for one in (*traces[lot].surely, *traces[lot].may_be)}
        assert number in listed, (number, lot)
    assert all(adds_up(trace) for trace in traces.values())
