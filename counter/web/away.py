"""The page while the shop's computer does not answer: what a browser keeps for that time.

A worker in the browser keeps the files of the page and the shelf as it was last seen. It asks the
server first, always; what it keeps is shown only where no answer comes, and says so. What is kept
is named by a digest of the program's own files, so that another version never finds it. Browsers
let a worker in over https, or on the shop's own computer; elsewhere the page works without.
"""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from pathlib import Path

from flask import Blueprint, Response, render_template

from counter.web.here import public

page = Blueprint("away", __name__)

HERE = Path(__file__).parent
PACKAGE = HERE.parent
FOLDERS = ("web/static", "web/templates", "texts")
WORKER = "worker.js"
BESIDE = ("/face/regular.ttf", "/face/bold.ttf", "/icon.svg")


@lru_cache
def version() -> str:
    """A digest of everything a browser is given of the program."""
    digest = hashlib.sha256()
    for folder in FOLDERS:
        for file in sorted((PACKAGE / folder).rglob("*")):
            if file.is_file():
                digest.update(f"{file.relative_to(PACKAGE).as_posix()}\n".encode())
                digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()[:12]


def kept_files() -> list[str]:
    """The addresses of the files that the page is made of; none of them says anything of a shop."""
    names = sorted(file.name for file in (HERE / "static").iterdir() if file.name != WORKER)
    return [*(f"/static/{name}" for name in names if not name.startswith(".")), *BESIDE]


@page.get(f"/{WORKER}")
@public
def worker() -> Response:
    """The worker; from the root, so that it may answer for every page."""
    head = f"const VERSION = {json.dumps(version())}, FILES = {json.dumps(kept_files())};\n"
    text = (HERE / "static" / WORKER).read_text("utf-8")
    return Response(head + text, mimetype="text/javascript")


@page.get("/away/")
@public
def shell() -> str:
    """What stands in place of a page that cannot be had; it knows no shop and nobody."""
    return render_template("away.html")
