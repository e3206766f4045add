"""The forms of ``shop.toml``: which entries stand on which one, how they are shown and read.

A form only turns typed text into entries of the file. What may stand there is for the trade to say.
"""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Annotated, Any, Literal, NamedTuple, get_args, get_origin
from zoneinfo import available_timezones

import msgspec

from counter.trade.rates import Rate
from counter.trade.schema import BadEntry, Key, keys_of, record_in
from counter.trade.settings import Settings, SettingsWriter
from counter.trade.settings_text import Changes, Path, differences
from counter.trade.units import parse_day
from counter.web.here import field, fields
from labels.say import Said, say

PARTS = ("who", "hours", "money", "tax", "paper", "places", "backup")
Kind = Literal["text", "clock", "number", "list", "check", "choice", "zone", "logo"]
ROWS = 2  # empty rows for what is new
LONGEST_NAME = 40
LOGO = "logo.png"
_FORMS: dict[str, Kind] = {"clock": "clock", "zone": "zone", "coins": "list"}
_KINDS: dict[Any, Kind] = {bool: "check", int: "number", tuple: "list", Literal: "choice"}


class FormKey(NamedTuple):
    """One key of the file on a form."""

    table: str
    key: Key

    @property
    def name(self) -> str:
        """The name of its field, which is the dotted key: ``shop.city``."""
        return f"{self.table}.{self.key.file}"

    @property
    def word(self) -> str:
        """The key of the texts of its options: the labels have a language of their own."""
        return "label_language" if self.name == "labels.language" else self.key.file

    @property
    def kind(self) -> Kind:
        how, kind = self.key.how, self.key.kind
        if how["form"]:
            return _FORMS.get(how["form"], "text")
        kind = get_args(kind)[0] if get_origin(kind) is Annotated else get_origin(kind) or kind
        page: Kind = how.get("page") or _KINDS.get(kind, "choice" if self.options else "text")
        return page

    @property
    def options(self) -> tuple[str, ...]:
        """What a choice offers."""
        own = get_args(self.key.kind) if get_origin(self.key.kind) is Literal else ()
        return own or self.key.how.get("options", ())

    @property
    def needed(self) -> bool:
        return self.key.needed or bool(self.key.how["form"]) or self.kind == "number"

    @property
    def path(self) -> Path:
        return self.table, self.key.file


@lru_cache
def sections() -> dict[str, list[FormKey]]:
    """The parts of the page, each with the keys that say they stand on it."""
    found: dict[str, list[FormKey]] = {part: [] for part in PARTS}
    for table, one in keys_of(Settings).items():
        record = record_in(one.kind)
        for key in keys_of(record).values() if record else ():
            if "part" in key.how:
                found[key.how["part"]].append(FormKey(table, key))
    return found


@lru_cache
def zones() -> list[str]:
    """Every time zone that this computer knows, by name."""
    return sorted(name for name in available_timezones() if "/" in name)


def shown(entry: FormKey, settings: Settings) -> str:
    """An entry as its field shows it; a ticked box is ``yes``."""
    value = standing(entry, settings)
    if isinstance(value, bool) or entry.kind == "logo":
        return "yes" if value else ""
    return ", ".join(value) if isinstance(value, list) else str(value)


def standing(entry: FormKey, settings: Settings) -> Any:
    """What the file says, or what holds where it says nothing."""
    return SettingsWriter(settings.places).written(entry.key, getattr(settings, entry.table))


def sent(entry: FormKey) -> object:
    """What somebody typed, as the file holds it. BadEntry for what is no number."""
    text = field(entry.name, "")
    match entry.kind:
        case "check":
            return text == "yes"
        case "logo":
            return LOGO if text == "yes" else ""
        case "list":
            return [part for part in re.split(r"[,;\s]+", text) if part]
        case "number":
            if not re.fullmatch(r"[0-9]{1,6}", text):
                raise wrong(
                    entry.name,
                    say("'{text}' is not a whole number", text=text),
                    say("Write it in figures"),
                )
            return int(text)
        case _:
            return text


def wrong(path: str, fault: Said, do: Said) -> BadEntry:
    return BadEntry(say("change the settings"), fault, do, path=path, fault=fault)


def changes_of(section: str, settings: Settings) -> dict[Path, object]:
    """The entries of a form that are not as they stand."""
    found: dict[Path, object] = {}
    for entry in sections()[section]:
        value, there = sent(entry), standing(entry, settings)
        if entry.kind == "logo" and bool(value) == bool(there):
            continue  # a logo under another name, in a file kept by hand, stays
        if value != there:
            found[entry.path] = value
    return found


# -- rows: tax classes, places


class Row(msgspec.Struct, frozen=True):
    """One line of a list on a form; ``was`` is the name it has in the file, "" for a new one."""

    was: str
    name: str
    values: tuple[str, ...]


def tax_rows(settings: Settings, today: date) -> list[Row]:
    """The tax classes with the rates of today in percent, away and here."""
    found = [
        Row(name, name, (percent_text(rate.away), percent_text(rate.here)))
        for name, rate in settings.tax.at(today).classes.items()
    ]
    return found + [Row("", "", ("", ""))] * ROWS


def place_rows(settings: Settings) -> list[Row]:
    """The places whose temperature is noted, and what they keep."""
    found = [Row(name, name, (how,)) for name, how in settings.holding.items()]
    return found + [Row("", "", ("cold",))] * ROWS


def rows_sent(columns: tuple[str, ...]) -> list[Row]:
    """The lines of a form as they were typed."""
    lists = [fields("was"), fields("name"), *(fields(column) for column in columns)]
    if len({len(values) for values in lists}) != 1:
        raise wrong(
            "", say("a line of the form is not whole"), say("Reload the page and try again")
        )
    return [Row(was, name, tuple(rest)) for was, name, *rest in zip(*lists, strict=True)]


def named(rows: list[Row], table: str) -> list[Row]:
    """The lines that have a name, each a name of its own. An emptied name takes a line away."""
    kept = [row for row in rows if row.name]
    seen: set[str] = set()
    for row in kept:
        if row.name in seen:
            raise wrong(
                f"{table}.{row.name}",
                say("'{text}' stands there twice", text=row.name),
                say("Keep one"),
            )
        if len(row.name) > LONGEST_NAME or not re.fullmatch(r"[\w .&/-]+", row.name):
            raise wrong(
                f"{table}.{row.name}",
                say("a name has letters, figures and blanks, up to 40"),
                say("Write a shorter or plainer one"),
            )
        seen.add(row.name)
    return kept


def tax_changes(rows: list[Row], settings: Settings, today: date) -> Changes:
    """Rates as the file holds them, parts of one; a rate that stays the same is not touched."""
    text = field("since", "", 10)
    since = parse_day(text) if text else today
    if since < today:
        raise wrong(
            "tax.changes", say("{date} has passed", date=since), say("Name a day to come, or none")
        )
    rates = {}
    for row in named(rows, "tax.classes"):
        path = f"tax.classes.{row.name}"
        away, here = row.values
        rates[row.name] = Rate(percent(here, f"{path}.here"), percent(away, f"{path}.away"))
    writer, tax = SettingsWriter(settings.places), settings.tax
    wanted = tax.with_rates(rates, since, today)
    return differences(writer.told(tax), writer.told(wanted), ("tax",))


def place_changes(rows: list[Row], settings: Settings, there: dict[str, Any]) -> Changes:
    """The places. Where the file names none the usual ones hold, so that all are written down."""
    wanted = {row.name: row.values[0] for row in named(rows, "holding")}
    if wanted == dict(settings.holding):
        return {}
    if not wanted:
        raise wrong("holding", say("no place is left whose temperature is noted"), say("Keep one"))
    held = {"holding": there["holding"]} if "holding" in there else {}
    return differences(held, {"holding": wanted})


def percent_text(rate: Decimal) -> str:
    """A rate as people write it, without a sign.

    >>> percent_text(Decimal("0.0860")), percent_text(Decimal(0))
    ('8.6', '0')
    """
    return f"{(rate * 100).normalize():f}"


def percent(text: str, path: str) -> Decimal:
    """A rate in percent as a part of one; nothing typed is no tax."""
    if not re.fullmatch(r"[0-9]{0,2}([.,][0-9]{1,4})?", text):
        raise wrong(
            path, say("'{text}' is not a rate in percent", text=text), say("Write 8.25, say")
        )
    return Decimal(text.replace(",", ".") or 0) / 100


def all_changes(section: str, settings: Settings, there: dict[str, Any], today: date) -> Changes:
    """Everything that a form asks to be changed; ``there`` are the tables of the file."""
    found = changes_of(section, settings)
    if section == "tax":
        found |= tax_changes(rows_sent(("away", "here")), settings, today)
    if section == "places":
        found |= place_changes(rows_sent(("how",)), settings, there)
    return found
