"""The recall sheet: on paper for who must act, as a table for who must call."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from counter.present import Presenter
from counter.reports.blocks import (
    Block,
    Column,
    Document,
    Heading,
    Table,
    Text,
    figures,
    table,
    words,
)
from counter.reports.export import csv_line
from counter.trade.corrections import plus
from counter.trade.recalling import CAUTION, Recall, RecalledLot, RecalledSale, accounted_for
from counter.trade.units import show_amount
from labels.say import NOTHING, Said, join, say, say_n, term

SHEET = (
    "lot",
    "product",
    "why here",
    "sale",
    "when",
    "portion",
    "amount",
    "unit",
    "paid",
    "list",
    "lot by the log",
    "how",
    "grams",
)
MAY_BE = say(
    "Tapped at the counter without the lot being scanned or named, while some of these lots may"
    " have been on the shelf. The log took the oldest; the piece in the hand may have been another."
)


def recall_document(recall: Recall, telling: Presenter) -> Document:
    """The sheet: what it is about, where it is, which sales, what went in."""
    shop = telling.address
    reached = recall.reached
    before = [lot for lot in recall.lots if lot.side == "went in"]
    asked, several = ", ".join(recall.asked), len(recall.asked) > 1
    what = say_n("Lot {lots}", "Lots {lots}", n=len(recall.asked), lots=asked)
    if recall.code:
        what = say("{lots}, all with supplier code {code}", lots=what, code=recall.code)
    stopped = [lot.lot for lot in reached if not lot.stopped and lot.left > 0]
    moment = telling.moment(recall.at)
    drawn = say("Drawn up {moment}", moment=moment)
    blocks: list[Block] = [
        Text(say("{what}. {drawn}.", what=what, drawn=drawn)),
        Text(CAUTION),
        Heading(say("Where the lots are")),
    ]
    if stopped:
        unstopped = say(
            "NOT STOPPED: of {lots} some is still on the shelf."
            " Stop it with `counter stop LOT --because ...`.",
            lots=", ".join(stopped),
        )
        blocks.append(Text(unstopped, bold=True))
    blocks += [
        lots_grid(reached, telling),
        Text(accounted_for(recall, telling.product)),
        _portions(recall),
        *sales_blocks(recall, telling),
        Heading(say("What went in")),
        _codes(recall),
        lots_grid(before, telling, say("No older stock went in.")),
    ]
    title = say("Recall sheet {lot}", lot=recall.asked[0])
    return Document(
        say("{title} and others", title=title) if several else title,
        shop,
        drawn,
        tuple(blocks),
        say("{shop} · recall sheet · {moment}", shop=shop, moment=moment),
    )


def lots_grid(lots: list[RecalledLot], telling: Presenter, empty: Said = NOTHING) -> Table:
    def some(title: str, share: float, of: Callable[[RecalledLot], int]) -> Column:
        return figures(title, share, lambda x: show_amount(n, x.unit) if (n := of(x)) else "-")

    return table(
        NOTHING,
        lots,
        words("lot", 1.5, lambda x: x.lot),
        words("product", 2.2, lambda x: telling.product(x.product)),
        words("why here", 1.6, lambda x: term(x.side)),
        words("made on", 1.6, lambda x: telling.date(x.made_on)),
        words("date mark", 2.2, lambda x: join(" ", (term(x.mark), telling.date(x.best_by)))),
        figures("made", 1.4, made_of),
        figures("weight", 1.6, lambda x: weight_of(x, x.made)),
        some("sold", 1.1, lambda x: x.sold),
        some("used", 1.4, lambda x: x.used),
        some("wasted", 1.6, lambda x: x.wasted),
        some("on hand", 1.1, lambda x: x.left),
        some("missing", 0.9, lambda x: x.missing),
        some("too much", 1.1, lambda x: x.over),
        words("state", 2, lambda x: x.state),
        empty=empty,
    )


def made_of(lot: RecalledLot) -> str:
    """What was made of it; what a correction said later beside it: ``60 (+1)``."""
    made = show_amount(lot.made, lot.unit)
    more = plus(lot.corrected, show_amount(lot.corrected, lot.unit))
    return say("{made} ({more})", made=made, more=more) if lot.corrected else made


def weight_of(lot: RecalledLot, amount: int) -> str:
    grams = lot.weight(amount)
    return "" if grams is None else show_amount(grams, "g")


def _portions(recall: Recall) -> Table:
    """What was sold of each lot by portion: surely, and by the log alone."""
    lots = {lot.lot: lot for lot in recall.lots}
    sums: dict[tuple[str, str], list[int]] = {}
    for sale in recall.sales:
        both = sums.setdefault((sale.lot, sale.portion), [0, 0])
        both[sale.how == "assumed"] += sale.amount
    return table(
        NOTHING,
        ((lots[lot], portion, *both) for (lot, portion), both in sorted(sums.items())),
        words("lot", 1.3, lambda row: row[0].lot),
        words("portion", 3, lambda row: row[1]),
        figures("surely", 1.3, lambda row: show_amount(row[2], row[0].unit)),
        figures("weight", 1.3, lambda row: weight_of(row[0], row[2])),
        figures("assumed by the log", 1.8, lambda row: show_amount(row[3], row[0].unit)),
        figures("weight", 1.3, lambda row: weight_of(row[0], row[3])),
        empty=say("None of it was sold."),
    )


def sales_blocks(recall: Recall, telling: Presenter, within: bool = False) -> list[Block]:
    """The two lists: what is surely of the lots and what may be; ``within`` another section."""
    surely, may_be = say("Sales surely of these lots"), say("Sales that may be of these lots")
    return [
        Text(surely, bold=True) if within else Heading(surely),
        _sales(recall, recall.surely, telling, say("None that is known.")),
        Text(may_be, bold=True) if within else Heading(may_be),
        Text(MAY_BE),
        _sales(recall, recall.may_be, telling, say("None.")),
    ]


def _sales(recall: Recall, sales: Sequence[RecalledSale], telling: Presenter, empty: Said) -> Table:
    lots = {lot.lot: lot for lot in recall.lots}
    return table(
        NOTHING,
        sales,
        words("lot", 1.5, lambda s: s.named),
        words("sale", 1.8, lambda s: s.sale),
        words("when", 2.5, lambda s: telling.moment(s.at)),
        words("portion", 1.8, lambda s: s.portion),
        figures("amount", 1, lambda s: show_amount(s.amount, lots[s.lot].unit)),
        figures("weight", 1.1, lambda s: weight_of(lots[s.lot], s.amount)),
        words("by the log", 1.2, lambda s: s.by_log),
        words("how", 1.1, lambda s: term(s.how)),
        words("paid", 2.4, lambda s: s.paid),
        empty=empty,
    )


def _codes(recall: Recall) -> Table:
    """Supplier codes, and where none was written down; and where the same code is as well."""
    rows: list[tuple[str, str, list[str], str]] = [
        (i, code, lots, ", ".join(recall.elsewhere.get(code, ())) or say("in no other lot"))
        for i, code, lots in recall.supplier_codes
    ]
    for ingredient in sorted({i for lot in recall.lots for i in lot.uncoded}):
        without = [lot.lot for lot in recall.lots if ingredient in lot.uncoded]
        rows.append((ingredient, say("NOT WRITTEN DOWN"), without, ""))
    return table(
        NOTHING,
        rows,
        words("ingredient", 1.5, lambda row: row[0]),
        words("supplier code", 2, lambda row: row[1]),
        words("in lots", 3.5, lambda row: ", ".join(row[2])),
        words("the same code elsewhere", 3.5, lambda row: row[3]),
        empty=say("No supplier code was written down."),
    )


def recall_csv(recall: Recall, telling: Presenter) -> Iterator[str]:
    """The sheet as CSV lines: one row a sale, and one a lot for what was wasted and is left.

    What the log drew from a lot are the rows that name it as the lot by the log; with the lot's own
    rows they add up to what was made.
    """
    yield csv_line(SHEET)
    lots = {lot.lot: lot for lot in recall.lots}

    def row(lot: RecalledLot, sale: RecalledSale | None, word: str, amount: int) -> str:
        name, grams = telling.product(lot.product), lot.weight(amount)
        at = sale.at.isoformat(timespec="seconds") if sale else ""
        which = "" if sale is None else "may be" if sale.how == "assumed" else "surely"
        return csv_line(
            (
                sale.named if sale else lot.lot,
                name,
                lot.side,
                sale.sale if sale else "",
                at,
                word,
                str(amount),
                lot.unit,
                sale.paid if sale else "",
                which,
                sale.by_log if sale else lot.lot,
                sale.how if sale else "",
                "" if grams is None else str(grams),
            )
        )

    for sale in (*recall.surely, *recall.may_be):
        yield row(lots[sale.lot], sale, sale.portion, sale.amount)
    for lot in recall.reached:
        for word, amount in (
            ("made", lot.made),
            ("corrected", lot.corrected),
            ("too much", lot.over),
            ("used", lot.used),
            ("wasted", lot.wasted),
            ("on hand", lot.left),
            ("missing", lot.missing),
        ):
            yield row(lot, None, word, amount)
