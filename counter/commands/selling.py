"""Commands at the counter: shelf, tubs, sales, refunds, waste, scans."""

from __future__ import annotations

from typing import TYPE_CHECKING, TextIO

import click

from counter.cli import as_json, echo, json_option, moment, open_shop, recording
from labels.say import join, say, term

if TYPE_CHECKING:
    from datetime import datetime

    from counter.shop import Shop
    from counter.trade.payments import Tender
    from counter.trade.sales import PaperSale, Slip


@click.command()
@json_option
@click.pass_context
def shelf(ctx: click.Context, json: bool) -> None:
    """Show what is on hand, oldest first, and the open tubs."""
    from counter.commands.say import Words

    shop = open_shop(ctx)
    if json:
        as_json(shop.counter.shelf())
        return
    echo(*Words(shop).shelf(shop.counter.shelf()))


@click.group(invoke_without_command=True)
@json_option
@click.pass_context
def tub(ctx: click.Context, json: bool) -> None:
    """Open a tub of pudding, check it, take it away; alone, show the open ones."""
    from counter.commands.say import Words

    if ctx.invoked_subcommand:
        return
    shop = open_shop(ctx)
    words = Words(shop)
    products = shop.counter.shelf().products
    if json:
        as_json([tub for p in products for tub in p.tubs])
        return
    lines = [words.tub(tub, p.name) for p in products for tub in p.tubs]
    echo(*lines or [say("No tub is open.")])


@tub.command("open")
@click.argument("lot")
@click.option("--hot", "mode", flag_value="hot", help="Held at 57 °C / 135 °F or above.")
@click.option("--cold", "mode", flag_value="cold", help="Held at 5 °C / 41 °F or below.")
@click.option("--by-time", "mode", flag_value="time", help="4 hours, then it is thrown away.")
@click.option("--holds", metavar="VOLUME", help="What is in it, such as 8l.")
@click.option("--temp", metavar="TEMP", help="Measured at opening, such as 62C.")
@click.option(
    "--reheated",
    metavar="TEMP",
    help="Hot, of cold food: what all of it measured for 15 seconds, such as 75C.",
)
@click.option("--took", metavar="MINUTES", help="How long reheating it took, such as 40min.")
@recording
@click.pass_context
def tub_open(
    ctx: click.Context,
    lot: str,
    mode: str | None,
    holds: str | None,
    temp: str | None,
    reheated: str | None,
    took: str | None,
    at: str,
    by: str,
) -> None:
    """Put a tub of LOT on the counter, measured. Cold food is reheated to 74 °C / 165 °F within 2
    hours before it is held hot; the local rule may ask for more."""
    from counter.commands.say import Words
    from counter.errors import BadInput
    from counter.trade.tubs import minutes_left
    from counter.trade.units import parse_amount, parse_minutes, parse_temperature, show_amount

    shop = open_shop(ctx)
    if mode is None:
        tried = say("open a tub of lot {lot}", lot=lot)
        why = say("how it is held is not said")
        raise BadInput(tried, why, say("Add --hot, --cold or --by-time"))
    level = parse_amount(holds, "ml") if holds else None
    celsius = parse_temperature(temp) if temp else None
    made = shop.tubs.open_tub(
        lot,
        mode,  # type: ignore[arg-type]
        level,
        celsius,
        moment(shop, at),
        by,
        parse_temperature(reheated) if reheated else None,
        parse_minutes(took) if took else None,
    )
    words = Words(shop)
    echo(
        say(
            "Tub {tub} of {name} is open with {amount}.",
            tub=made.tub,
            name=words.product(made.product),
            amount=show_amount(made.level, "ml"),
        )
    )
    until, left = words.clock(made.until), minutes_left(made, shop.desk.now())
    if mode == "time":
        echo(say("It goes at {clock}, in {n} minutes, whatever is left.", clock=until, n=left))
    else:
        command = f"counter tub check {made.tub} TEMP"
        echo(say("Measure it again before {clock}: {command}", clock=until, command=command))


@tub.command("check")
@click.argument("name", metavar="TUB")
@click.argument("temp")
@recording
@click.pass_context
def tub_check(ctx: click.Context, name: str, temp: str, at: str, by: str) -> None:
    """Write down a temperature measured in TUB."""
    from counter.commands.say import Words
    from counter.trade.tubs import refusal_for
    from counter.trade.units import parse_temperature

    shop = open_shop(ctx)
    standing = shop.tubs.check_tub(name, parse_temperature(temp), moment(shop, at), by)
    refusal = refusal_for(standing, shop.desk.now(), say("sell from tub {tub}", tub=name))
    if refusal:
        echo(refusal.said, err=True)
    else:
        until = Words(shop).clock(standing.until)
        echo(say("Tub {tub} is good until {clock}.", tub=name, clock=until))


@tub.command("end")
@click.argument("name", metavar="TUB")
@click.option("--left", required=True, metavar="VOLUME", help="What is left in it: 300ml, 0.")
@click.option("--keep", is_flag=True, help="Put the rest back cold; else it is thrown away.")
@recording
@click.pass_context
def tub_end(ctx: click.Context, name: str, left: str, keep: bool, at: str, by: str) -> None:
    """Take TUB away; what scooping lost is booked."""
    from counter.trade.units import parse_amount, show_amount
    from counter.trade.waste import WORDS

    shop = open_shop(ctx)
    gone = shop.tubs.end_tub(name, parse_amount(left, "ml"), keep, moment(shop, at), by)
    lost = join(
        ", ", (join(" ", (term(WORDS[w.reason]), show_amount(w.amount, "ml"))) for w in gone)
    )
    echo(say("Tub {tub} is away: {lost}.", tub=name, lost=lost or say("nothing lost")))


@click.command()
@click.argument("items", nargs=-1, metavar="ITEM...")
@click.option("--cash", metavar="AMOUNT", is_flag=False, flag_value="rest", help="Cash given.")
@click.option(
    "--card",
    metavar="AMOUNT[:REF]",
    is_flag=False,
    flag_value="rest",
    multiple=True,
    help="By card; alone it pays the rest.",
)
@click.option("--here", is_flag=True, help="Eaten here; else taken away.")
@click.option("--discount", metavar="N%|AMOUNT", help="Off the whole sale, with --because.")
@click.option("--because", default="", help="Reason of the discount.")
@click.option("--key", default="", help="Your own key: sent twice, it is booked once.")
@click.option("--price-only", is_flag=True, help="Show what it costs; book nothing.")
@click.option("--each", is_flag=True, help="Each piece is a sale of its own, as on a paper list.")
@click.option(
    "--paper",
    type=click.File("r", "utf-8-sig", "replace"),
    metavar="FILE",
    help="Sales on paper, a line each: 09:05 firm-block*2 cup-small card.",
)
@recording
@json_option
@click.pass_context
def sell(
    ctx: click.Context,
    items: tuple[str, ...],
    cash: str | None,
    card: tuple[str, ...],
    here: bool,
    discount: str | None,
    because: str,
    key: str,
    price_only: bool,
    each: bool,
    paper: TextIO | None,
    at: str,
    by: str,
    json: bool,
) -> None:
    """Sell ITEMs: firm-block*2, cup-small+ginger, firm-block@26328-01, pressed:0.4kg, a scan."""
    from counter.commands.say import Words
    from counter.errors import BadInput

    shop = open_shop(ctx)
    when = moment(shop, at)
    words = Words(shop)
    if each or paper:
        if here or discount is not None or price_only or (paper and (items or cash or card)):
            why = say("a paper list has its own lines, and no discount")
            raise BadInput(say("enter sales from paper"), why, say("Enter the others one by one"))
        sales = _paper_sales(shop, items, bool(card), paper, when, each)
        made = shop.counter.sell_from_paper(sales, _key(key, 70), by)
        as_json(made) if json else echo(*words.sold(made))
        return
    if price_only:
        priced = shop.counter.price(_slip(shop, items, here, discount, because, key, when), when)
        as_json(priced) if json else echo(*words.slip(priced))
        return
    slip = _slip(shop, items, here, discount, because, key, when)
    sale = shop.counter.sell(slip, _tenders(shop, slip, cash, card, when), when, by)
    if json:
        as_json(sale)
        return
    echo(*words.sale(sale))
    if sale.change:
        echo(words.change(sale))
    for lot in shop.counter.oversold_by(sale):
        note = say("Note: the log has none of lot {lot} left; it is flagged as oversold.", lot=lot)
        echo(note, err=True)


def _paper_sales(
    shop: Shop,
    items: tuple[str, ...],
    card: bool,
    paper: TextIO | None,
    when: datetime | None,
    each: bool,
) -> list[PaperSale]:
    from counter.trade.orders import parse_paper
    from counter.trade.sales import PaperSale, each_alone
    from counter.trade.units import clock_on

    moment, settings = when or shop.desk.now(), shop.desk.settings
    day, sales = shop.desk.day_of(moment), []
    if items:
        read = tuple(shop.counter.read_item(text, moment) for text in items)
        sales.append(PaperSale(items=read, at=moment, paid="card" if card else "cash"))
    for line in filter(str.strip, paper or ()):
        clock, texts, paid = parse_paper(line)
        at = clock_on(day, clock, settings.shop.day_starts, settings.zone)
        read = tuple(shop.counter.read_item(text, at) for text in texts)
        sales.append(PaperSale(items=read, at=at, paid=paid))
    return [one for sale in sales for one in each_alone(sale)] if each else sales


def _slip(
    shop: Shop,
    items: tuple[str, ...],
    here: bool,
    discount: str | None,
    because: str,
    key: str,
    when: datetime | None,
) -> Slip:
    from counter.trade.orders import parse_discount
    from counter.trade.sales import Slip

    return Slip(
        tuple(shop.counter.read_item(text, when) for text in items),
        "here" if here else "away",
        parse_discount(discount, because, shop.desk.settings.places)
        if discount is not None
        else None,
        _key(key, 80),
    )


def _key(key: str, most: int) -> str:
    """A key as it was given: one that was cut short would be another payment's, too."""
    from counter.errors import BadInput

    if len(key) > most:
        why = say("it has {n} characters", n=len(key))
        raise BadInput(say("read the key"), why, say("Expected are {n} at most", n=most))
    return key


def _tenders(
    shop: Shop, slip: Slip, cash: str | None, card: tuple[str, ...], when: datetime | None
) -> list[Tender]:
    from counter.errors import BadInput
    from counter.trade.orders import parse_tender

    places = shop.desk.settings.places
    tenders = [parse_tender("card", text, places) for text in card]
    if cash is not None:
        tenders.append(parse_tender("cash", cash, places))
    known = tenders or shop.counter.booked(slip.key)
    if slip.items and not known and shop.counter.price(slip, when).total:
        do = say("Add --cash AMOUNT or --card, or --price-only")
        raise BadInput(say("book the sale"), say("how it is paid is not said"), do)
    return tenders


@click.command()
@click.argument("number", metavar="SALE")
@click.option(
    "--line",
    "lines",
    multiple=True,
    metavar="N[xQUANTITY]",
    help="Only this line, or so many of it.",
)
@click.option("--because", default="", help="Why.")
@click.option("--cash", "kind", flag_value="cash", help="Give cash back.")
@click.option("--card", "kind", flag_value="card", help="Give it back on the card.")
@click.option(
    "--restock", is_flag=True, help="The goods never left the counter: back on the shelf."
)
@recording
@json_option
@click.pass_context
def refund(
    ctx: click.Context,
    number: str,
    lines: tuple[str, ...],
    because: str,
    kind: str | None,
    restock: bool,
    at: str,
    by: str,
    json: bool,
) -> None:
    """Give money back for a SALE such as 2026-11-24/0017, whole or by line."""
    from counter.commands.say import Words
    from counter.errors import BadInput
    from counter.trade.payments import by_kind

    shop = open_shop(ctx)
    wanted: dict[int, int] | None = None
    if lines:
        sale = shop.counter.sale(number)
        wanted = {}
        for text in lines:
            line, _, quantity = text.partition("x")
            if not line.isdecimal() or (quantity and not quantity.isdecimal()):
                tried = say("read line '{text}'", text=text)
                raise BadInput(tried, say("it is no line"), say("Write it as 2 or 2x1"))
            whole = sale.lines[int(line) - 1].quantity if 0 < int(line) <= len(sale.lines) else 1
            wanted[int(line)] = int(quantity) if quantity else whole
    made = shop.counter.refund(number, because, wanted, kind, restock, "", moment(shop, at), by)  # type: ignore[arg-type]
    if json:
        as_json(made)
        return
    money = Words(shop).money
    where = say("the goods are back on the shelf") if restock else say("the goods stay sold")
    back = say("{money} {how}", money=money(made.back), how=by_kind(made.kind))
    if made.by_card:
        back = say(
            "{money} back, {card} by card and {cash} in cash",
            money=money(made.back),
            card=money(made.on_card),
            cash=money(made.in_cash),
        )
    echo(
        say(
            "Refund {number} of sale {sale}: {back}; {where}.",
            number=made.number,
            sale=number,
            back=back,
            where=where,
        )
    )


@click.command()
@click.argument("lot")
@click.argument("amount")
@click.option("--because", default="", help="date, broken, scooping, tasting, given, or in words.")
@click.option("--tub", "tub_name", default="", help="Out of this tub.")
@recording
@click.pass_context
def waste(
    ctx: click.Context, lot: str, amount: str, because: str, tub_name: str, at: str, by: str
) -> None:
    """Write down that AMOUNT of LOT is gone, and why."""
    from counter.trade.units import parse_amount, show_amount
    from counter.trade.waste import WORDS, parse_reason

    shop = open_shop(ctx)
    when = moment(shop, at)
    row = shop.desk.ledger(shop.desk.day_of(when or shop.desk.now())).row(
        lot, say("throw away lot {lot}", lot=lot)
    )
    reason, words = parse_reason(because)
    made = shop.waste.throw_away(
        lot, parse_amount(amount, row.lot.unit), reason, words, tub_name, when, by
    )
    left = shop.desk.ledger(shop.desk.day_of(made.at)).rows[lot].on_hand
    echo(
        say(
            "{amount} of lot {lot} gone, {why}; {left} left.",
            amount=show_amount(made.amount, row.lot.unit),
            lot=lot,
            why=words or term(WORDS[reason]),
            left=show_amount(left, row.lot.unit),
        )
    )


@click.command()
@click.argument("text")
@json_option
@click.pass_context
def scan(ctx: click.Context, text: str, json: bool) -> None:
    """Say what a scanned TEXT is."""
    found = open_shop(ctx).counter.scan(text)
    if json:
        as_json(found)
        return
    echo(found.describe())


@click.command()
@json_option
@click.pass_context
def allergens(ctx: click.Context, json: bool) -> None:
    """Say which allergens are, or may be, in what is on hand; by recipe where nothing is."""
    from counter.commands.say import allergens as lines

    shop = open_shop(ctx)
    found = shop.cards.what_is_in_it()
    as_json(found) if json else echo(*lines(found, shop.desk.settings.shop.market))
