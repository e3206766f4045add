"""Commands for any time: trace a lot, check the books."""

from __future__ import annotations

import sys

import click

from counter.cli import as_json, json_option, open_shop


@click.command()
@click.argument("lot")
@json_option
@click.pass_context
def trace(ctx: click.Context, lot: str, json: bool) -> None:
    """Show where LOT came from and where it went."""
    from counter.say import Words

    shop = open_shop(ctx)
    found = shop.trace(lot)
    if json:
        as_json(found)
        return
    click.echo("\n".join(Words(shop).trace(found)))


@click.command()
@json_option
@click.pass_context
def check(ctx: click.Context, json: bool) -> None:
    """Read every line of every book and say what does not follow."""
    shop = open_shop(ctx)
    report = shop.books.check()
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
