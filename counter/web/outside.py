"""What a browser asks for beside the pages: faces, icon, manifest, the choice of language."""

from __future__ import annotations

import io
from functools import lru_cache
from importlib.resources import files

from flask import Blueprint, Response, abort, jsonify, make_response, redirect, send_file
from werkzeug.wrappers import Response as AnyResponse

from counter.languages import names
from counter.web.here import field, public, shop

page = Blueprint("outside", __name__)
FACES = {"regular": "Regular", "bold": "Bold"}
PAPER, INK, BLOCK, INDIGO = "#f6efdf", "#1b2036", "#fffaea", "#2b3a86"
# The icon on a grid of 64: blocks on a plank, one of them taken out.
BLOCKS = ((12, 34), (26, 34), (40, 34), (12, 20), (26, 20))
SIDE = 12


@page.get("/")
@public
def start() -> AnyResponse:
    return redirect("/shelf/")


@page.get("/face/<weight>.ttf")
@public
def face(weight: str) -> Response:
    """The typeface, from our own computer: no outside host is asked."""
    if weight not in FACES:
        abort(404)
    file = files("fontpkg_fira_sans_condensed") / "files" / f"FiraSansCondensed-{FACES[weight]}.ttf"
    return send_file(io.BytesIO(file.read_bytes()), "font/ttf", max_age=604800, etag=weight)


@page.get("/icon.svg")
@public
def icon() -> Response:
    blocks = "".join(
        f'<rect x="{x}" y="{y}" width="{SIDE}" height="{SIDE}" rx="1.5"/>' for x, y in BLOCKS
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 64 64">'
        f'<rect width="64" height="64" rx="12" fill="{INDIGO}"/>'
        f'<g fill="{BLOCK}">{blocks}</g><path d="M8 48h48v4H8z" fill="{PAPER}"/></svg>'
    )
    return Response(svg, mimetype="image/svg+xml")


@lru_cache
def draw_icon(size: int) -> bytes:
    """The icon as PNG, drawn by us from the same figures."""
    from PIL import Image, ImageDraw

    unit = size / 64
    picture = Image.new("RGB", (size, size), INDIGO)
    pen = ImageDraw.Draw(picture)
    for x, y in BLOCKS:
        box = [round(v * unit) for v in (x, y, x + SIDE, y + SIDE)]
        pen.rounded_rectangle(box, radius=round(1.5 * unit), fill=BLOCK)
    pen.rectangle([round(8 * unit), round(48 * unit), round(56 * unit), round(52 * unit)], PAPER)
    out = io.BytesIO()
    picture.save(out, "PNG", optimize=True)
    return out.getvalue()


@page.get("/icon-<int:size>.png")
@public
def icon_png(size: int) -> Response:
    if size not in (192, 512):
        abort(404)
    return Response(draw_icon(size), mimetype="image/png")


@page.get("/manifest.webmanifest")
@public
def manifest() -> Response:
    made = jsonify(
        name=shop().desk.settings.shop.name,
        short_name="Counter",
        start_url="/shelf/",
        scope="/",
        display="standalone",
        background_color=PAPER,
        theme_color=INDIGO,
        icons=[
            {"src": "/icon.svg", "type": "image/svg+xml", "sizes": "any"},
            *(
                {
                    "src": f"/icon-{n}.png",
                    "type": "image/png",
                    "sizes": f"{n}x{n}",
                    "purpose": "any maskable",
                }
                for n in (192, 512)
            ),
        ],
    )
    made.mimetype = "application/manifest+json"
    return made


@page.post("/language")
@public
def language() -> AnyResponse:
    """Choose the language of this browser."""
    chosen = field("language")
    if chosen not in names():
        abort(400)
    made = make_response(redirect(own_path(field("next", "/shelf/"))))
    made.set_cookie("language", chosen, max_age=365 * 86400, httponly=True, samesite="Strict")
    return made


def own_path(path: str) -> str:
    """A path on our own pages, whatever was sent: never another host.

    >>> own_path("//elsewhere.example/x"), own_path("/waste/?lot=1")
    ('/shelf/', '/waste/?lot=1')
    """
    plain = path.startswith("/") and not path.startswith(("//", "/\\"))
    return path if plain and path.isprintable() else "/shelf/"
