"""Commands before the door opens: set up, log, print."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counter.cli import (
    as_json,
    echo,
    json_option,
    login_name,
    moment,
    open_shop,
    recording,
    sure_option,
)
from labels.say import NOTHING, Said, figure, join, say, say_n, typed

if TYPE_CHECKING:
    from counter.shop import Shop
    from counter.shop.labels import LabelRun


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
def new(folder: Path) -> None:
    """Make an empty shop in FOLDER: a shop.toml to edit and a catalogue to start from."""
    from importlib.resources import files

    from counter.shop import make_shop

    templates = files("counter") / "starters"
    settings, catalogue = (
        (templates / name).read_text("utf-8") for name in ("shop.toml", "catalogue.toml")
    )
    make_shop(folder, settings, catalogue=catalogue).desk.books.close()
    echo(
        Said(
            f"Made {folder}. Write who you are into {folder / 'shop.toml'} and what you sell into\n"
            f"{folder / 'catalogue.toml'}; then: counter --shop {folder} catalogue load "
            f"{folder / 'catalogue.toml'}"
        )
    )


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("demo"))
@click.option("--seed", type=int, default=1, show_default=True, help="Another seed, other days.")
@click.option("--today", metavar="DAY", help="Play up to this day instead of today.")
@click.option(
    "--days",
    type=click.IntRange(1, 400),
    default=28,
    show_default=True,
    help="How many days lie behind it.",
)
@click.option("--replace", is_flag=True, help="Throw an older demo shop in FOLDER away.")
@click.option(
    "--serve/--no-serve",
    default=None,
    help="Open the counter page at the end; by default for a person.",
)
@json_option
@click.pass_context
def demo(
    ctx: click.Context,
    folder: Path,
    seed: int,
    today: str | None,
    days: int,
    replace: bool,
    serve: bool | None,
    json: bool,
) -> None:
    """Make an invented shop in FOLDER: days behind it, this morning logged and labelled."""
    from datetime import datetime, time
    from zoneinfo import ZoneInfo

    from counter.errors import BadInput
    from counter.trade.units import parse_day
    from demo_shop import make_demo
    from demo_shop.tell import tell

    now = datetime.now(ZoneInfo("America/Los_Angeles"))
    if today:
        day = parse_day(today)
        if not 2002 <= day.year <= 2098:
            why = say("lot codes name the years 2000 to 2099")
            raise BadInput(say("play up to {date}", date=day), why, say("Name another day"))
        now = datetime.combine(day, time(9, 30), now.tzinfo)
    with click.progressbar(length=days, label="Playing the days", file=sys.stderr) as bar:
        made = make_demo(folder, now, seed, days, replace, lambda: bar.update(1))
    as_json(made) if json else echo(*tell(made))
    if serve or (serve is None and not json and sys.stdout.isatty()):
        from counter.commands.serving import serve as open_page

        ctx.find_root().obj = folder
        ctx.invoke(open_page, port=0, lan=False, show=True)


@click.group(invoke_without_command=True)
@json_option
@click.pass_context
def catalogue(ctx: click.Context, json: bool) -> None:
    """Show the catalogue, or load one from a file."""
    from counter.commands.say import Words, table

    if ctx.invoked_subcommand:
        return
    shop = open_shop(ctx)
    made = shop.desk.catalogue
    if json:
        as_json(made)
        return
    words = Words(shop)
    rows = []
    for p in made.portions.values():
        several = join(
            " ",
            (say("{n} for {money}", n=b.quantity, money=words.money(b.price)) for b in p.breaks),
        )
        extras = [several] if several else []
        if p.last_day_price is not None:
            extras.append(say("last day {money}", money=words.money(p.last_day_price)))
        price = words.money(p.price) + (f"/{p.per}" if p.per else "")
        rows.append((p.key, words.product(p.product), p.name, price, join(", ", extras)))
    echo(*table(rows, right=(3,)) or [say("The catalogue is empty: load one.")])
    for t in made.toppings.values():
        price = words.money(t.price) if t.price else say("free")
        echo(say("+{key}: {name}, {price}", key=t.key, name=t.name, price=price))
    for one in shop.products.waiting_catalogues():
        echo(say("Another catalogue waits for {date}.", date=one.since))


@click.command()
def keys() -> None:
    """Tell every key of shop.toml and of catalogue.toml, what may stand there and what it means."""
    from counter.trade.catalogue import Catalogue
    from counter.trade.catalogue_file import CatalogueFormat
    from counter.trade.schema import explained
    from counter.trade.settings import Settings, SettingsFormat

    shop = ("shop.toml", Settings, SettingsFormat)
    for file, record, form in (shop, ("catalogue.toml", Catalogue, CatalogueFormat)):
        echo(Said(f"# {file}; a KEY is a name of your own"))
        for path, allowed, says in explained(record, form.forms):
            echo(Said(f"{path} = {allowed}  # {says}"))


@catalogue.command("load")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--look", is_flag=True, help="Only show what would change; nothing is written.")
@click.option("--from", "since", metavar="DATE", help="The day from which it holds.")
@click.option("--by", metavar="NAME", default="", envvar="COUNTER_BY", help="Who does it.")
@sure_option
@click.pass_context
def catalogue_load(ctx: click.Context, file: Path, look: bool, since: str | None, by: str) -> None:
    """Check a TOML file, show what it changes and put it to use; a wrong one changes nothing."""
    from counter.commands.say_records import change_lines
    from counter.trade.units import parse_day

    shop = open_shop(ctx)
    text, day = shop.products.read_catalogue_file(file), parse_day(since) if since else None
    change = shop.products.look_at_catalogue(text, file.name, day)
    echo(*change_lines(change))
    if look:
        return
    made = shop.products.load_catalogue(text, file.name, day, by)
    when = say("From {date} on", date=made.since) if made.since else say("In use")
    echo(
        say(
            "{when}: {products} products, {portions} portions, {toppings} toppings,"
            " {ingredients} ingredients.",
            when=when,
            products=len(made.products),
            portions=len(made.portions),
            toppings=len(made.toppings),
            ingredients=len(made.ingredients),
        )
    )


@catalogue.command("confirm")
@click.option("--by", metavar="NAME", default="", envvar="COUNTER_BY", help="Who says so.")
@sure_option
@click.pass_context
def catalogue_confirm(ctx: click.Context, by: str) -> None:
    """Say that the recipes which came with the program are yours; until then nothing is sold."""
    open_shop(ctx).products.confirm_recipes(by or login_name())
    echo(say("The recipes are confirmed."))


@catalogue.command("take-back")
@click.argument("day", metavar="DATE")
@click.pass_context
def catalogue_take_back(ctx: click.Context, day: str) -> None:
    """Take back a catalogue that waits for DATE; it never comes into use."""
    from counter.trade.units import parse_day

    open_shop(ctx).products.take_back_catalogue(parse_day(day))
    echo(say("The catalogue that waited for {date} is taken back.", date=day))


@click.command()
@click.argument("product")
@click.option("--made", metavar="AMOUNT", help="Pieces, or a volume or weight: 96, 40l.")
@click.option("--beans", metavar="WEIGHT", help="Dry soybeans, such as 12kg or 26 lb.")
@click.option("--water", metavar="AMOUNT", help="Water, such as 84l or 22 gal.")
@click.option("--coagulant", metavar="'KIND AMOUNT'", help="Such as 'gypsum 300g'.")
@click.option("--with", "extra", metavar="KEY=AMOUNT", multiple=True, help="Any other ingredient.")
@click.option(
    "--code", metavar="KEY=CODE", multiple=True, help="A supplier's lot of an ingredient."
)
@click.option("--brix", metavar="N", help="Soy milk strength on the refractometer, °Brix.")
@click.option("--boiled", metavar="MINUTES", help="Boiled for so long, such as 10min.")
@click.option("--cook", metavar="'TEMP,MINUTES'", help="Or held hot, such as 95C,15min.")
@click.option("--cooked-at", metavar="HH:MM", help="When the cook ended; cooling counts from it.")
@click.option(
    "--cooled", metavar="HH:MM,HH:MM", help="When 21 °C/70 °F and 5 °C/41 °F were reached."
)
@click.option("--passed-57", metavar="HH:MM", help="When it passed 57 °C/135 °F, where measured.")
@click.option("--press", metavar="'PRESSURE,MINUTES'", help="Such as 60psi,25min.")
@click.option(
    "--from", "mixed", metavar="LOT:AMOUNT", multiple=True, help="Older stock that went in."
)
@click.option("--notes", metavar="TEXT", help="Anything else.")
@click.option("--lot", metavar="LOT", help="The number on its packs; else the next one.")
@click.option("--amend", metavar="LOT", help="Correct or complete this lot instead of a new one.")
@click.option("--because", default="", help="Why it is corrected.")
@recording
@json_option
@click.pass_context
def batch(
    ctx: click.Context,
    /,
    product: str,
    at: str,
    by: str,
    json: bool,
    amend: str | None,
    because: str,
    **texts: str | tuple[str, ...] | None,
) -> None:
    """Log a batch of PRODUCT; it answers with the lot and its date."""
    from counter.commands.say import Words
    from counter.errors import BadInput
    from counter.trade.batch_note import read_note

    shop = open_shop(ctx)
    when = moment(shop, at)
    known = (
        shop.desk.catalogues.of(None) if amend else shop.desk.catalogues.at(when or shop.desk.now())
    )
    unit = known.product(product, say("log a batch of '{text}'", text=product)).unit
    note = read_note(texts, unit, known, shop.production.unit_of)
    if amend:
        logged = shop.desk.batch(amend).product
        if logged != product:
            do = say("Write: counter batch {logged} --amend {amend}", logged=logged, amend=amend)
            tried = say("correct lot {amend} as {product}", amend=amend, product=product)
            raise BadInput(tried, say("it is {logged}", logged=logged), do)
        made = shop.amendments.amend_batch(amend, note, because, when, by)
    else:
        made = shop.production.log_batch(product, note, when, by)
    if json:
        as_json(made)
        return
    echo(*Words(shop).batch(made))
    for warning in made.told:
        echo(say("Note: {warning}", warning=warning), err=True)
    row = shop.desk.ledger(shop.desk.day_of(made.at)).rows.get(made.lot)
    if row and row.lot.stopped:
        echo(
            say(
                "Lot {lot} is STOPPED: {why}. Release it only if the local food code allows:"
                " counter release {lot} --because ...",
                lot=made.lot,
                why=row.lot.stopped,
            ),
            err=True,
        )


@click.command()
@click.argument("day", required=False)
@json_option
@click.pass_context
def log(ctx: click.Context, day: str | None, json: bool) -> None:
    """Show the production log of DAY, today if none is named."""
    from counter.commands.say import Words
    from counter.trade.stock import due_of, lot_of
    from counter.trade.units import parse_day

    shop = open_shop(ctx)
    wanted = parse_day(day) if day else shop.desk.today()
    batches = shop.production.made_on(wanted)
    if json:
        as_json(batches)
        return
    words = Words(shop)
    for made in batches:
        lines, due = words.batch(made), due_of(lot_of(made, wanted), shop.desk.now())
        echo(*lines, *([words.due(due)] if due else []), NOTHING)
    if not batches:
        echo(say("No batch is logged for {date}.", date=wanted))


@click.command()
@click.argument("lots", nargs=-1, metavar="LOT...")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="The PDF; else in labels/.")
@click.option("-n", "--count", type=int, help="So many of each; else as many as the batch made.")
@click.option("--blank", default="", metavar="NAME", help="The sheet or roll in the printer.")
@click.option("--start", type=int, default=1, help="First free position of a sheet.")
@click.option("--used", default="", metavar="3,4", help="Positions of the first sheet to skip.")
@click.option("--print", "printer", default="", metavar="NAME", help="Hand it to this printer.")
@click.option(
    "--weight", "weights", metavar="0.42lb", multiple=True, help="A pack weighed; one label each."
)
@click.option(
    "--png",
    "picture",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The first page as dots, too.",
)
@click.option(
    "--dpi",
    type=click.Choice(["203", "300", "600"]),
    help="Dots an inch of the printer, if not those of the blank.",
)
@click.option("--explain", is_flag=True, help="Say what stands on it and why; print nothing.")
@click.option("--card", is_flag=True, help="The counter card of what is scooped to order.")
@click.option("--scale-check", is_flag=True, help="A test page with a ruler for the printer.")
@recording
@json_option
@click.pass_context
def labels(
    ctx: click.Context,
    lots: tuple[str, ...],
    output: Path | None,
    count: int | None,
    blank: str,
    start: int,
    used: str,
    printer: str,
    weights: tuple[str, ...],
    picture: Path | None,
    dpi: str | None,
    explain: bool,
    card: bool,
    scale_check: bool,
    at: str,
    by: str,
    json: bool,
) -> None:
    """Print labels for LOTs as a PDF."""
    from itertools import product

    from counter.commands.say import explained
    from counter.errors import BadInput
    from counter.trade.units import parse_positions
    from labels.units import parse_measure

    shop = open_shop(ctx)
    if card:
        echo(say("Counter card: {path}", path=shop.cards.counter_card(output)))
        return
    if scale_check:
        path, length = shop.labels.scale_check(output, blank)
        long = figure(f"{length:g}")
        echo(
            say(
                "{path}: on paper the line is {n} mm long, or the printer scales.",
                path=path,
                n=long,
            )
        )
        return
    if not lots:
        raise BadInput(
            say("print labels"), say("no lot is named"), say("Name one: counter labels 26328-01")
        )
    packs, dots = [parse_measure(text, "mass") for text in weights], int(dpi or 0)
    if explain:
        for lot, pack in product(lots, packs or (None,)):
            rows = shop.cards.explain_label(lot, blank, pack, dots)
            as_json(rows) if json else echo(*explained(rows))
        return
    wanted = [(lot, count) for lot in lots]
    skip, when = parse_positions(used), moment(shop, at)
    shop.desk.files.unused(picture)  # before the labels: nothing is half done
    run = shop.labels.print_labels(wanted, output, blank, start, skip, when, by, packs, dots)
    if picture:
        shop.labels.picture_labels(run, picture)
    as_json(run) if json else tell_run(shop, run, picture, printer)


def tell_run(shop: Shop, run: LabelRun, picture: Path | None, printer: str) -> None:
    """Say what was printed, and hand it to a printer where one is named."""
    labels = say_n("{n} label", "{n} labels", n=run.labels)
    pages = say_n("{n} page", "{n} pages", n=run.pages)
    echo(say("{labels} on {pages}: {path}", labels=labels, pages=pages, path=run.path))
    for lot in run.again:
        echo(say("Note: labels of lot {lot} had been printed before.", lot=lot), err=True)
    if picture:
        echo(say("First page as dots, {dpi} an inch: {path}", dpi=run.dpi, path=picture))
    if printer or shop.desk.settings.labels.printer:
        sent = shop.labels.send_labels(run, printer)
        late = say("Note: it has not come out yet; look at the printer before sending it again.")
        echo(typed(sent.said) if sent.done else join(" ", (late, sent.said)), err=not sent.done)


@click.command()
@click.argument("lot")
@click.option("--because", default="", help="Why it never was.")
@recording
@json_option
@click.pass_context
def void(ctx: click.Context, lot: str, because: str, at: str, by: str, json: bool) -> None:
    """Say that the batch LOT never was: it is on hand no more, and no waste."""
    from counter.trade.units import show_amount

    shop = open_shop(ctx)
    made = shop.amendments.void_batch(lot, because, moment(shop, at), by or login_name())
    if json:
        as_json(made)
        return
    echo(say("Lot {lot} is void. Its record stays, and its number is not given again.", lot=lot))
    for warning in made.warnings:
        echo(say("Note: {warning}", warning=warning), err=True)
    row = shop.desk.ledger(shop.desk.day_of(moment(shop, at) or shop.desk.now())).rows.get(lot)
    if row and row.oversold:
        gone = show_amount(-row.on_hand, row.lot.unit)
        echo(
            say(
                "Note: {amount} of it are gone by the log: say at closing what they were.",
                amount=gone,
            ),
            err=True,
        )
