"""Backups: the setting as it stands, the last copies, a copy now, and how to put one back."""

from __future__ import annotations

import re
from datetime import datetime
from decimal import Decimal
from pathlib import Path

import msgspec
from flask import Blueprint, Response, current_app, jsonify, redirect, render_template, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import CounterError
from counter.web.forms import told
from counter.web.here import needs, shop, unhurried, words
from counter.web.notes import note

page = Blueprint("backups", __name__, url_prefix="/setup/backups")

NAME = re.compile(r".+-\d{4}-\d\d-\d\d(?:-\d{1,3})?\.zip")  # as the shop names its copies
SHOWN = 20


class Copy(msgspec.Struct, frozen=True):
    """A copy in the folder. ``size`` in bytes."""

    name: str
    made: datetime
    size: int


def place() -> Path | None:
    """The folder that copies go to, or None where the shop names none."""
    named, folder = shop().settings.backup.folder, shop().folder
    return folder / Path(named).expanduser() if named and folder is not None else None


def copies(folder: Path) -> list[Copy]:
    """The copies in a folder, newest first. Raises OSError where it cannot be read."""
    zone = shop().settings.zone
    found = [
        Copy(file.name, datetime.fromtimestamp(there.st_mtime, zone), there.st_size)
        for file in folder.iterdir()
        if NAME.fullmatch(file.name)
        for there in [file.stat()]
    ]
    return sorted(found, key=lambda copy: (copy.made, copy.name), reverse=True)[:SHOWN]


def size(count: int) -> str:
    """Bytes as people read them: ``84 KiB``, ``1.3 MiB``."""
    if count < 1 << 20:
        return f"{words().number(-(-count // 1024))} KiB"
    return f"{words().number(Decimal(count * 10 // (1 << 20)) / 10)} MiB"


def show() -> str:
    folder = place()
    found: list[Copy] = []
    unread = False
    if folder is not None:
        try:
            found = copies(folder)
        except FileNotFoundError:
            unread = not folder.parent.exists()  # a folder of ours is made by the first copy
        except OSError:
            unread = True
    return render_template(
        "backups.html", kept=shop().settings.backup, folder=folder, copies=found, unread=unread,
        size=size, newest=found[0].name if found else "",
    )  # fmt: skip


@page.get("/")
@needs("owner")
def index() -> str:
    """Where copies go, which are there, and the button."""
    return show()


@page.post("/")
@needs("owner")
@unhurried
def copy() -> AnyResponse | tuple[str, int]:
    """Copy the whole shop now and read the copy back."""
    running = current_app.extensions
    running["copying"] = (0, 0)

    def tell(done: int, whole: int) -> None:
        running["copying"] = (done, whole)

    try:
        saved = shop().back_up(progress=tell)
    except CounterError as error:
        status = told(error)
        return show(), status
    finally:
        running.pop("copying", None)
    note(saved.said, "warn" if saved.damaged else "good")
    return redirect(url_for("backups.index"))


@page.get("/progress.json")
@needs("owner")
@unhurried
def progress() -> Response:
    """How far the copy has come: ``{"done": 3, "whole": 12}``; both 0 where none is made."""
    done, whole = current_app.extensions.get("copying", (0, 0))
    return jsonify(done=done, whole=whole)
