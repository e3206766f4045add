"""Commands for what is held back, kept and shown: stops, recalls, temperatures, corrections."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from counter.cli import as_json, echo, json_option, login_name, moment, open_shop, recording, shown
from labels.say import figure, say, typed

if TYPE_CHECKING:
    from datetime import date, datetime

    from counter.shop import Shop
    from counter.trade.corrections import Correction
    from counter.trade.temperatures import Water
    from labels.say import Said


@contextmanager
def progress(label: Said) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on standard error for long work; nothing where nobody looks."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label=shown(label), file=sys.stderr) as bar:

        def tell(done: int, whole: int) -> None:
            bar.length = max(whole, 1)
            bar.update(done - bar.pos)

        yield tell


def days_from(first: str, last: str) -> tuple[date | None, date | None]:
    """``--from`` and ``--to``; an open end is None."""
    from counter.trade.units import parse_day

    return parse_day(first) if first else None, parse_day(last) if last else None


from_option = click.option("--from", "first", default="", metavar="DAY", help="First day.")
to_option = click.option("--to", "last", default="", metavar="DAY", help="Last day.")


@click.command()
@click.argument("lot", required=False, default="")
@click.option("--code", default="", metavar="CODE", help="All lots with this supplier's code.")
@click.option("--because", default="", help="Why.")
@recording
@click.pass_context
def stop(ctx: click.Context, lot: str, code: str, because: str, at: str, by: str) -> None:
    """Stop LOT, and what was made from it: refused everywhere until it is released."""
    from counter.errors import BadInput

    shop, who = open_shop(ctx), by or login_name()
    if bool(lot) == bool(code):
        do = say("Write: counter stop 26328-01, or counter stop --code B-1207")
        raise BadInput(say("stop a lot"), say("one lot or one supplier's code is to be named"), do)
    if code:
        holds = shop.records.stop_code(code, because, moment(shop, at), who)
    else:
        holds = shop.holds.stop([lot], because, moment(shop, at), who)
    for hold in holds:
        echo(
            say(
                "Lot {lot} is stopped: it can be neither sold nor labelled. See who has it:"
                " counter trace {lot}",
                lot=hold.lot,
            )
        )
    for gone in {one.lot: one for hold in holds for one in shop.records.unstopped(hold.lot)}:
        echo(
            say("Lot {lot} was made from it, and is gone from the shelf by the log.", lot=gone),
            err=True,
        )


@click.command()
@click.argument("lot")
@click.option("--because", default="", help="Why.")
@recording
@click.pass_context
def release(ctx: click.Context, lot: str, because: str, at: str, by: str) -> None:
    """Release LOT after a stop; of what the program stopped it takes an owner. The local food code
    decides whether it may be sold."""
    shop = open_shop(ctx)
    shop.holds.hold(lot, False, because, moment(shop, at), by or login_name())
    echo(say("Lot {lot} is released.", lot=lot))


@click.command()
@click.argument("lots", nargs=-1, metavar="[LOT]...")
@click.option("--code", default="", metavar="CODE", help="All lots with this supplier code.")
@click.option("--pdf", type=click.Path(path_type=Path), metavar="FILE", help="The sheet as PDF.")
@click.option("--csv", type=click.Path(path_type=Path), metavar="FILE", help="The sheet as CSV.")
@click.option("--drill", is_flag=True, help="Say how long it took; make no file unless named.")
@json_option
@click.pass_context
def recall(
    ctx: click.Context,
    lots: tuple[str, ...],
    code: str,
    pdf: Path | None,
    csv: Path | None,
    drill: bool,
    json: bool,
) -> None:
    """Trace LOTs both ways: their sales, the lots made from them, what went in; a sheet of it."""
    from time import perf_counter

    from counter.commands.say import Words
    from counter.commands.say_records import recall_lines

    shop = open_shop(ctx)
    begun = perf_counter()
    found = shop.records.recall(lots, code)
    took = perf_counter() - begun
    shop.desk.files.unused(csv)  # before the sheet: both are written, or none
    files = []
    if pdf or not (drill or json or csv):
        files.append(shop.reports.write_recall_sheet(found, pdf))
    if csv:
        files.append(shop.reports.write_recall_csv(found, csv))
    if json:
        as_json(found)
        return
    echo(*recall_lines(found, Words(shop)))
    if drill:
        seconds = figure(f"{took:.2f}")
        echo(say("Drill: traced in {n} seconds. Nothing was written down.", n=seconds))
    for file in files:
        echo(say("Sheet: {path}", path=file))


@click.command()
@click.argument("place", required=False)
@click.argument("reading", required=False, metavar="TEMP")
@click.option("--note", default="", help="What was done about it.")
@click.option(
    "--calibration",
    type=click.Choice(["ice", "boiling"]),
    help="PLACE is a thermometer, in ice water or in boiling water.",
)
@recording
@json_option
@click.pass_context
def temperature(
    ctx: click.Context,
    place: str | None,
    reading: str | None,
    note: str,
    calibration: Water | None,
    at: str,
    by: str,
    json: bool,
) -> None:
    """Note what PLACE (fridge, display) measures, such as 4C; alone, show today's readings."""
    from counter.commands.say import Words
    from counter.commands.say_records import check_lines, reading_lines
    from counter.errors import BadInput
    from counter.trade.temperatures import Temperature, ThermometerCheck, what_is_wrong, what_to_do
    from counter.trade.units import parse_temperature

    shop = open_shop(ctx)
    if place is None:
        today = shop.desk.today()
        found = shop.desk.recorded(Temperature, today, today)
        if json:
            as_json(found)
            return
        checks = check_lines(shop.desk.recorded(ThermometerCheck, today, today), Words(shop))
        echo(*reading_lines(found, Words(shop), today), *checks)
        return
    if reading is None:
        do = say("Write it as counter temperature {place} 4C", place=place)
        raise BadInput(
            say("note a temperature of {place}", place=place), say("no temperature is given"), do
        )
    celsius, when = parse_temperature(reading), moment(shop, at)
    if calibration:
        check = shop.records.check_thermometer(place, calibration, celsius, note, when, by)
        if json:
            as_json(check)
            return
        echo(*check_lines([check], Words(shop)))
        if not check.ok:
            echo(typed(what_is_wrong(check)), err=True)
        return
    made = shop.records.note_temperature(place, celsius, note, when, by)
    if json:
        as_json(made)
        return
    verdict = say("as it must be") if made.ok else say("OUT OF LIMITS")
    measured = Words(shop).temperature(made.celsius)
    echo(
        say("{place}: {measured}, {verdict}.", place=made.place, measured=measured, verdict=verdict)
    )
    if not made.ok:
        echo(typed(what_to_do(made)), err=True)


@click.command()
@click.argument("lot")
@click.argument("place")
@click.argument("reading", required=False, metavar="[TEMP]")
@recording
@json_option
@click.pass_context
def move(
    ctx: click.Context, lot: str, place: str, reading: str | None, at: str, by: str, json: bool
) -> None:
    """Say that LOT lies in PLACE from now on, and what the food measures, such as 4C."""
    from counter.commands.say import Words
    from counter.trade.tubs import MINUTES
    from counter.trade.units import parse_temperature

    shop = open_shop(ctx)
    celsius = parse_temperature(reading) if reading else None
    made = shop.records.move_lot(lot, place, celsius, moment(shop, at), by)
    if json:
        as_json(made)
        return
    at = Words(shop).clock(made.at)
    echo(say("Lot {lot} lies in {place} from {clock}.", lot=lot, place=made.place, clock=at))
    if made.bad:
        left = max(0, MINUTES - shop.desk.standing().rows[lot].lot.out_by(shop.desk.now()))
        echo(
            say(
                "It measures out of its range: {n} min left, until it is measured good or goes."
                " The local food code decides.",
                n=left,
            ),
            err=True,
        )
    bands = (band for band in shop.counter.shelf().bands if lot in band.lots)
    for line in Words(shop).bands(bands):
        echo(line, err=True)


@click.command()
@from_option
@to_option
@click.option("--lot", "lots", multiple=True, metavar="LOT", help="A lot to trace as well.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="The PDF; else in reports/.")
@click.pass_context
def inspect(
    ctx: click.Context, first: str, last: str, lots: tuple[str, ...], output: Path | None
) -> None:
    """Draw up the records of some days for an inspector, today's if none are named."""
    shop = open_shop(ctx)
    begin, end = days_from(first, last)
    begin = begin or end or shop.desk.today()
    path = shop.reports.write_inspection(begin, end or max(begin, shop.desk.today()), output, lots)
    echo(say("Records for inspection: {path}", path=path))


@click.command()
@click.argument("day")
@click.option("--because", default="", help="What was wrong.")
@click.option("--sale", default="", metavar="NUMBER", help="The sale that was wrong.")
@click.option("--lot", default="", metavar="LOT", help="The lot that was wrong.")
@click.option("--waste", is_flag=True, help="What was noted of it as waste was wrong.")
@click.option("--amount", default="", metavar="±N", help="So much more of the lot, or less: -3.")
@click.option("--money", default="", metavar="±N", help="So much more was the sale, or less: -5.")
@click.option(
    "--cash",
    default="",
    metavar="±N",
    help="So much more should have been in that day's drawer, or less: -20.",
)
@click.option("--sold", default="", metavar="ITEM", help="A sale that nobody entered.")
@click.option("--card", is_flag=True, help="It was paid by card; else in cash.")
@click.option("--temperature", nargs=2, metavar="PLACE TEMP", help="What nobody noted: fridge 4C.")
@click.option("--when", default="", metavar="HH:MM", help="When it was sold or measured.")
@recording
@json_option
@click.pass_context
def correct(
    ctx: click.Context,
    /,
    day: str,
    because: str,
    sold: str,
    card: bool,
    temperature: tuple[str, str] | None,
    when: str,
    at: str,
    by: str,
    json: bool,
    **wrong: Any,
) -> None:
    """Correct closed DAY by a record in today's book; today's stock follows."""
    from counter.commands.say import Words
    from counter.commands.say_records import correction_lines
    from counter.errors import BadInput
    from counter.trade.units import parse_clock, parse_day, parse_temperature

    shop = open_shop(ctx)
    about, noted = parse_day(day), moment(shop, at)
    tried = say("correct day {date}", date=about)
    if (sold or temperature) and (any(wrong.values()) or (sold and temperature)):
        raise BadInput(
            tried, say("two things are corrected at once"), say("Write them one after another")
        )
    if temperature and not when:
        raise BadInput(
            tried, say("the time is missing"), say("Say when it was measured, with --when")
        )
    clock = parse_clock(when) if when else None
    if sold:
        item = shop.counter.read_item(sold)
        made = shop.closed_days.forgotten_sale(
            about, item, "card" if card else "cash", because, clock, noted, by
        )
    elif temperature and clock:
        place, celsius = temperature[0], parse_temperature(temperature[1])
        made = shop.closed_days.forgotten_temperature(
            about, place, celsius, because, clock, noted, by
        )
    else:
        made = _corrected(shop, about, because, wrong, noted, by)
    as_json(made) if json else echo(*correction_lines(made, Words(shop)))


def _corrected(
    shop: Shop, day: date, because: str, wrong: dict[str, Any], at: datetime | None, by: str
) -> Correction:
    """A correction of what stands in the book of a closed day."""
    from counter.trade.money import parse_money
    from counter.trade.units import parse_amount

    sale, lot, waste = wrong["sale"], wrong["lot"], wrong["waste"]
    unit = shop.desk.batch(lot).unit if lot else "piece"
    sign, text = signed(wrong["amount"])
    much = sign * parse_amount(text, unit) if text else 0

    def worth(name: str) -> int:
        sign, text = signed(wrong[name])
        return sign * parse_money(text, shop.desk.settings.places) if text else 0

    return shop.closed_days.correct(
        day, because, sale, lot, much, worth("money"), waste, at, by, cash=worth("cash")
    )


def signed(text: str) -> tuple[int, str]:
    """The sign of an amount, and the amount without it."""
    word = text.strip().replace("−", "-")
    return (-1 if word.startswith("-") else 1), word[1:] if word[:1] in ("+", "-") else word
