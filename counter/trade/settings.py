"""``shop.toml``: who we are, market, money, tax, paper. Edited by hand, checked when read."""

from __future__ import annotations

import re
import tomllib
from datetime import datetime, time
from functools import cached_property
from typing import Annotated, Any, Literal, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec

from counter.errors import BadInput
from counter.trade.money import parse_money
from counter.trade.rates import Tax
from counter.trade.temperatures import PlaceKind
from counter.trade.units import parse_clock
from labels.blanks import Blank
from labels.errors import LabelError
from labels.plain import parse_toml
from labels.restricted import REGIONS, Layout
from labels.rules.words import EU_WORDS

Market = Literal["us", "eu"]
LATEST_START = time(6)  # of a trading day: the night's work belongs to the day before, no more
_T = TypeVar("_T")
MEND = "Mend it and try again"


class BadEntry(BadInput):
    """A wrong entry of a settings or catalogue file. ``path`` is its dotted key, ``fault`` what is
    wrong with it, without the file around it."""

    def __init__(self, tried: str, why: str, do: str = "", *, path: str, fault: str) -> None:
        super().__init__(tried, why, do)
        self.path, self.fault = path, fault


class ShopFacts(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Who the shop is; the maker's name and place go on every label.

    ``country_code`` (ISO 3166, "US") and ``subdivision`` ("WA") say whose holidays the plan knows;
    in market ``us`` they are the United States and ``state`` where nothing is written.
    """

    name: str
    street: str
    city: str
    zip: str
    state: str = ""
    country: str = ""
    phone: str = ""
    in_directory: bool = False
    market: Market = "us"
    language: str = "en_US"
    timezone: str = "America/Los_Angeles"
    day_starts: str = "03:00"
    opens: str = "08:00"
    closes: str = "18:00"
    country_code: str = ""
    subdivision: str = ""
    past_best_by: Literal["refuse", "warn"] = "refuse"
    demo: bool = False


class Cash(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Amounts as people write them; ``coins`` are the notes and coins a drawer may hold."""

    currency: str = "USD"
    smallest_coin: str = "0.01"
    float: str = "150.00"
    coins: tuple[str, ...] = (
        "100", "50", "20", "10", "5", "1", "0.25", "0.10", "0.05", "0.01",
    )  # fmt: skip


class Paper(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Labels: the blank when a product names none, the languages, storage words.

    ``language`` is English in market ``us`` (21 CFR 101.15(c)(1)), else the shop's own where none
    is written. ``storage`` are the words for what is held cold; ``-`` leaves all storage words out.
    ``restricted`` names the layouts of in-store numbers with a price or weight inside, by region
    ("us", "gb") or as a pattern ("2IIIIIVPPPPC"; price in minor units, weight in grams). ``logo``
    is a PNG file in the shop folder.
    """

    blank: str = "roll-60x80"
    second_language: str = ""
    storage: str = ""
    printer: str = ""
    restricted: tuple[str, ...] = ()
    logo: str = ""
    language: str = ""


class Backup(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Copies at each closing: into which folder, of how many days and of how many months.

    Without a ``folder`` none is made. ``papers`` says whether labels and reports go in too.
    """

    folder: str = ""
    keep_days: Annotated[int, msgspec.Meta(ge=1, le=3660)] = 14
    keep_months: Annotated[int, msgspec.Meta(ge=0, le=1200)] = 12
    papers: bool = True


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


class Settings(msgspec.Struct, frozen=True, forbid_unknown_fields=True, dict=True):
    """All of ``shop.toml``. Read it with :func:`parse_settings`."""

    shop: ShopFacts
    cash: Cash = Cash()
    tax: Tax = Tax()
    labels: Paper = Paper()
    fonts: dict[str, str] = {}
    blanks: dict[str, Blank] = {}
    backup: Backup = Backup()
    holding: dict[str, PlaceKind] = msgspec.field(default_factory=_usual_places)

    @cached_property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.shop.timezone)

    @cached_property
    def day_starts(self) -> time:
        return parse_clock(self.shop.day_starts)

    @cached_property
    def opens(self) -> time:
        return parse_clock(self.shop.opens)

    @cached_property
    def closes(self) -> time:
        return parse_clock(self.shop.closes)

    @cached_property
    def region(self) -> tuple[str, str]:
        """Country and subdivision whose holidays hold; ("", "") where none is known."""
        if self.shop.country_code:
            return self.shop.country_code.upper(), self.shop.subdivision
        known = self.shop.market == "us"
        return ("US", self.shop.subdivision or self.shop.state) if known else ("", "")

    @cached_property
    def places(self) -> int:
        from counter.trade.money import minor_places

        return minor_places(self.cash.currency)

    @cached_property
    def smallest_coin(self) -> int:
        return parse_money(self.cash.smallest_coin, self.places, "smallest coin")

    @cached_property
    def float_minor(self) -> int:
        return parse_money(self.cash.float, self.places, "float")

    @cached_property
    def coin_values(self) -> tuple[int, ...]:
        """Values of the notes and coins in minor units, large ones first."""
        values = (parse_money(c, self.places, "coin") for c in self.cash.coins)
        return tuple(sorted(values, reverse=True))

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


def read_toml(text: str, file: str, shape: type[_T]) -> _T:
    """A checked record from TOML text; BadInput names the file and, where it can, the line."""
    return msgspec_convert(toml_table(text, file), text, file, shape)


def toml_table(text: str, file: str) -> dict[str, Any]:
    """The plain tables of a TOML text; a slip of syntax is named with its line."""
    try:
        return parse_toml(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInput(f"read {file}", str(error), "Mend that line; nothing was changed") from None
    except (RecursionError, ValueError) as error:
        why = f"it is no settings text ({type(error).__name__})"
        raise BadInput(f"read {file}", why, "Mend it; nothing was changed") from None


def msgspec_convert(table: Any, text: str, file: str, shape: type[_T]) -> _T:
    """Check plain tables against ``shape``; the error names the key and the line it stands in."""
    try:
        return msgspec.convert(table, shape)
    except msgspec.ValidationError as error:
        why, path = _why_and_path(error)
        raise bad_entry(text, file, _name_keys(table, path, shape), why) from None


def _why_and_path(error: msgspec.ValidationError) -> tuple[str, str]:
    why, _, path = str(error).partition(" - at ")
    return why, path.strip("`").removeprefix("$.")


def _name_keys(table: Any, path: str, shape: type) -> str:
    """``products[...].keeps`` with the key that is at fault: each is tried alone."""
    while "[...]" in path:
        above = path[: path.index("[...]")].split(".")
        for key in dict(_dig(table, above)):
            alone = _only(table, above, key)
            try:
                msgspec.convert(alone, shape)
            except msgspec.ValidationError as error:
                if _why_and_path(error)[1] == path:
                    table, path = alone, path.replace("[...]", f".{key}", 1)
                    break
        else:
            break
    return path


def _dig(table: Any, keys: list[str]) -> Any:
    for key in keys:
        table = table[key.partition("[")[0]]
    return table


def _only(table: Any, above: list[str], key: str) -> dict[str, Any]:
    """The tables with nothing but ``key`` in the one that ``above`` leads to."""
    if not above:
        return {key: table[key]}
    return {**table, above[0]: _only(table[above[0]], above[1:], key)}


def bad_entry(text: str, file: str, path: str, why: str) -> BadEntry:
    """One sentence for a wrong entry of a TOML file: ``path`` is its dotted key."""
    line = line_of(text, path)
    place = f"'{path}'" + (f" (line {line})" if line else "")
    why = why[0].lower() + why[1:]
    said = f"{place}: {why}" if path else why
    return BadEntry(f"read {file}", said, MEND, path=path, fault=why)


def line_of(text: str, path: str) -> int | None:
    """The line of a TOML text where the dotted key ``path`` stands, as far as plain text tells.

    >>> line_of("[shop]\\nname = 'A'\\ncity = 3", "shop.city")
    3
    """
    parts = [p.split("[")[0] for p in path.split(".") if p not in ("", "...")]
    here = 0
    for line, content in enumerate(text.splitlines(), 1):
        words = re.split(r"[\s.\[\]=\"']+", content.split("#")[0].strip())
        words = [w for w in words if w]
        start = 0 if content.strip().startswith("[") else here
        if content.strip().startswith("["):
            here = len(words) if words == parts[: len(words)] else 0
        wanted = parts[start:]
        if wanted and words[: len(wanted)] == wanted and (start or len(words) >= len(parts)):
            return line
    return None


def parse_settings(text: str, file: str = "shop.toml") -> Settings:
    """Read and check ``shop.toml``; every value that code relies on is tried once, here."""
    table = toml_table(text, file)
    check_blanks(table, text, file)
    settings = msgspec_convert(table, text, file, Settings)
    try:
        _ = settings.zone
    except (ZoneInfoNotFoundError, ValueError, OSError):
        why = f"there is no time zone '{settings.shop.timezone}'"
        raise bad_entry(text, file, "shop.timezone", why) from None
    for path, read in (
        ("shop.day_starts", lambda: settings.day_starts),
        ("shop.opens", lambda: settings.opens),
        ("shop.closes", lambda: settings.closes),
        ("cash.smallest_coin", lambda: settings.smallest_coin),
        ("cash.float", lambda: settings.float_minor),
        ("cash.coins", lambda: settings.coin_values),
        ("labels.restricted", lambda: settings.layouts),
    ):
        try:
            read()
        except (BadInput, LabelError) as error:
            raise bad_entry(text, file, path, error.why) from None
    if settings.day_starts > LATEST_START:
        why = f"the day begins at {settings.shop.day_starts}, expected is 00:00 to 06:00"
        raise bad_entry(text, file, "shop.day_starts", why)
    check_currency(settings, text, file)
    known = ["en"] if settings.shop.market == "us" else list(EU_WORDS)
    if settings.labels.language not in ("", *known):
        why = f"labels of market {settings.shop.market} are written in {', '.join(known)}"
        raise bad_entry(text, file, "labels.language", why)
    if settings.smallest_coin == 0 or 0 in settings.coin_values:
        raise bad_entry(text, file, "cash.smallest_coin", "a coin is worth more than nothing")
    check_tax(settings.tax, text, file)
    return settings


def check_tax(tax: Tax, text: str, file: str) -> None:
    """Refuse a rate that is none, and one with a day for a class that there is not."""
    tables = [("tax.classes", tax.classes), *(("tax.changes", c.classes) for c in tax.changes)]
    for path, classes in tables:
        for name, rate in classes.items():
            if not all(part.is_finite() and 0 <= part < 1 for part in (rate.here, rate.away)):
                why = "a rate is a part of one, such as 0.0825"
                raise bad_entry(text, file, f"{path}.{name}", why)
            if name not in tax.classes:
                raise bad_entry(text, file, f"{path}.{name}", f"there is no tax class '{name}'")


def check_blanks(table: dict[str, Any], text: str, file: str) -> None:
    """Refuse a blank that no printer could feed, under the name it has in the file."""
    blanks = table.get("blanks")
    for name, blank in blanks.items() if isinstance(blanks, dict) else ():
        try:
            msgspec.convert(blank, Blank)
        except LabelError as error:
            raise bad_entry(text, file, f"blanks.{name}", error.why) from None
        except msgspec.ValidationError:
            return  # said with its key when all of the file is converted


def check_currency(settings: Settings, text: str, file: str) -> None:
    """Refuse a currency or a language that CLDR does not know."""
    from babel import Locale, UnknownLocaleError
    from babel.numbers import is_currency

    if not is_currency(settings.cash.currency):
        why = f"there is no currency '{settings.cash.currency}'"
        raise bad_entry(text, file, "cash.currency", why)
    try:
        Locale.parse(settings.shop.language)
    except (UnknownLocaleError, ValueError):
        why = f"there is no language '{settings.shop.language}'"
        raise bad_entry(text, file, "shop.language", why) from None
