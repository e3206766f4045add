"""Commands for any time: trace a lot, check the books, take tables out of them."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counter.cli import as_json, echo, json_option, open_shop, speak_of
from counter.commands.copying import passphrase_in, passphrase_option, with_passphrase
from counter.commands.safety import days_from, from_option, progress, to_option
from labels.say import NOTHING, say, typed

if TYPE_CHECKING:
    from datetime import date

    from counter.shop import Shop
    from counter.trade.mendings import Mending


@click.command()
@click.argument("lots", nargs=-1, required=True, metavar="LOT...")
@json_option
@click.pass_context
def trace(ctx: click.Context, lots: tuple[str, ...], json: bool) -> None:
    """Show where LOT came from and where it went; several at once, each for itself."""
    from counter.commands.say import Words
    from counter.commands.say_records import trace_lines

    shop = open_shop(ctx)
    found = [shop.closings.trace(lot) for lot in lots]
    if json:
        as_json(found[0] if len(found) == 1 else found)
        return
    words = Words(shop)
    for i, one in enumerate(found):
        echo(*[NOTHING][:i], *trace_lines(one, words))


@click.command()
@click.option("--seal", metavar="TEXT", help="Compare the seal on a closing report with the books.")
@click.option(
    "--against",
    type=click.Path(path_type=Path),
    metavar="COPY",
    help="Compare a backup with the books; COUNTER_PASSPHRASE opens it.",
)
@json_option
@click.pass_context
def check(ctx: click.Context, seal: str | None, against: Path | None, json: bool) -> None:
    """Read every line of every book and say what does not follow.

    Every closed day is folded anew and compared with its closing, and the copies are read back.
    """
    shop = open_shop(ctx)
    if seal is not None:
        echo(typed(shop.audit.check_seal(seal)[1]))
        return
    if against is not None:
        compared = shop.copies.compare_with(against, passphrase_in(None))
        echo(compared.said, err=compared.kind != "same")
        sys.exit(compared.kind != "same")
    with progress(say("Reading every line")) as tell:
        report = shop.audit.check(tell)
    if json:
        as_json(report)
    else:
        for finding in report.findings:
            echo(finding.sentence, err=True)
        echo(*map(typed, (*report.known, report.summary)))
    if report.findings:
        sys.exit(1)


@click.command()
@click.option(
    "--copy",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A backup to take from what is missing; else the newest there is.",
)
@click.option("--no-copy", "alone", is_flag=True, help="Take nothing from a backup.")
@passphrase_option
@click.option("--by", metavar="NAME", default="", envvar="COUNTER_BY", help="Who did it.")
@json_option
@click.pass_context
def mend(
    ctx: click.Context, copy: Path | None, alone: bool, file: Path | None, by: str, json: bool
) -> None:
    """Bring back all whole lines of damaged books, and name what is lost.

    The damaged file is kept. Stop the other programs of the shop first; the counter
    page lets go by itself, once it says that the books are damaged.
    """
    from counter.commands.say import within
    from counter.shop.mending import mend_shop

    folder: Path = ctx.find_root().obj
    speak_of(folder)

    def work(given: str) -> Mending | None:
        return mend_shop(folder, by, False if alone else copy, passphrase=given)

    record = with_passphrase(work, passphrase_in(file))
    if json:
        as_json(record)
        return
    if record is None:
        echo(say("The books are whole; nothing was changed."))
        if copy and open_shop(ctx).audit.lost:
            echo(
                say(
                    "What a mending before could not bring back stays lost, since all that came"
                    " later was worked out without it. To look at it, put the copy back into"
                    " another folder with `counter restore`."
                )
            )
        return
    echo(typed(record.said), *map(within, record.told))


@click.command()
@click.argument("kind", required=False)
@from_option
@to_option
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="A file, or a folder for all; else one kind is printed.",
)
@click.option("--parquet", is_flag=True, help="Parquet instead of CSV.")
@click.option(
    "--lake",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Add all closed days that are new to the lake in DIR.",
)
@click.option("--columns", is_flag=True, help="Say what the tables and their columns are.")
@json_option
@click.pass_context
def export(
    ctx: click.Context,
    kind: str | None,
    first: str,
    last: str,
    output: Path | None,
    parquet: bool,
    lake: Path | None,
    columns: bool,
    json: bool,
) -> None:
    """Write KIND of record, or all, as CSV or Parquet."""
    from counter.errors import BadInput
    from counter.reports.schema import schema_text
    from counter.reports.tables import kinds

    if columns:
        known = kinds()
        wanted = [known[kind]] if kind in known else list(known.values())
        click.echo(schema_text(wanted), nl=False)
        return
    shop = open_shop(ctx)
    if lake is not None:
        if kind not in (None, "all") or first or last or output:
            do = say("Leave kind, days and -o out")
            tried = say("add to the lake {lake}", lake=lake)
            raise BadInput(tried, say("all kinds of all closed days go there"), do)
        add_to_lake(shop, lake, json)
        return
    if kind is None:
        do = say("Name all, or one of {kinds}", kinds=", ".join(kinds()))
        raise BadInput(say("export records"), say("no kind is named"), do)
    days = days_from(first, last)
    if output is None:
        if parquet or kind == "all":
            tried = say("export {kind}", kind=kind)
            raise BadInput(tried, say("no file is named"), say("Name a file or folder with -o"))
        print_csv(shop, kind, *days)
        return
    parquet = parquet or output.suffix == ".parquet"
    made = shop.exports.export(kind, output, *days, "parquet" if parquet else "csv")
    if json:
        as_json(made)
        return
    for one in made:
        echo(say("{n} rows: {path}", n=one.rows, path=one.path))


def add_to_lake(shop: Shop, folder: Path, json: bool) -> None:
    """Bring a lake up to the closed days, and say which days came to it."""
    with progress(say("Adding")) as tell:
        made = shop.exports.export_lake(folder, tell)
    if json:
        as_json(made)
        return
    if made.finished:
        echo(say("A run before this one was interrupted; it is finished."))
    for day in made.replaced:
        echo(say("{date} was closed again since; its file is written anew.", date=day))
    for day in made.missing:
        echo(say("A file of {date} was gone; it is written anew.", date=day))
    for day in made.taken_out:
        echo(say("{date} is open again; it is taken out until it is closed.", date=day))
    if made.added:
        first, last = made.added[0], made.added[-1]
        n = len(made.added)
        echo(say("Days added: {n}, {first} to {last}.", n=n, first=first, last=last))
    elif not (made.replaced or made.taken_out or made.missing):
        echo(say("Nothing is new: every closed day is in it."))
    if made.files:
        rows, files = made.rows, made.files
        echo(say("Rows: {n}, in {files} files of {path}.", n=rows, files=files, path=folder))


def print_csv(shop: Shop, kind: str, first: date | None, last: date | None) -> None:
    """CSV to standard output, its CR LF as they are on every system."""
    import io

    stream = io.TextIOWrapper(sys.stdout.buffer, "utf-8", newline="")
    shop.exports.export_to(kind, stream, first, last)
    stream.flush()
    stream.detach()
