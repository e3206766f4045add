"""The pages of the counter: one module each, its blueprint named ``page``."""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec

import msgspec
from flask import Blueprint

from counter.trade.people import Role


class Page(msgspec.Struct, frozen=True):
    """One entry of the navigation; ``needed`` is the least role that may open it."""

    key: str
    needed: Role = "counter"


PAGES = (
    Page("shelf"),
    Page("log", "maker"),
    Page("labels", "maker"),
    Page("waste"),
    Page("closing", "owner"),
    Page("records"),
    Page("setup", "owner"),
)
# Pages that are reached from another page, and so stand in no navigation.
BESIDES = (
    "who",
    "tubs",
    "slip",
    "sales",
    "outside",
    "backups",
    "papers",
    "plan",
    "temperatures",
    "settings",
    "inside",
    "blanks",
    "weighing",
    "away",
    "correcting",
)


def blueprints() -> list[tuple[str, Blueprint]]:
    """(key, blueprint) of every page that is there."""
    found = []
    for key in (*(p.key for p in PAGES), *BESIDES):
        module = f"counter.web.{key}"
        if find_spec(module) is not None:
            found.append((key, import_module(module).page))
    return found
