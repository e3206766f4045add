"""Commands after the door shuts: count, drawer, close, day."""

from __future__ import annotations

from pathlib import Path

import click

from counter.cli import as_json, echo, json_option, moment, open_shop, recording
from counter.commands.reporting import csv_option, pdf_option
from counter.commands.safety import progress
from labels.say import say


@click.command()
@click.argument("counts", nargs=-1, required=True, metavar="LOT AMOUNT...")
@recording
@click.pass_context
def count(ctx: click.Context, counts: tuple[str, ...], at: str, by: str) -> None:
    """Write down what is left: LOT AMOUNT, as many pairs as you like."""
    from counter.errors import BadInput
    from counter.trade.units import parse_amount, show_amount

    shop = open_shop(ctx)
    if len(counts) % 2:
        raise BadInput(
            say("read the counts"), say("a lot has no amount"), say("Write LOT AMOUNT LOT AMOUNT")
        )
    when = moment(shop, at)
    ledger = shop.desk.ledger(shop.desk.day_of(when or shop.desk.now()))
    pairs = []
    for lot, text in zip(counts[::2], counts[1::2], strict=True):
        unit = ledger.row(lot, say("count lot {lot}", lot=lot)).lot.unit
        pairs.append((lot, parse_amount(text, unit), unit))
    shop.evening.count_lots([(lot, amount) for lot, amount, _ in pairs], when, by)
    missing = {one.lot: one.missing or 0 for one in shop.evening.to_count(ledger.day)}
    for lot, amount, unit in pairs:
        diff, off = missing[lot], show_amount(abs(missing[lot]), unit)
        word = say("{off} missing", off=off) if diff > 0 else say("{off} more", off=off)
        echo(
            say(
                "Lot {lot}: {amount} counted, {word}.",
                lot=lot,
                amount=show_amount(amount, unit),
                word=word if diff else say("as expected"),
            )
        )


@click.group(invoke_without_command=True)
@json_option
@click.pass_context
def drawer(ctx: click.Context, json: bool) -> None:
    """The cash drawer; alone, show what should be in it."""
    from counter.commands.say import Words

    if ctx.invoked_subcommand:
        return
    shop = open_shop(ctx)
    state = shop.desk.standing().drawer
    if json:
        as_json(
            {
                "opening": state.opening,
                "start": state.start,
                "moved_in": state.moved_in,
                "moved_out": state.moved_out,
                "cash_sales": state.cash_sales,
                "cash_refunds": state.cash_refunds,
                "expected": state.expected,
            }
        )
        return
    money = Words(shop).money
    echo(
        say(
            "{expected} should be in the drawer: {start} at the start, {sold} sold, {refunded}"
            " refunded, {put} put in, {taken} taken out.",
            expected=money(state.expected),
            start=money(state.start),
            sold=money(state.cash_sales),
            refunded=money(state.cash_refunds),
            put=money(state.moved_in),
            taken=money(state.moved_out),
        )
    )


def _move(kind: str, help_text: str) -> click.Command:
    @click.command(kind, help=help_text)
    @click.argument("amount")
    @click.option("--coins", metavar="'20x5 1x30'", help="Coins and notes, value x count.")
    @click.option("--because", default="", help="Why.")
    @recording
    @click.pass_context
    def command(
        ctx: click.Context, amount: str, coins: str | None, because: str, at: str, by: str
    ) -> None:
        from counter.commands.say import Words
        from counter.trade.drawer import parse_coins
        from counter.trade.money import parse_money

        shop = open_shop(ctx)
        settings = shop.desk.settings
        counted = parse_coins(coins, settings.places, settings.cash.coins) if coins else None
        when = moment(shop, at)
        shop.evening.move_cash(
            kind,  # type: ignore[arg-type]
            parse_money(amount, settings.places),
            because,
            counted,
            when,
            by,
        )
        state = shop.desk.ledger(shop.desk.day_of(when or shop.desk.now())).drawer
        expected = Words(shop).money(state.expected)
        echo(say("{money} should be in the drawer now.", money=expected))

    return command


drawer.add_command(_move("float", "Say what the drawer starts with."))
drawer.add_command(_move("in", "Put money in."))
drawer.add_command(_move("out", "Take money out."))


@click.command()
@click.option("--cash", metavar="AMOUNT", help="Cash counted in the drawer.")
@click.option("--coins", metavar="'20x5 1x30'", help="Or counted by coin and note.")
@click.option("--leave", metavar="AMOUNT", help="What stays in the drawer; else the usual float.")
@click.option("--day", metavar="DAY", help="An earlier day that is still open.")
@click.option(
    "--explain",
    "explained",
    multiple=True,
    metavar="LOT=WORDS",
    help="What explains the difference of a lot, or of cash=.",
)
@click.option("--notes", default="", help="Anything else to be kept.")
@click.option("--reopen", is_flag=True, help="Open today's closed book again, with --because.")
@click.option("--because", default="", help="Why it is reopened.")
@click.option("--preview", is_flag=True, help="Show it; seal nothing.")
@recording
@json_option
@click.pass_context
def close(
    ctx: click.Context,
    cash: str | None,
    coins: str | None,
    leave: str | None,
    day: str | None,
    explained: tuple[str, ...],
    notes: str,
    reopen: bool,
    because: str,
    preview: bool,
    at: str,
    by: str,
    json: bool,
) -> None:
    """Close the day: compare, carry what is left forward, seal."""
    from counter.commands.say import Words
    from counter.commands.say_closing import closing_lines
    from counter.trade.drawer import parse_coins
    from counter.trade.money import parse_money
    from counter.trade.units import pair, parse_day

    shop = open_shop(ctx)
    places = shop.desk.settings.places
    if reopen:
        made = shop.evening.reopen_day(because, by)
        echo(say("Day {date} is open again.", date=made.day))
        return
    wanted = parse_day(day) if day is not None else None
    counted = parse_money(cash, places, "cash") if cash is not None else None
    values = shop.desk.settings.cash.coins
    by_coin = parse_coins(coins, places, values) if coins is not None else None
    stays = parse_money(leave, places, "amount to leave") if leave is not None else None
    if preview:
        closing = shop.evening.closing_preview(counted, stays, wanted, by_coin)
    else:
        expected = say("Write it as 26328-01=words, or cash=words")
        words = dict(pair(text, "=", "explanation", expected) for text in explained)
        closing = shop.evening.close_day(
            counted, stays, wanted, by_coin, notes, moment(shop, at), by, words
        )
        with progress(say("Copying and reading back")) as tell:
            copied = shop.copies.back_up_after_closing(closing.day, tell)
        if copied:
            echo(copied.said, err=True)
    if json:
        as_json(closing)
        return
    echo(*closing_lines(Words(shop), closing))
    if not preview:
        echo(say("Day {date} is sealed.", date=closing.day))
        if shop.evening.report_trouble:
            why = shop.evening.report_trouble
            echo(say("Its report was not kept. {why}", why=why), err=True)


@click.command()
@click.argument("date", required=False, metavar="[DAY]")
@pdf_option
@csv_option
@json_option
@click.pass_context
def day(
    ctx: click.Context, date: str | None, pdf: Path | None, csv: Path | None, json: bool
) -> None:
    """Show the summary of DAY, closed or still open; --pdf is the closing report."""
    from counter.commands.say import Words
    from counter.commands.say_closing import closing_lines
    from counter.commands.say_records import day_corrections
    from counter.trade.units import parse_day

    shop = open_shop(ctx)
    wanted = parse_day(date) if date is not None else shop.desk.today()
    closing = shop.closings.of(wanted)
    if pdf is not None:
        echo(say("Written: {path}", path=shop.reports.keep_report(wanted, pdf)), err=json)
    if csv is not None:
        echo(say("Written: {path}", path=shop.reports.keep_day_csv(wanted, csv)), err=json)
    if json:
        as_json(closing)
    elif pdf is None and csv is None:
        words, noted = Words(shop), shop.closed_days.corrections_of(wanted)
        echo(*closing_lines(words, closing), *day_corrections(noted, words))
