"""The shop's own settings on Set-up: what ``shop.toml`` says, and a form for each part of it."""

from __future__ import annotations

from flask import Blueprint, abort, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import CounterError
from counter.shop.logo import logo_file
from counter.trade.schema import MEND, BadEntry, toml_table
from counter.trade.settings_text import Changes, SettingRefused, SettingsMoved
from counter.web import shop_forms as forms
from counter.web.forms import told, typed
from counter.web.here import by, field, needs, shop, t, words
from counter.web.notes import note
from counter.web.shop_forms import PARTS, FormKey, Row, sections
from labels.say import full

page = Blueprint("settings", __name__, url_prefix="/setup/shop")


@page.get("")
@needs("owner")
def index() -> str:
    """All parts as they stand, and the file itself."""
    file, settings = shop().setup.settings_file(), shop().desk.settings
    folder = shop().desk.folder
    return render_template(
        "settings.html",
        parts_of={name: summary(name) for name in PARTS},
        text=file.text,
        tax=settings.tax,
        today=shop().desk.now().date(),
        percent=words().percent,
        last=shop().setup.last_settings_change(),
        fault=shop().setup.settings_fault,
        file=str(folder / "shop.toml") if folder else "shop.toml",
    )


def summary(section: str) -> list[tuple[str, str]]:
    """The entries of a part in the words of its form."""
    settings = shop().desk.settings
    found = []
    for entry in sections()[section]:
        value = forms.shown(entry, settings)
        if entry.kind in ("check", "logo"):
            value = t("settings.yes" if value else "settings.no")
        elif entry.kind == "choice":
            value = option(entry, value)
        found.append((words().word(entry.key.says), value or "–"))
    if section == "places":
        found += [(name, t(f"settings.{how}")) for name, how in settings.holding.items()]
    return found


def option(entry: FormKey, value: str) -> str:
    """An option of a choice in words; blanks and languages without any have their own names."""
    if entry.key.file == "blank":
        return value
    if entry.table == "labels" and value:
        return t(f"settings.language_{value}") if value in entry.options else value
    return t(f"settings.{entry.word}_{value}")


def options(entry: FormKey) -> list[tuple[str, str]]:
    """What a choice offers; what the file says is always among it."""
    offered = list(shop().labels.blanks()) if entry.key.file == "blank" else list(entry.options)
    there = forms.shown(entry, shop().desk.settings)
    return [(value, option(entry, value)) for value in dict.fromkeys((*offered, there))]


@page.get("/<section>")
@needs("owner")
def part(section: str) -> str:
    """The form of one part."""
    if section not in PARTS:
        abort(404)
    return form(section)


def form(section: str, error: CounterError | None = None) -> str:
    """A form, filled with what the file says, or with what was typed when it was refused."""
    settings, file = shop().desk.settings, shop().setup.settings_file()
    entries = sections()[section]
    stands = {entry.name: forms.shown(entry, settings) for entry in entries}
    filled = {name: typed(name) for name in stands} if error else stands
    path = error.path if isinstance(error, BadEntry | SettingRefused) else ""
    return render_template(
        "settings_part.html",
        section=section,
        entries=entries,
        filled=filled,
        options=options,
        rows=rows(section, error is not None),
        digest=file.digest,
        zones=forms.zones,
        since=typed("since") if error else "",
        path=path,
        fault=fault_of(error),
        has_logo=logo_file(shop().desk) is not None,
        moved=stands if isinstance(error, SettingsMoved) else {},
    )


def fault_of(error: CounterError | None) -> str:
    """What is said at the field itself: the reason, and what to do, without the file around it."""
    if not isinstance(error, BadEntry | SettingRefused):
        return ""
    why = error.fault if isinstance(error, BadEntry) else error.why
    told = (why, "" if error.do == MEND else error.do)
    return " ".join(words().said(full(part)) for part in told if part)


def rows(section: str, again: bool) -> list[Row]:
    """The lines of a list, as they stand or as they were typed."""
    columns = {"tax": ("away", "here"), "places": ("how",)}.get(section)
    if columns is None:
        return []
    if again:
        try:
            return forms.rows_sent(columns)
        except CounterError:
            pass  # a form that is not ours is shown as it stands
    settings, today = shop().desk.settings, shop().desk.now().date()
    return forms.tax_rows(settings, today) if section == "tax" else forms.place_rows(settings)


@page.post("/<section>")
@needs("owner")
def keep(section: str) -> AnyResponse | tuple[str, int]:
    """Change one part of the file; nothing, or all of it."""
    if section not in PARTS:
        abort(404)
    try:
        text = shop().setup.settings_file().text
        changes = forms.all_changes(
            section, shop().desk.settings, toml_table(text, "shop.toml"), shop().desk.now().date()
        )
        kept(changes)
    except CounterError as error:
        status = told(error)
        return form(section, error), status
    return redirect(url_for("settings.index", _anchor=section))


def kept(changes: Changes) -> None:
    """Keep changes, and say so on the next page."""
    said = shop().setup.change_settings(changes, field("digest", "", 40), by=by())
    if not said:
        note(t("settings.same"))
        return
    note(t("settings.kept"))
    if ("shop", "market") in changes:
        note(t("settings.market_look"), "warn")
