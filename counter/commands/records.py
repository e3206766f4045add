"""Commands for any time: trace a lot, check the books."""

from __future__ import annotations

import sys

import click

from counter.cli import as_json, json_option, open_shop
from counter.commands.keeping import progress


@click.command()
@click.argument("lots", nargs=-1, required=True, metavar="LOT...")
@json_option
@click.pass_context
def trace(ctx: click.Context, lots: tuple[str, ...], json: bool) -> None:
    """Show where LOT came from and where it went; several at once, each for itself."""
    from counter.commands.say import Words

    shop = open_shop(ctx)
    found = [shop.trace(lot) for lot in lots]
    if json:
        as_json(found[0] if len(found) == 1 else found)
        return
    words = Words(shop)
    click.echo("\n\n".join("\n".join(words.trace(one)) for one in found))


@click.command()
@json_option
@click.pass_context
def check(ctx: click.Context, json: bool) -> None:
    """Read every line of every book and say what does not follow."""
    shop = open_shop(ctx)
    with progress("Reading every line") as tell:
        report = shop.check(tell)
    if json:
        as_json(report)
    else:
        for finding in report.findings:
            click.echo(finding.sentence, err=True)
        click.echo(
            f"{report.books} books, {report.lines} lines read, {len(report.findings)} findings."
        )
    if report.findings:
        sys.exit(1)


COMMANDS = (trace, check)
