"""Commands that look back over weeks, months and years, and ahead to tomorrow."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from counter.cli import as_json, echo, json_option, open_shop
from labels.say import say

if TYPE_CHECKING:
    from counter.reports.spans import Kind

pdf_option = click.option(
    "--pdf",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write it as PDF.",
)
csv_option = click.option(
    "--csv",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write every figure as CSV.",
)


def _span(kind: Kind, help_text: str) -> click.Command:
    @click.command(kind, help=help_text)
    @click.argument("date", required=False, metavar="[DAY]")
    @pdf_option
    @csv_option
    @json_option
    @click.pass_context
    def command(
        ctx: click.Context, date: str | None, pdf: Path | None, csv: Path | None, json: bool
    ) -> None:
        from counter.reports.flat import csv_of
        from counter.reports.tell import tell_span
        from counter.trade.units import parse_day
        from labels.files import write_whole

        shop = open_shop(ctx)
        summary = shop.reports.span_summary(kind, parse_day(date) if date is not None else None)
        if pdf is not None:
            data = shop.reports.span_report(summary)
            shop.desk.files.unused(pdf, data)
            write_whole(pdf, data)
            echo(say("Written: {path}", path=pdf), err=json)
        if csv is not None:
            data = csv_of(summary, shop.desk.settings.places)
            shop.desk.files.unused(csv, data)
            write_whole(csv, data)
            echo(say("Written: {path}", path=csv), err=json)
        if json:
            as_json(summary)
        elif pdf is None and csv is None:
            echo(*tell_span(summary, shop.reports.telling()))

    return command


@click.command()
@click.argument("date", required=False, metavar="[DAY]")
@click.option("--backtest", is_flag=True, help="Replay the past: the plan against what was made.")
@json_option
@click.pass_context
def plan(ctx: click.Context, date: str | None, backtest: bool, json: bool) -> None:
    """Say how much to make for DAY (the next day open), and the beans to soak tonight."""
    from counter.errors import BadInput
    from counter.reports.tell import tell_plan, tell_replay
    from counter.trade.units import parse_day

    shop = open_shop(ctx)
    if backtest:
        if date is not None:
            do = say("Leave the day out: all days on record are replayed")
            raise BadInput(say("replay day {date}", date=date), say("a replay is of all days"), do)
        replayed = shop.plan.backtest()
        as_json(replayed) if json else echo(*tell_replay(replayed, shop.reports.telling()))
        return
    found = shop.plan.for_day(parse_day(date) if date is not None else None)
    as_json(found) if json else echo(*tell_plan(found, shop.reports.telling()))


week = _span("week", "Add up the week of DAY (today), Monday to Sunday, with its trend.")
month = _span("month", "Add up the month of DAY (today), with its trend.")
year = _span("year", "Add up the year of DAY (today), with its trend.")
