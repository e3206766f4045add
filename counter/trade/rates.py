"""Rates of tax by class, and the day from which each holds."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

import msgspec

from counter.trade.schema import key


class Rate(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Tax of one class, as parts of one (0.0825)."""

    here: Annotated[Decimal, key("eaten here, a part of one such as 0.0825")] = Decimal(0)
    away: Annotated[Decimal, key("taken away, a part of one")] = Decimal(0)


class TaxChange(msgspec.Struct, frozen=True, forbid_unknown_fields=True, rename={"since": "from"}):
    """Rates that hold from a calendar date on, for the classes that it names."""

    since: Annotated[date, key("the day from which they hold")]
    classes: Annotated[dict[str, Rate], key("the classes that change")]


class Tax(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """``added`` on top of the price (US) or ``included`` in it (EU). ``changes`` are rates with a
    day of their own, ``[[tax.changes]]`` in the file."""

    mode: Annotated[
        Literal["added", "included"], key("The prices of the catalogue", part="tax",
                                          hint="After a change, look at the prices: the same "
                                          "figures then mean something else.")
    ] = "added"  # fmt: skip
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
        for path in dict.fromkeys((*were, *are)) if were.get(path) != are.get(path)
    )  # fmt: skip


def _said(classes: dict[str, Rate], behind: str = "") -> dict[str, str]:
    return {
        f"tax.classes.{name}{behind}": f"here {rate.here}, away {rate.away}"
        for name, rate in classes.items()
    }


def _later(tax: Tax) -> dict[str, str]:
    return {k: v for c in tax.changes for k, v in _said(c.classes, f" from {c.since}").items()}
