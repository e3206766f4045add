"""Blank labels on Set-up: drawn from their measures, and those of the shop's own changed."""

from __future__ import annotations

from decimal import Decimal

from flask import Blueprint, abort, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import CounterError
from counter.trade.schema import BadEntry, keys_of
from counter.trade.settings import SettingsWriter
from counter.trade.settings_text import Changes, Path, SettingRefused
from counter.web.blank_form import FIELDS, USUAL, blank_sent, filled
from counter.web.forms import told, typed
from counter.web.here import by, field, needs, shop, t, words
from counter.web.notes import note
from counter.web.settings import fault_of
from counter.web.shop_forms import wrong
from labels.blanks import PAPERS, Blank
from labels.say import say

page = Blueprint("blanks", __name__, url_prefix="/setup/blanks")


@page.get("")
@needs("owner")
def index() -> str:
    """Blank labels, drawn from their measures; those in use stand first."""
    used: dict[str, list[str]] = {shop().desk.settings.labels.blank: [t("setup.usual_blank")]}
    for product in shop().desk.catalogue.products.values():
        if product.pack.blank:
            used.setdefault(product.pack.blank, []).append(product.name)
    drawn = [(blank, places_of(blank)) for blank in shop().labels.blanks().values()]
    drawn.sort(key=lambda pair: pair[0].name not in used)
    return render_template(
        "setup_blanks.html", drawn=drawn, used=used, own=shop().desk.settings.blanks, mm=millimetres
    )


def places_of(blank: Blank) -> list[tuple[float, float]]:
    return [blank.corner_of(n) for n in range(1, blank.per_page + 1)]


def millimetres(value: float) -> str:
    return words().number(Decimal(f"{value:.2f}").normalize())


@page.get("/edit")
@needs("owner")
def edit() -> str:
    """The form of one blank of the shop's own, or of a new one."""
    name = field("name", "", 40)
    own = shop().desk.settings.blanks
    if name and name not in own:
        abort(404)
    shown = own[name] if name else USUAL
    return form(filled(shown), own.get(name), shown)


def form(
    values: dict[str, str], old: Blank | None, seen: Blank | None, error: CounterError | None = None
) -> str:
    """``old`` is what the file holds, ``seen`` what is drawn beside the form."""
    path = ""
    if isinstance(error, BadEntry | SettingRefused):
        path = error.path.rpartition(".")[2]
    return render_template(
        "settings_blank.html",
        values=values,
        old=old,
        seen=seen,
        path=path,
        fault=fault_of(error),
        places=places_of(seen) if seen else [],
        digest=shop().setup.settings_file().digest,
        papers=("roll", *PAPERS, "own"),
        mm=millimetres,
        says={name: one.says for name, one in keys_of(Blank).items()},
    )


@page.post("/edit")
@needs("owner")
def keep() -> AnyResponse | str | tuple[str, int]:
    """Draw what was typed, keep it, or take a blank away."""
    own = shop().desk.settings.blanks
    old = own.get(field("was", "", 40))
    seen: Blank | None = None
    try:
        if field("remove", "", 4) == "yes" and old is not None:
            changed({("blanks", old.name): None})
            note(t("settings.blank_gone", name=old.name))
            return redirect(url_for("blanks.index"))
        seen = blank_sent()
        if field("look", "", 4) == "yes":
            return form(as_typed(), old, seen)
        if seen.name in own and (old is None or old.name != seen.name):
            raise wrong(
                "name",
                say("there is a blank '{text}' already", text=seen.name),
                say("Give another name"),
            )
        entries: dict[Path, object] = {("blanks", seen.name): SettingsWriter(0).told(seen)}
        if old is not None and old.name != seen.name:
            entries["blanks", old.name] = None
        changed(entries)
    except CounterError as error:
        status = told(error)
        return form(as_typed(), old, seen, error), status
    note(t("settings.blank_kept", name=seen.name))
    return redirect(url_for("blanks.index"))


def as_typed() -> dict[str, str]:
    return {name: typed(name) for name in FIELDS}


def changed(changes: Changes) -> None:
    """Change the file."""
    shop().setup.change_settings(changes, field("digest", "", 40), by=by())
