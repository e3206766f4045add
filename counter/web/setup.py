"""Set-up: products and prices, the catalogue as a file, staff, logo."""

from __future__ import annotations

import io

from flask import Blueprint, Response, abort, redirect, render_template, request, send_file, url_for
from werkzeug.wrappers import Response as AnyResponse

from counter.errors import BadInput, CounterError
from counter.shop.logo import MOST_BYTES, keep_logo, logo_file, remove_logo
from counter.trade.catalogue import Portion
from counter.trade.starting import unwritten
from counter.trade.units import parse_day
from counter.web import guard
from counter.web.cash import money_field, plain
from counter.web.forms import told, typed, whole
from counter.web.here import by, field, shop, t, words
from counter.web.notes import note
from labels.say import Said, say

page = Blueprint("setup", __name__, url_prefix="/setup")

LARGEST_CATALOGUE = 256 << 10
BREAKS = 3  # prices for several that the form has room for


@page.get("/")
def index() -> str:
    """The parts of the set-up."""
    catalogue = shop().desk.catalogue
    return render_template(
        "setup.html",
        products=len(catalogue.products),
        portions=len(catalogue.portions),
        people=len(catalogue.staff),
        pins=len(guard.current_pins()),
        waiting=shop().products.waiting_catalogues(),
        unconfirmed=shop().products.refusal_for_new(say("sell")),
        unwritten=unwritten(shop().desk.settings.shop),
    )


@page.post("/confirm")
def confirm() -> AnyResponse:
    """Keep that the recipes which came with the program are the shop's own."""
    shop().products.confirm_recipes(by())
    note(t("setup.confirmed"))
    return redirect(url_for("setup.index"))


# -- products and prices


@page.get("/products")
def products() -> str:
    """Every product with its portions and their prices."""
    return products_page()


def products_page() -> str:
    catalogue = shop().desk.catalogue
    rows = [
        (made, [p for p in catalogue.portions.values() if p.product == made.key])
        for made in catalogue.products.values()
    ]
    asked = typed("portion")
    return render_template(
        "setup_products.html",
        rows=rows,
        plain=plain,
        typed=typed,
        asked=asked,
        breaks_of=breaks_of,
        currency=shop().desk.settings.cash.currency,
    )


def breaks_of(portion: Portion) -> list[tuple[str, str]]:
    """Prices for several as the form shows them, with empty rows for new ones."""
    filled = [(str(b.quantity), plain(b.price)) for b in portion.breaks]
    return filled + [("", "")] * max(1, BREAKS - len(filled))


@page.post("/products")
def change() -> AnyResponse | tuple[str, int]:
    """Give a portion new prices, or switch it on or off."""
    try:
        key = field("portion", most=60)
        shop().desk.catalogue.portion(key, say("change portion {name}", name=key))
        price = money_field("price", "price")
        if price is None:
            raise BadInput(
                say("change portion {name}", name=key),
                say("no price is given"),
                say("Write the price of one"),
            )
        change = shop().products.change_portion(
            key,
            price,
            money_field("last_day_price", "last-day price"),
            breaks_sent(),
            field("sold", "", 4) != "yes",
            by(),
        )
    except CounterError as error:
        status = told(error)
        return products_page(), status
    made = change.made.portions[key]
    for n in change.lines:
        old, new = map(words().said, (n.old, n.new))
        note(t("setup.line", name=n.name, what=words().word(n.what), old=old, new=new))
    for day in change.after:
        note(t("setup.waits_behind", date=words().date(day)), "warn")
    note(
        t(
            "setup.changed_off" if made.off else "setup.changed",
            name=made.name,
            price=words().money(made.price),
        )
    )
    return redirect(url_for("setup.products", _anchor=f"p-{made.key}"))


def breaks_sent() -> list[tuple[int, int]]:
    """Prices for several out of the form; a row with nothing in it is none."""
    found = []
    for n in range(20):
        quantity, price = whole(f"several-{n}", 1000), money_field(f"several-price-{n}", "price")
        if quantity is None and price is None:
            continue
        if quantity is None or price is None:
            why = say("a price for several has no number, or no price")
            raise BadInput(say("change the prices"), why, say("Fill in both, or empty both"))
        found.append((quantity, price))
    return found


# -- the catalogue as a file


@page.get("/catalogue")
def catalogue() -> str:
    return render_template(
        "setup_catalogue.html",
        most=LARGEST_CATALOGUE >> 10,
        waiting=shop().products.waiting_catalogues(),
    )


@page.get("/catalogue.toml")
def download() -> Response:
    """The catalogue in use, as the file it is loaded from."""
    data = shop().products.catalogue_text().encode()
    return send_file(
        io.BytesIO(data), "application/toml", as_attachment=True, download_name="catalogue.toml"
    )


def file_sent(name: str, most: int, tried: Said) -> bytes:
    """An uploaded file, not larger than it may be."""
    sent = request.files.get(name)
    if sent is None or not sent.filename:
        raise BadInput(tried, say("no file was chosen"), say("Choose a file first"))
    with sent.stream as stream:
        data = stream.read(most + 1)
    if len(data) > most:
        raise BadInput(
            tried, say("it has more than {n} KiB", n=most >> 10), say("Choose a smaller file")
        )
    return data


@page.post("/catalogue")
def upload() -> AnyResponse | str | tuple[str, int]:
    """Check a catalogue file and show what it changes; shown, put it to use. A slip in it is named
    with its line."""
    try:
        since = parse_day(field("since")) if typed("since") else None
        if "text" not in request.form:
            text = text_sent()
            change = shop().products.look_at_catalogue(text, since=since)
            return render_template("setup_change.html", change=change, text=text, since=since)
        text = field("text", most=LARGEST_CATALOGUE)
        made = shop().products.load_catalogue(text, since=since, by=by())
    except CounterError as error:
        status = told(error)
        return catalogue(), status
    said = "setup.will_load" if made.since else "setup.loaded"
    note(
        t(
            said,
            products=len(made.products),
            portions=len(made.portions),
            date=words().date(made.since) if made.since else "",
        )
    )
    return redirect(url_for("setup.catalogue"))


def text_sent() -> str:
    """The text of an uploaded catalogue."""
    tried = say("load that catalogue")
    try:
        return file_sent("file", LARGEST_CATALOGUE, tried).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput(
            tried, say("it is not text in UTF-8"), say("Save it as UTF-8 text")
        ) from None


@page.post("/catalogue/take-back")
def take_back() -> AnyResponse | tuple[str, int]:
    """Take back a catalogue that waits for its day."""
    try:
        since = parse_day(field("since"))
        shop().products.take_back_catalogue(since)
    except CounterError as error:
        status = told(error)
        return catalogue(), status
    note(t("setup.taken_back", date=words().date(since)))
    return redirect(url_for("setup.catalogue"))


# -- logo


@page.get("/logo")
def logo() -> str:
    return logo_page()


def logo_page() -> str:
    file = logo_file(shop().desk)
    return render_template(
        "setup_logo.html",
        there=file is not None,
        most=MOST_BYTES >> 10,
        printed=shop().desk.settings.labels.logo,
        stamp=file.stat().st_mtime_ns if file else 0,
    )


@page.get("/logo.png")
def logo_png() -> Response:
    file = logo_file(shop().desk)
    if file is None:
        abort(404)
    return send_file(io.BytesIO(file.read_bytes()), "image/png")


@page.post("/logo")
def take_logo() -> AnyResponse | tuple[str, int]:
    """Check a logo and keep it, or take the one there is away."""
    try:
        if field("remove", "", 4) == "yes":
            remove_logo(shop().desk)
        else:
            keep_logo(shop().desk, file_sent("file", MOST_BYTES, say("take that logo")))
    except CounterError as error:
        status = told(error)
        return logo_page(), status
    note(t("setup.logo_gone" if field("remove", "", 4) == "yes" else "setup.logo_kept"))
    return redirect(url_for("setup.logo"))
