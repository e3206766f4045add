"""``shop.toml``: who we are, market, money, tax, paper. Edited by hand, checked when read."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec

from counter.trade.money import USUAL, minor_places, parse_money, plain_money
from counter.trade.rates import Rate, Tax
from counter.trade.schema import At, Form, Format, Writer, key, toml_table
from counter.trade.temperatures import PlaceKind
from counter.trade.units import parse_clock
from labels.blanks import Blank
from labels.errors import LabelError
from labels.restricted import REGIONS, Layout
from labels.say import Said, say, term
from labels.words import EU_WORDS, WORDS

Market = Literal["us", "eu"]
_LANGUAGES = ("en_US", "en", "es", "de")  # that CLDR knows, without asking it
LATEST_START = time(6)  # of a trading day: the night's work belongs to the day before, no more
COINS = ("100", "50", "20", "10", "5", "1", "0.25", "0.10", "0.05", "0.01")
# fmt: off
# Each key stays together: its type, its words, and where it stands on the page.


class Cash(msgspec.Struct, frozen=True, kw_only=True):
    """Amounts are in minor units; ``coins`` are the notes and coins a drawer may hold, large ones
    first."""

    currency: Annotated[str, key("Currency", "currency", part="money", usual="USD",
        hint=say("Three letters, such as USD. It stays once something is sold."))]
    smallest_coin: Annotated[int, key("Smallest coin", "money", part="money", usual="0.01",
        hint=say("Cash totals are rounded to it, card totals never:"
            " 0.05 where there are no cents."))]
    float: Annotated[int, key("Cash that stays in the drawer overnight", "money", part="money",
        usual="150.00")]
    coins: Annotated[tuple[int, ...], key("Notes and coins in the drawer", "coins", part="money",
        usual=COINS, hint=say("Their values, with a comma between them. Change is made of these."))]


class ShopFacts(msgspec.Struct, frozen=True, kw_only=True):
    """Who the shop is; the maker's name and place go on every label.

    ``country_code`` (ISO 3166, "US") and ``subdivision`` ("WA") say whose holidays the plan knows;
    in market ``us`` they are the United States and ``state`` where nothing is written.
    """

    name: Annotated[str, key("Name of the shop", part="who",
        hint=say("As it stands on the sign and on the permit."))]
    street: Annotated[str, key("Street and number", part="who")]
    city: Annotated[str, key("Town", part="who")]
    state: Annotated[str, key("State", part="who",
        hint=say("Two letters in the United States, such as WA."))] = ""
    zip: Annotated[str, key("ZIP or postal code", part="who")]
    country: Annotated[str, key("Country", part="who",
        hint=say("On labels only where it is filled in."))] = ""
    phone: Annotated[str, key("Telephone", part="who", hint=say("On labels and receipts."))] = ""
    in_directory: Annotated[bool, key("The telephone directory lists the shop with its street",
        part="who", hint=say("Then a label may leave the street out (21 CFR 101.5)."))] = False
    market: Annotated[Market, key("Labels follow the law of", part="paper",
        hint=say("It also decides how long food may be kept,"
            " and the thermometer's degrees."))] = "us"
    language: Annotated[str, key("How money and dates are written", "locale", part="money",
        hint=say("A language and a country, such as en_US or es_US. The labels have a language of "
        "their own."))] = "en_US"
    opens: Annotated[time, key("Opens", "clock", part="hours",
        hint=say("The plan counts sold-out hours from here."))] = time(8)
    closes: Annotated[time, key("Closes", "clock", part="hours")] = time(18)
    day_starts: Annotated[time, key("The day begins at", "clock", part="hours",
        hint=say("Work before it still belongs to the day before. Set it before the first batch of"
            " the night, 06:00 at the latest."
            " The date on a pack ends at midnight all the same."))] = time(3)
    timezone: Annotated[str, key("Time zone", "zone", part="hours", usual="America/Los_Angeles",
        hint=say("A place with the same clock, such as America/Los_Angeles."))]
    country_code: Annotated[str, key("Country of the holidays", part="hours",
        hint=say("Two letters, such as US or DE. Empty: as the market says."))] = ""
    subdivision: Annotated[str, key("Region of the holidays", part="hours",
        hint=say("Its short name, such as WA. Empty: the state."))] = ""
    past_best_by: Annotated[Literal["refuse", "warn"], key("Past its best-by date, food is",
        part="paper", hint=say("Past a use-by date nothing is ever sold."))] = "refuse"
    demo: Annotated[bool, key("An invented shop: it can be thrown away")] = False


class Paper(msgspec.Struct, frozen=True, kw_only=True):
    """Labels: the blank when a product names none, the languages, storage words.

    ``language`` is English in market ``us`` (21 CFR 101.15(c)(1)), else the shop's own where none
    is written. ``restricted`` names the layouts of in-store numbers with a price or weight inside,
    by region or as a pattern (price in minor units, weight in grams).
    """

    blank: Annotated[str, key("Blank label", part="paper", page="choice",
        hint=say("Used unless a product names another."
            " Yours are under Blank labels."))] = "roll-60x80"
    language: Annotated[str, key("Language of the labels", part="paper", options=("", *EU_WORDS),
        hint=say("In the United States it is English; another may stand beside it, below."))] = ""
    second_language: Annotated[str, key("Second language of the labels", part="paper",
        options=("", *WORDS),
        hint=say("A second name stands only with every ingredient in that language: half a "
                 "language is refused."))] = ""
    storage: Annotated[str, key("Storage words", part="paper",
        hint=say("For what is held cold, in your own words. Empty: the usual ones, for frozen food "
        "too. A hyphen (-): none. A product may say something else."))] = ""
    logo: Annotated[str, key("Print the logo on labels", part="paper", page="logo")] = ""
    printer: Annotated[str, key("Label printer", part="paper",
        hint=say("Its name in this computer's printing system. Empty: labels are printed from the "
        "PDF."))] = ""
    restricted: Annotated[tuple[str, ...], key(
        "Numbers with the price or weight inside", part="paper",
        hint=say("us, gb or a pattern of your scale, such as 2IIIIIVPPPPC. Empty: none."))] = ()


class Backup(msgspec.Struct, frozen=True, kw_only=True):
    """Copies at each closing: into which folder, of how many days and of how many months."""

    folder: Annotated[str, key("Folder of the copies", part="backup",
        hint=say("A stick, for example /media/stick/tofu. Without one no copies are made."))] = ""
    keep_days: Annotated[int, msgspec.Meta(ge=1, le=3660),
        key("Keep the copies of so many days", part="backup")] = 14
    keep_months: Annotated[int, msgspec.Meta(ge=0, le=1200),
        key("And the last copy of so many months", part="backup")] = 12
    papers: Annotated[bool, key("Labels and reports too", part="backup",
        hint=say("Without them the copies are smaller."))] = True

# fmt: on


def _usual_places() -> dict[str, PlaceKind]:
    return {"fridge": "cold", "display": "cold", "hot well": "hot"}


class SettingsChange(msgspec.Struct, frozen=True):
    """What was changed in ``shop.toml``, a line each, when and by whom.

    ``tax`` is the table of taxes from then on. Where somebody changed it in the file itself, it is
    noted with the next sale: nobody can say when the file was changed, but which rates no sale
    was booked at before.
    """

    lines: tuple[str, ...]
    at: datetime
    by: str = ""
    tax: Tax | None = None


class Settings(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """All of ``shop.toml``. Read it with :func:`parse_settings`."""

    cash: Annotated[Cash, key("Money", usual={})]
    tax: Annotated[Tax, key("Taxes")] = Tax()
    shop: Annotated[ShopFacts, key("Who the shop is, and its hours")]
    labels: Annotated[Paper, key("Labels")] = Paper()
    fonts: Annotated[dict[str, str], key("TrueType files for labels in other writings")] = {}
    blanks: Annotated[dict[str, Blank], key("Blank labels of your own, in millimetres")] = {}
    backup: Annotated[Backup, key("Copies at each closing")] = Backup()
    holding: Annotated[
        dict[str, PlaceKind], key("Places with a thermometer, and how they hold")
    ] = msgspec.field(default_factory=_usual_places)

    @cached_property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.shop.timezone)

    @cached_property
    def places(self) -> int:
        return minor_places(self.cash.currency)

    @cached_property
    def region(self) -> tuple[str, str]:
        """Country and subdivision whose holidays hold; ("", "") where none is known."""
        if self.shop.country_code:
            return self.shop.country_code.upper(), self.shop.subdivision
        known = self.shop.market == "us"
        return ("US", self.shop.subdivision or self.shop.state) if known else ("", "")

    @cached_property
    def layouts(self) -> tuple[Layout, ...]:
        """Layouts of restricted numbers, in the order they are tried."""
        return tuple(
            layout
            for name in self.labels.restricted
            for layout in (REGIONS[name] if name in REGIONS else (self._own_layout(name),))
        )

    def _own_layout(self, pattern: str) -> Layout:
        """Prices in the shop's minor units, weights in grams, pieces whole."""
        decimals = self.places if "P" in pattern else 3 if "W" in pattern else 0
        return Layout(pattern, decimals)

    @cached_property
    def label_language(self) -> str:
        """The first language of the labels."""
        if self.labels.language or self.shop.market == "us":
            return self.labels.language or "en"
        return self.shop.language.partition("_")[0]

    @cached_property
    def fahrenheit(self) -> bool:
        return self.shop.market == "us"


class SettingsFormat(Format):
    """``shop.toml``; its money has the places of its own currency."""

    forms: ClassVar = {
        **Format.forms,
        "coins": Form("a list of money", tuple[str, ...]),
        "clock": Form('a time, as "08:30"'),
        "zone": Form("a time zone"),
        "currency": Form("a currency, by ISO 4217"),
        "locale": Form("a language and a country"),
    }

    def read_coins(self, told: tuple[str, ...], at: At) -> tuple[int, ...]:
        values = [self.read(at.path, lambda c: parse_money(c, self.places), coin) for coin in told]
        return tuple(sorted(values, reverse=True))

    def read_clock(self, told: str, at: At) -> time:
        return self.read(at.path, parse_clock, told)

    def read_zone(self, told: str, at: At) -> str:
        try:
            ZoneInfo(told)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise self.bad(at.path, say("there is no time zone '{text}'", text=told)) from None
        return told

    def read_currency(self, told: str, at: At) -> str:
        if told not in USUAL:
            from babel.numbers import is_currency

            if not is_currency(told):
                raise self.bad(at.path, say("there is no currency '{text}'", text=told))
        self.places = minor_places(told)
        return told

    def read_locale(self, told: str, at: At) -> str:
        if told in _LANGUAGES:
            return told
        from babel import Locale, UnknownLocaleError

        try:
            Locale.parse(told)
        except (UnknownLocaleError, ValueError):
            raise self.bad(at.path, say("there is no language '{text}'", text=told)) from None
        return told

    def faults(self, made: Any, path: str) -> Iterator[tuple[str, Said]]:
        match made:
            case ShopFacts() if made.day_starts > LATEST_START:
                why = say(
                    "the day begins at {clock}, expected is 00:00 to 06:00",
                    clock=f"{made.day_starts:%H:%M}",
                )
                yield f"{path}.day_starts", why
            case Cash() if 0 in (made.smallest_coin, *made.coins):
                yield f"{path}.smallest_coin", say("a coin is worth more than nothing")
            case Rate():
                if not all(part.is_finite() and 0 <= part < 1 for part in (made.here, made.away)):
                    yield path, say("a rate is a part of one, such as 0.0825")
            case Tax():
                for name in (n for change in made.changes for n in change.classes):
                    if name not in made.classes:
                        why = say("there is no {kind} '{text}'", kind=term("tax class"), text=name)
                        yield f"{path}.changes.{name}", why
            case Settings():
                known = ["en"] if made.shop.market == "us" else list(EU_WORDS)
                if made.labels.language not in ("", *known):
                    why = say(
                        "labels of market {name} are written in {names}",
                        name=made.shop.market,
                        names=", ".join(known),
                    )
                    yield "labels.language", why
                try:
                    _ = made.layouts
                except LabelError as error:
                    yield "labels.restricted", error.why


class SettingsWriter(Writer):
    """``shop.toml``, written."""

    def write_coins(self, value: tuple[int, ...], _: Any) -> list[str]:
        whole = f".{'0' * self.places}"
        return [plain_money(coin, self.places).removesuffix(whole) for coin in value]

    def write_clock(self, value: time, _: Any) -> str:
        return f"{value:%H:%M}"


def parse_settings(
    text: str, file: str = "shop.toml", tables: dict[str, Any] | None = None
) -> Settings:
    """Read and check ``shop.toml``; every value that code relies on is tried once, here. With
    ``tables`` these are read, and errors named by their lines in ``text``."""
    found = toml_table(text, file) if tables is None else tables
    made: Settings = SettingsFormat(2, text, file).made(Settings, found)
    return made
