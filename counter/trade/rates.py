"""Rates of tax by class, and the day from which each holds."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

import msgspec

from counter.trade.schema import key
from labels.say import say


class Rate(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Tax of one class, as parts of one (0.0825)."""

    here: Annotated[Decimal, key("eaten here, a part of one", always=True)] = Decimal(0)
    away: Annotated[Decimal, key("taken away, a part of one", always=True)] = Decimal(0)


class TaxChange(msgspec.Struct, frozen=True, forbid_unknown_fields=True, rename={"since": "from"}):
    """Rates that hold from a calendar date on, for the classes that it names."""

    since: Annotated[date, key("the day from which they hold")]
    classes: Annotated[dict[str, Rate], key("the classes that change")]


class Tax(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """``added`` on top of the price (US) or ``included`` in it (EU). ``changes`` are rates with a
    day of their own, ``[[tax.changes]]`` in the file."""

    mode: Annotated[
        Literal["added", "included"],
        key(
            "The prices of the catalogue",
            part="tax",
            hint=say(
                "After a change, look at the prices: the same figures then mean something else."
            ),
        ),
    ] = "added"
    classes: Annotated[dict[str, Rate], key("Classes of tax, by name")] = {}
    changes: Annotated[tuple[TaxChange, ...], key("Rates with a day of their own")] = ()

    def at(self, day: date) -> Tax:
        """The rates that hold on a day, of several changes of one day those that stand last."""
        if not self.changes:
            return self
        classes = dict(self.classes)
        for change in sorted(self.changes, key=lambda c: c.since):
            classes |= change.classes if change.since <= day else {}
        return Tax(self.mode, classes)

    def with_rates(self, rates: dict[str, Rate], since: date, today: date) -> Tax:
        """With these classes and no others, at these rates from ``since`` on.

        With a day to come, and where rates have days of their own already, a new rate is written
        down with its day; else in place, where it holds at once.
        """
        held = self.at(today).classes
        new = {name: rate for name, rate in rates.items() if held.get(name, rate) != rate}
        dated, changes = since > today or bool(self.changes), self.changes
        classes = {
            name: self.classes[name] if name in held and (dated or name not in new) else rate
            for name, rate in rates.items()
        }
        if (new and dated) or not held.keys() <= rates.keys():
            days: dict[date, dict[str, Rate]] = {}
            for one in (*changes, TaxChange(since, new if dated else {})):
                kept = {name: rate for name, rate in one.classes.items() if name in rates}
                days.setdefault(one.since, {}).update(kept)
            changes = tuple(TaxChange(day, days[day]) for day in sorted(days) if days[day])
        return Tax(self.mode, classes, changes)


def tax_then(noted: Tax, now: Tax, day: date) -> Tax:
    """The rates of a moment gone by: those ``noted`` then, and what has a day of its own, by what
    was written then or is by ``now``. A class that came later has the rate it came with."""
    classes, changes = {**now.classes, **noted.classes}, (*noted.changes, *now.changes)
    return Tax(noted.mode, classes, changes).at(day)


def said_rates(old: Tax | None, new: Tax) -> tuple[str, ...]:
    """The rates that differ, a line each, as the file names them."""
    if old is None:
        return ()
    were, are = ({"tax.mode": tax.mode, **_said(tax.classes), **_later(tax)} for tax in (old, new))
    return tuple(
        f"{path}: {were.get(path, '–')} -> {are.get(path, '–')}"
        for path in dict.fromkeys((*were, *are))
        if were.get(path) != are.get(path)
    )


def _said(classes: dict[str, Rate], behind: str = "") -> dict[str, str]:
    return {
        f"tax.classes.{name}{behind}": f"here {rate.here}, away {rate.away}"
        for name, rate in classes.items()
    }


def _later(tax: Tax) -> dict[str, str]:
    return {k: v for c in tax.changes for k, v in _said(c.classes, f" from {c.since}").items()}
