"""Plays the days of the invented shop through the same Shop that the command line uses."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from importlib.resources import files
from math import ceil
from pathlib import Path

import msgspec

from counter.errors import NotFound, Refused
from counter.shop import Shop, make_shop
from counter.trade.batch_note import BatchNote
from counter.trade.catalogue import Product
from counter.trade.payments import Tender
from counter.trade.sales import Sale, Slip, SlipItem
from counter.trade.settings import parse_settings
from counter.trade.tubs import Tub
from demo_shop.town import MOULDS, OPENS, SHUT_WEEKDAY, SHUTS, Wish, wishes_on
from labels.say import say
from labels.units import Measure

MORNING = time(4, 5)
BRIX = {
    "firm": 11.4,
    "soft": 12.4,
    "spiced": 11.2,
    "pressed": 11.0,
    "pudding": 12.2,
    "milk": 8.4,
    "sweet-milk": 12.0,
    "puffs": 11.3,
}


class Demo(msgspec.Struct, frozen=True):
    """What was made: counts over all days, and what to try next."""

    folder: str
    today: date
    days: int
    batches: int
    sales: int
    taken: int
    wasted: int
    sold_out_days: int
    labels: str
    lots: dict[str, str]
    tub: str
    at: datetime


class Hand:
    """A clock that the play moves by hand."""

    def __init__(self, start: datetime) -> None:
        self.moment = start

    def __call__(self) -> datetime:
        return self.moment


class Play:
    """One run of the shop's days, from a seed."""

    def __init__(self, shop: Shop, clock: Hand, seed: int) -> None:
        self.shop, self.clock, self.seed = shop, clock, seed
        self.zone = shop.desk.settings.zone
        self.catalogue = shop.desk.catalogue
        shop.desk.questions.given = {
            "day": "we are shut on Mondays",
            "cash": "counted twice, and it stays so",
        }
        self.chance = random.Random(seed)
        self.batches = self.sales = self.taken = self.wasted = self.sold_out_days = 0
        self.booked: list[Sale] = []
        self.cooling: list[tuple[datetime, str, tuple[time, time]]] = []

    def at(self, day: date, clock: time | datetime) -> None:
        wall = clock if isinstance(clock, datetime) else datetime.combine(day, clock)
        self.clock.moment = wall.replace(tzinfo=self.zone)

    # -- the morning

    def morning(self, day: date, start: datetime, pace: float = 1.0) -> dict[str, str]:
        """Log the day's batches, one after the other; lots by product."""
        lots: dict[str, str] = {}
        self.throw_old(day)
        minutes = 0.0
        for product, moulds in MOULDS.items():
            count = moulds[day.weekday()] or (
                1 if day == self.shop.desk.today() and pace < 1 else 0
            )
            if not count:
                continue
            moment = start + timedelta(minutes=minutes * pace)
            self.note_cooling(moment)
            self.clock.moment = moment
            minutes += 22
            try:
                batch = self.shop.production.log_batch(
                    product, self.note(product, count, lots), by="Teo"
                )
            except Refused:
                continue  # nothing firm is left to smoke
            lots[product] = batch.lot
            self.batches += 1
            if batch.chilled:  # in a bath of ice, so that the pudding is cold when the door opens
                done = self.clock.moment + timedelta(minutes=self.chance.randint(30, 60))
                cold = done + timedelta(minutes=self.chance.randint(40, 60))
                self.cooling.append((cold, batch.lot, (done.time(), cold.time())))
        return lots

    def note_cooling(self, until: datetime) -> None:
        """Write down the cooling times of batches that are cold by now."""
        for cold, lot, times in sorted(self.cooling):
            if cold <= until:
                self.clock.moment = max(cold, self.clock.moment)
                self.shop.amendments.amend_batch(
                    lot, BatchNote(cooled=times), "cooling read", by="Teo"
                )
        self.cooling = [c for c in self.cooling if c[0] > until]

    def note(self, key: str, moulds: int, lots: dict[str, str]) -> BatchNote:
        product = self.catalogue.products[key]
        made = round(product.mould * moulds * self.chance.uniform(0.97, 1.0))
        mixed: tuple[tuple[str, int], ...] = ()
        if product.cook is None:
            made = product.mould
            mixed = ((lots.get("firm", ""), made * 2 // 3),)
        beans = self.beans(product, product.mould * moulds)
        kilos = Measure(Decimal(ceil(beans / 500) * 500) / 1000, "kg")
        brix = BRIX.get(key)
        boiled = product.cook is not None and product.cook.celsius < 100
        fried = product.cook is not None and not boiled
        return BatchNote(
            made=made,
            ingredients={} if product.cook is None else {"soybeans": kilos},
            codes={"soybeans": f"AF-{self.clock.moment:%W}"},
            brix=None if brix is None else Decimal(f"{self.chance.gauss(brix, 0.35):.1f}"),
            boiled_minutes=self.chance.randint(8, 12) if boiled else None,
            cook_celsius=Decimal(175) if fried else None,
            cook_minutes=6 if fried else None,
            cook_ended=self.clock.moment.time() if boiled or fried else None,
            press_kpa=Decimal("413.7") if key in ("firm", "pressed") else None,
            press_minutes=25 if key in ("firm", "pressed") else None,
            mixed=mixed,
        )

    def beans(self, product: Product, made: int) -> float:
        """Grams of dry beans by the recipe."""
        per = sum(float(p.grams) for p in product.recipe if p.ingredient == "soybeans")
        return per * made / product.recipe_makes

    def throw_old(self, day: date) -> None:
        self.at(day, time(3, 40))
        for lot in self.shop.counter.shelf().throw_away:
            waste = self.shop.waste.throw_away(lot.lot, lot.amount, "date", by="Teo")
            self.wasted += waste.amount

    # -- the counter

    def open_tub(self, lot: str) -> Tub | None:
        """A fresh tub where any of the lot is left; hot where it has not cooled yet."""
        shop = self.shop
        row = shop.desk.ledger().rows[lot]
        if row.on_hand - shop.desk.ledger().in_tubs(lot) < 1500:
            return None
        if row.lot.uncooled:
            return shop.tubs.open_tub(lot, "hot", celsius=Decimal(63), by="Ida")
        return shop.tubs.open_tub(lot, "cold", celsius=Decimal("3.6"), by="Ida")

    def serve(self, wish: Wish, lots: dict[str, str]) -> None:
        """Sell what of a wish is there; a customer who finds nothing goes home."""
        self.clock.moment = wish.at.replace(tzinfo=self.zone)
        ledger = self.shop.desk.ledger()
        items = []
        taken: dict[str, int] = {}
        for portion_key, count, topping in wish.items:
            portion = self.catalogue.portions[portion_key]
            if portion.per:
                ounces = Decimal(self.chance.randint(5, 14))
                items.append(SlipItem(portion_key, weight=Measure(ounces / 16, "lb")))
                if ledger.on_hand(portion.product) < 500:
                    items.pop()
                continue
            if self.catalogue.products[portion.product].tub:
                self.keep_tubs(lots)
            free = self.free(portion.product) - taken.get(portion.product, 0)
            count = min(count, free // portion.draws)
            if count > 0:
                taken[portion.product] = taken.get(portion.product, 0) + count * portion.draws
                toppings = (topping,) if topping else ()
                items.append(SlipItem(portion_key, count, toppings=toppings))
        if not items:
            return
        slip = Slip(tuple(items), "here" if wish.here else "away")
        try:
            sale = self.shop.counter.sell(slip, [self.tender(wish, slip)], by="Ida")
        except Refused:
            return
        self.sales += 1
        self.taken += sale.total
        self.booked.append(sale)

    def free(self, product: str) -> int:
        """What may still be taken: from open tubs for pudding, from the lots otherwise."""
        ledger = self.shop.desk.ledger()
        if self.catalogue.products[product].tub:
            return max([t.level for t in ledger.open_tubs(product)], default=0)
        shelf = next(p for p in self.shop.counter.shelf().products if p.product == product)
        return sum(lot.amount for lot in shelf.lots if not lot.refusal and lot.amount > 0)

    def tender(self, wish: Wish, slip: Slip) -> Tender:
        if wish.card:
            return Tender("card", None, f"T{self.chance.randrange(10**6):06d}")
        total = self.shop.counter.price(slip).total
        note = next((n for n in (500, 1000, 2000, 5000, 10000) if n >= total + 5), None)
        exact = self.chance.random() < 0.2 or note is None
        return Tender("cash", None if exact else note)

    def keep_tubs(self, lots: dict[str, str]) -> None:
        """Check the open tub in time; open another when it runs low."""
        ledger = self.shop.desk.ledger()
        tubs = [t for t in ledger.open_tubs("pudding") if t.level >= 500]
        now = self.clock.moment
        for tub in ledger.open_tubs("pudding"):
            if (now - tub.good_at).total_seconds() > 2 * 3600:
                self.shop.tubs.check_tub(
                    tub.tub, Decimal(f"{self.chance.uniform(2.8, 4.8):.1f}"), by="Ida"
                )
        if tubs:
            return
        for tub in ledger.open_tubs("pudding"):
            left = max(0, tub.level - self.chance.randint(40, 160))
            self.shop.tubs.end_tub(tub.tub, left, False, by="Ida")
        for row in ledger.rows_of("pudding"):
            if not self.shop.counter.shelf().throw_away and self.open_tub(row.lot.lot):
                return
        if "pudding" in lots:
            self.open_tub(lots["pudding"])

    def small_things(self, day: date, lots: dict[str, str]) -> None:
        """What breaks, what is tasted, and now and then a refund."""
        chance, noted = self.chance, datetime.combine(day, time(16, 30), self.zone)
        self.at(day, time(18, 2))
        for product in ("firm", "soft"):
            if product in lots and chance.random() < 0.6:
                row = self.shop.desk.ledger().rows[lots[product]]
                amount = min(chance.randint(1, 3), row.on_hand)
                if amount > 0:
                    reason = chance.choice(("broken", "tasting", "given"))
                    self.shop.waste.throw_away(row.lot.lot, amount, reason, at=noted, by="Ida")  # type: ignore[arg-type]
                    self.wasted += amount
        sold = [sale for sale in self.booked if sale.at < noted]
        if sold and chance.random() < 0.35:
            sale = chance.choice(sold)
            try:
                self.shop.counter.refund(sale.number, "sour", {1: 1}, at=noted, by="Rosa")
            except Refused:
                return

    # -- the evening

    def evening(self, day: date) -> None:
        """Count, take the tubs away, close."""
        self.note_cooling(datetime.combine(day, time(18, 10), self.zone))
        self.at(day, time(18, 10))
        for tub in self.shop.desk.ledger().open_tubs():
            left = max(0, tub.level - self.chance.randint(30, 200))
            self.shop.tubs.end_tub(tub.tub, left, left > 0, by="Ida")
        ledger = self.shop.desk.ledger()
        for row in list(ledger.rows.values()):
            if row.on_hand > 0 or row.oversold:
                lost = 1 if row.lot.unit == "piece" and self.chance.random() < 0.06 else 0
                self.shop.evening.count(row.lot.lot, max(0, row.on_hand - lost), by="Rosa")
        expected = self.shop.desk.ledger().drawer.expected
        off = self.chance.choices((0, -5, 5, -25, 100), (0.75, 0.1, 0.08, 0.05, 0.02))[0]
        closing = self.shop.evening.close_day(cash=max(0, expected + off), by="Rosa")
        self.sold_out_days += "firm" in closing.sold_out_at

    def day(self, day: date, index: int) -> None:
        """One whole day, from the first batch to the seal."""
        self.chance.seed(f"{self.seed}/{day}")
        self.booked, self.cooling = [], []
        start = datetime.combine(day, MORNING, self.zone)
        lots = self.morning(day, start)
        if index == 9 and "spiced" in lots:
            self.shop.holds.hold(
                lots["spiced"], True, "wrong spice in the bag, to be looked at", by="Rosa"
            )
        for wish in wishes_on(day, self.seed):
            self.note_cooling(wish.at.replace(tzinfo=self.zone))
            self.serve(wish, lots)
        self.small_things(day, lots)
        self.evening(day)


def make_demo(
    folder: Path,
    now: datetime,
    seed: int = 1,
    days: int = 28,
    replace: bool = False,
    progress: Callable[[], object] = lambda: None,
) -> Demo:
    """Make the invented shop in ``folder``: ``days`` behind it, this morning logged.

    ``now`` carries the time of the real clock; the shop's day is the trading day it falls in.
    The same seed and day give the same shop.
    """
    clear(folder, replace)
    text = (files("demo_shop") / "shop.toml").read_text("utf-8")
    zone = parse_settings(text).zone
    clock = Hand(now.astimezone(zone))
    shop = make_shop(folder, text, clock)
    today = shop.desk.today()
    first = today - timedelta(days=days)
    clock.moment = datetime.combine(first, time(3, 30), zone)
    catalogue = (files("demo_shop") / "catalogue.toml").read_text("utf-8")
    (folder / "catalogue.toml").write_text(catalogue, "utf-8")
    shop.products.load_catalogue(catalogue)
    play = Play(shop, clock, seed)
    for index in range(days):
        day = first + timedelta(days=index)
        if day.weekday() != SHUT_WEEKDAY:
            play.day(day, index)
        progress()
    return finish(play, now.astimezone(zone), today, days)


def finish(play: Play, now: datetime, today: date, days: int) -> Demo:
    """This morning: batches, a tub on the counter, labels on paper, all before ``now``."""
    play.chance.seed(f"{play.seed}/{today}")
    shop = play.shop
    begins = datetime.combine(today, shop.desk.settings.shop.day_starts, play.zone)
    usual = datetime.combine(today, MORNING, play.zone)
    length = max(timedelta(0), min(now - begins, timedelta(hours=3, minutes=40)))
    start = min(usual, now - length) if now > usual else begins
    lots = play.morning(today, start, pace=0.99 * (length / timedelta(hours=3, minutes=45)))
    play.note_cooling(now)
    play.clock.moment = now
    tub = play.open_tub(lots["pudding"])
    printed = shop.labels.print_labels([(lot, None) for lot in lots.values()], by="Teo")
    return Demo(
        str(shop.desk.folder),
        today,
        days,
        play.batches,
        play.sales,
        play.taken,
        play.wasted,
        play.sold_out_days,
        str(printed.path),
        lots,
        tub.tub if tub else "",
        now,
    )


def clear(folder: Path, replace: bool) -> None:
    """Make room for the demo; only a demo shop is ever removed, and only when asked."""
    if not folder.exists() or not any(folder.iterdir()):
        return
    tried = say("make the demo shop in '{folder}'", folder=folder)
    if not replace:
        do = say(
            "Name a new folder, or add --replace if {folder} is an old demo shop", folder=folder
        )
        raise Refused(tried, say("the folder is not empty"), do)
    file = folder / "shop.toml"
    if not file.is_file() or not parse_settings(file.read_text("utf-8")).shop.demo:
        raise NotFound(tried, "demo shop", str(folder), ())
    shutil.rmtree(folder)


__all__ = ["OPENS", "SHUTS", "Demo", "Play", "make_demo"]
