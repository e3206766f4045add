"""Five invented shops of one maker, in five countries, as they sold over some years: by the methods
of Shop, as everybody writes."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

from counter.shop import Shop, make_shop
from counter.shop.production import BatchNote
from counter.trade.payments import Tender
from counter.trade.sales import Discount, Sale, Slip
from counter.trade.waste import Reason


class Branch(NamedTuple):
    """A shop of the maker. ``unit`` is what a block costs three of, in the currency's own."""

    town: str
    currency: str
    zone: str
    places: int
    unit: int
    coin: str
    taxed: str


BRANCHES = (
    Branch("Alder Ferry", "USD", "America/Los_Angeles", 2, 1, "0.05", "added"),
    Branch("Osterau", "EUR", "Europe/Berlin", 2, 1, "0.01", "included"),
    Branch("Minamizawa", "JPY", "Asia/Tokyo", 0, 120, "1", "included"),
    Branch("Al Nakhla", "KWD", "Asia/Kuwait", 3, 1, "0.005", "added"),
    Branch("Penguin Bay", "AUD", "Australia/Lord_Howe", 2, 2, "0.05", "included"),
)
REASONS: tuple[Reason, ...] = ("broken", "tasting", "given", "stopped")


def money(branch: Branch, units: str) -> str:
    """So many units of a price, as the shop writes it."""
    return f"{float(units) * branch.unit:.{branch.places}f}"


def settings(branch: Branch) -> str:
    coins = [money(branch, text) for text in ("50", "10", "5", "1")]
    return f"""
[shop]
name = "Tofu of {branch.town}"
street = "1 Mill Lane"
city = "{branch.town}"
zip = "98799"
state = "WA"
timezone = "{branch.zone}"
language = "en_US"
[cash]
currency = "{branch.currency}"
smallest_coin = "{branch.coin}"
float = "{money(branch, "50")}"
coins = {[*coins, branch.coin]}
[tax]
mode = "{branch.taxed}"
[tax.classes.grocery]
here = "0"
away = "0"
[tax.classes.prepared]
here = "0.086"
away = "0.071"
"""


def catalogue(branch: Branch, dearer: str = "0") -> str:
    """``dearer`` units are on top of the price of a block."""
    block = money(branch, str(3.25 + float(dearer)))
    return f"""
[ingredients.water]
name = "Water"
water = true
[ingredients.soybeans]
name = "Soybeans"
allergens = ["soy"]
[products.firm]
name = "Firm Tofu"
keeps = 5
mould = "48"
cost = "{money(branch, "48")}"
recipe = {{ soybeans = "1 kg", water = "7 l" }}
recipe_makes = "8"
[products.milk]
name = "Soy Milk"
keeps = 4
mould = "12"
cost = "{money(branch, "9")}"
recipe = {{ soybeans = "1 kg", water = "9 l" }}
recipe_makes = "10"
[portions.firm-block]
product = "firm"
name = "Firm block"
price = "{block}"
tax = "grocery"
breaks = [{{ quantity = 3, price = "{money(branch, "9")}" }}]
[portions.firm-fried]
product = "firm"
name = "Fried at the counter"
price = "{money(branch, "4.15")}"
tax = "prepared"
[portions.milk]
product = "milk"
name = "Soy milk"
price = "{money(branch, "2.85")}"
tax = "prepared"
"""


class Maker:
    """One shop over some years; it opens on two days of each week."""

    def __init__(self, branch: Branch, folder: Path, first: date) -> None:
        self.branch, self.dice = branch, random.Random(branch.town)
        self.zone = ZoneInfo(branch.zone)
        self.at(first, time(4))
        self.shop = make_shop(folder, settings(branch), lambda: self.moment)
        # Some thousand papers that nobody reads here.
        self.shop.evening._keep_report = lambda _day: None  # type: ignore[method-assign]
        self.shop.products.load_catalogue(catalogue(branch), by="Rosa")
        asked = ("day", "cash", "uncounted", "cooling", "made", "recipes", "price.firm-block")
        self.shop.desk.questions.given = dict.fromkeys(asked, "so it is")
        self.before: list[Sale] = []

    def at(self, day: date, clock: time) -> None:
        self.moment = datetime.combine(day, clock, self.zone)

    def day(self, day: date) -> None:
        dice, shop = self.dice, self.shop
        self.at(day, time(9, 30))
        lots = [
            shop.production.log_batch(product, BatchNote(
                made=made, boiled_minutes=10, cook_ended=time(8), cooled=(time(9), time(9, 20)),
            )).lot
            for product, made in (("firm", 24), ("milk", 12))
        ]  # fmt: skip
        sold = list(self.sales(day))
        for lot in lots:
            shop.waste.throw_away(lot, dice.randint(1, 3), dice.choice(REASONS), by="Ida")
        if dice.random() < 0.3:
            sale = dice.choice(sold)
            shop.counter.refund(sale.number, "sour", {1: 1}, by="Rosa")
        if self.before and dice.random() < 0.2 and day.timetuple().tm_yday > 10:
            shop.counter.refund(dice.choice(self.before).number, "all of it sour", by="Rosa")
        self.before = sold[:1]
        self.at(day, time(18))
        for row in list(shop.desk.ledger().rows.values()):
            if row.on_hand > 0:
                shop.waste.throw_away(row.lot.lot, row.on_hand, "date", by="Ida")
        expected = shop.desk.ledger().drawer.expected
        shop.evening.close_day(cash=expected - dice.choice((0, 0, 0, 5)), by="Rosa")

    def sales(self, day: date) -> Iterator[Sale]:
        """Three sales, the last of them near closing, where a calendar day ends early elsewhere."""
        for n, clock in enumerate((time(9, 40), time(12, 15), time(17, 50))):
            self.at(day, clock)
            portions = self.dice.sample(("firm-block", "firm-fried", "milk"), 2)
            items = tuple(
                self.shop.counter.read_item(f"{portion}*{self.dice.randint(1, 3)}")
                for portion in portions
            )
            off = (
                Discount(why="a regular", percent=Decimal(10))
                if n == 2 and self.dice.random() < 0.3
                else None
            )
            slip = Slip(items, self.dice.choice(("here", "away")), off)
            yield self.shop.counter.sell(
                slip, [Tender(self.dice.choice(("cash", "card")))], by="Ida"
            )


def live(branch: Branch, folder: Path, first: date, last: date, step: int = 3) -> Shop:
    """The shop in ``folder`` with all its days closed; its prices rise once a year."""
    maker, day = Maker(branch, folder, first), first
    while day <= last:
        maker.day(day)
        following = day + timedelta(days=step)
        if following.year > day.year:
            maker.at(day, time(20))
            dearer = str(0.25 * (following.year - first.year))
            maker.shop.products.load_catalogue(catalogue(branch, dearer), by="Rosa")
            maker.before = []  # nothing of an earlier year comes back
        day = following
    return maker.shop
