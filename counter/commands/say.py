"""Values as lines of text for the command line. No rules here, only words and columns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from counter.present import Presenter, several
from counter.trade.cooling import REACHED
from counter.trade.tubs import words_of
from counter.trade.units import show_amount
from counter.trade.waste import WORDS

if TYPE_CHECKING:
    from counter.shop import Shop
    from counter.trade.closing import CashDay, Closing, LotDay
    from counter.trade.inside import Inside
    from counter.trade.production import Batch
    from counter.trade.sales import PricedSlip, Sale
    from counter.trade.shelf import Shelf, ShelfBand, ShelfLot, ShelfTub
    from counter.trade.stock import Due
    from counter.trade.takings import Takings
    from counter.trade.tracing import Trace, TracedSale
    from labels.reasons import Explained


def table(rows: Iterable[Sequence[str]], right: Sequence[int] = ()) -> list[str]:
    """Lines of aligned columns; ``right`` names the columns of figures."""
    cells = [[str(c) for c in row] for row in rows]
    if not cells:
        return []
    widths = [max(len(row[i]) for row in cells) for i in range(len(cells[0]))]
    return [
        "  ".join(
            cell.rjust(width) if i in right else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in cells
    ]


def takings_lines(takings: Takings, money: Callable[[int], str]) -> list[str]:
    """From what was taken to what is left of it; nothing where that is the same."""
    lines = [f"rounded for cash {money(takings.rounding)}"] if takings.rounding else []
    if takings.refunds:
        lines.append(f"{several(takings.refunds, 'refund')} {money(takings.given_back)}")
    if takings.taken_back:
        count = takings.taken_back
        sales = "1 sale was" if count == 1 else f"{count} sales were"
        lines.append(
            f"{sales} taken back whole: no portion, hour or average counts "
            f"{'it' if count == 1 else 'them'} ({money(takings.average)} a sale)"
        )
    return [*lines, f"{money(takings.left)} taken less given back"] if lines else []


def explained(rows: Sequence[Explained]) -> list[str]:
    """What stands on a label, by which clause, how high and how high it must be."""
    lines = []
    for row in rows:
        if row.why_absent:
            lines.append(f"- {row.key} ({row.clause}): left out, {row.why_absent}")
            continue
        height = "not placed" if row.height_mm is None else f"{row.height_mm:.2f} mm"
        lines.append(f"{row.key} ({row.clause}): {row.text}")
        if row.glyph:
            least = f"at least {row.least_mm:.2f} mm on '{row.glyph}'"
            lines.append(f"    {height} high, {least}; {row.placement}")
        if row.answer:
            lines.append(f"    {row.answer}")
    return lines


def allergens(found: Sequence[Inside], market: str) -> list[str]:
    """A line a product or lot, a column for each source that is in any of it."""
    from counter.trade.inside import cell, in_none, sources_of

    sources = sources_of(market, found)
    absent = in_none(found, sources)
    shown = [source for source in sources if source not in absent]
    rows = [("", "", *shown)]
    rows += [
        (one.name, _where(one), *(cell(one, source) or "-" for source in shown)) for one in found
    ]
    lines = table(rows)
    if absent:
        lines.append(f"In none of it: {', '.join(absent)}.")
    for one in found:
        lines += [f"{one.name}: no {source}, {why}" for source, why in one.none.items()]
    return list(dict.fromkeys(lines))


def _where(one: Inside) -> str:
    if one.lot:
        return one.lot
    return "nobody knows" if not one.known else "topping" if one.topping else "recipe"


def by_recipe(grams: Decimal) -> str:
    """An amount nobody noted: rounded, and marked as taken from the recipe."""
    return f"~{show_amount(int(grams), 'g')}"


class Words(Presenter):
    """Says what the shop answers, line by line."""

    def __init__(self, shop: Shop) -> None:
        super().__init__(shop.desk.settings, shop.desk.catalogue)
        self.shop = shop

    def product(self, key: str) -> str:
        known = key in self.catalogue.products
        return super().product(key) if known else self.shop.desk.catalogues.names().get(key, key)

    def batch(self, batch: Batch) -> list[str]:
        mark = batch.mark
        lines = [
            f"Lot {batch.lot}: {show_amount(batch.made, batch.unit)} {self.product(batch.product)}",
            f"{mark.kind} {mark.day:%a %Y-%m-%d}: {mark.reason}",
        ]
        if batch.void:
            lines[1] = f"VOID, it never was: {batch.void}"
        figures = [f"{p.ingredient} {p.written or by_recipe(p.grams)}" for p in batch.ingredients]
        if batch.brix is not None:
            figures.append(f"{batch.brix} °Brix")
        if batch.cook:
            cook = batch.cook
            how = "boiled" if cook.celsius is None else self.temperature(cook.celsius)
            figures.append(f"{how} {cook.minutes} min")
        if batch.passed_57:
            figures.append(f"57 °C at {self.clock(batch.passed_57)}")
        if batch.cooling:
            cool = batch.cooling
            cold = self.clock(cool.to_5) if cool.to_5 else "not yet cold"
            figures.append(f"cooled {self.clock(cool.to_21)}, {cold}")
        if batch.press_kpa is not None:
            held = f" for {batch.press_minutes} min" if batch.press_minutes else ""
            figures.append(f"pressed at {batch.press_kpa.quantize(1)} kPa{held}")
        for m in batch.mixed:
            went_in = show_amount(m.amount, self.shop.desk.batch(m.lot).unit)
            figures.append(f"from lot {m.lot}: {went_in}")
        lines.append("; ".join(figures))
        return [line for line in lines if line]

    def shelf(self, shelf: Shelf) -> list[str]:
        rows = [
            (
                product.name,
                lot.lot,
                show_amount(lot.amount, product.unit),
                f"{lot.kind} {lot.day}",
                self.state(lot),
            )
            for product in shelf.products
            for lot in product.lots
        ]
        lines = self.bands(shelf.bands)
        lines += table(rows, right=(2,)) or ["Nothing is on hand."]
        for product in shelf.products:
            lines += [self.tub(tub, product.name) for tub in product.tubs]
        return lines

    def bands(self, bands: Iterable[ShelfBand]) -> list[str]:
        """What places do to the lots that lie in them, a line each."""
        lines = []
        for band in bands:
            why = "is not chilled" if band.kind == "room" else "was not measured since they came"
            if band.reading:
                good = f", last good {self.clock(band.good_at)}" if band.good_at else ""
                measured = self.temperature(band.reading.celsius)
                why = f"MEASURED {measured} at {self.clock(band.reading.at)}{good}"
            left = ", ".join(f"{lot} {n} min left" for lot, n in band.lots.items())
            lines.append(f"{band.place} {why}: {left or 'what lies there cools still'}")
        return lines

    def tub(self, tub: ShelfTub, name: str) -> str:
        state = f"{tub.minutes} min left"
        if tub.refusal:
            state = f"NOT FOR SALE: {tub.refusal}"
        portions = self.shop.desk.for_sale().portions
        cups = " or ".join(f"{n} {portions[k].name}" for k, n in tub.cups.items())
        level = show_amount(tub.level, "ml")
        return f"Tub {tub.tub} {name}, {words_of(tub.mode)}: {level}, {cups}, {state}"

    def state(self, lot: ShelfLot) -> str:
        if lot.refusal:
            return f"NOT FOR SALE: {lot.refusal}"
        words = {"oversold: explain at closing": lot.oversold, "last day": lot.last_day}
        said = [word for word, holds in words.items() if holds]
        return ", ".join([*said, self.due(lot.cooling)] if lot.cooling else said)

    def due(self, due: Due) -> str:
        """What of the cooling is to be noted next, and how many minutes are left for it."""
        by = self.clock(due.by)
        if due.minutes < 0:
            return f"{REACHED[due.step]} IS OVERDUE since {by}: measure it and note it"
        return f"{REACHED[due.step]} due by {by}, {due.minutes} min left"

    def slip(self, priced: PricedSlip) -> list[str]:
        rows = []
        for line in priced.lines:
            what = line.name + "".join(f" +{t}" for t in line.toppings)
            how = "" if line.kind == "price" else f" ({line.kind})"
            lots = " ".join(dict.fromkeys(d.lot for d in line.draws))
            count = line.weight or f"{line.quantity} x"
            rows.append((count, what + how, lots, self.money(line.price)))
        if priced.discount:
            rows.append(("", f"discount: {priced.why}", "", self.money(-priced.discount)))
        for tax in priced.taxes:
            word = "of it tax" if priced.included else "tax"
            rows.append(("", f"{word} {tax.tax_class}", "", self.money(tax.tax)))
        rows.append(("", "Total", "", self.money(priced.total)))
        return table(rows, right=(3,))

    def sale(self, sale: Sale) -> list[str]:
        from counter.trade.sales import PricedSlip

        priced = PricedSlip(
            lines=sale.lines,
            taxes=sale.taxes,
            subtotal=sum(n.price for n in sale.lines),
            discount=sale.discount,
            total=sale.total,
            where=sale.where,
            why=sale.why,
            included=sale.included,
        )
        lines = [f"Sale {sale.number}", *self.slip(priced)]
        if sale.rounding:
            lines.append(f"Rounded for cash: {self.money(sale.total + sale.rounding)}")
        for paid in sale.payments:
            given = f" of {self.money(paid.given)}" if paid.given else ""
            lines.append(f"{paid.kind.capitalize()} {self.money(paid.amount)}{given}")
        return lines

    def sold(self, sales: Sequence[Sale]) -> list[str]:
        """Sales entered from paper, a line each, and their sum."""
        rows = [
            (
                sale.number,
                self.clock(sale.at),
                ", ".join(f"{n.weight or n.quantity} x {n.name}" for n in sale.lines),
                "+".join(p.kind for p in sale.payments),
                self.money(sale.total + sale.rounding),
            )
            for sale in sales
        ]
        whole = self.money(sum(s.total + s.rounding for s in sales))
        return [*table(rows, right=(4,)), f"{len(sales)} sales entered, {whole} in all"]

    def change(self, sale: Sale) -> str:
        if not sale.change:
            return ""
        coins = self.shop.counter.change_coins(sale)
        words = "the drawer may not hold coins for it"
        if coins:
            words = ", ".join(f"{n} x {self.money(v)}" for v, n in coins.items())
        return f"Change {self.money(sale.change)}: {words}"

    def lot_day(self, lot: LotDay) -> tuple[str, ...]:
        def show(amount: int) -> str:
            return show_amount(amount, lot.unit) if amount else "-"

        waste = ", ".join(f"{WORDS[r]} {show(n)}" for r, n in lot.wasted.items())
        remarks = [waste] if waste else []
        if lot.oversold:
            remarks.append("oversold")
        if lot.stopped:
            remarks.append(f"stopped: {lot.stopped}")
        if lot.out:
            remarks.append(f"out of its temperature for {lot.out} min")
        if lot.void:
            remarks.append(f"never was: {lot.void}")
        return (
            lot.lot,
            self.product(lot.product),
            show(lot.carried_in),
            show(lot.made),
            show(lot.sold),
            show(lot.used),
            show(sum(lot.wasted.values())),
            show(lot.carried_out),
            show(lot.variance) + (" ?" if lot.open_question else ""),
            "; ".join(remarks),
        )

    def closing(self, closing: Closing) -> list[str]:
        head = ("lot", "product", "in", "made", "sold", "used", "wasted", "out", "missing", "")
        busy = [
            n
            for n in closing.lots
            if n.made or n.sold or n.used or n.wasted or n.carried_out or n.void
        ]
        busy.sort(key=lambda n: (self.product(n.product), n.lot))
        lines = [f"Day {closing.day}", *table([head, *map(self.lot_day, busy)], range(2, 9))]
        if any(n.open_question for n in busy):
            lines.append("? not counted: what the log expects goes over")
        lines += [
            "",
            *table(
                [(f"{p.quantity} x", p.name, self.money(p.net)) for p in closing.portions],
                right=(0, 2),
            ),
        ]
        lines.append(f"{closing.sales} sales, {self.money(closing.total)} in all")
        for kind, amount in closing.payments.items():
            lines.append(f"  {kind} {self.money(amount)}")
        back: dict[str, int] = {}
        for tax in closing.by_rate:
            back[tax.tax_class] = back.get(tax.tax_class, 0) + tax.refunded
        for kind, amount in closing.taxes.items():
            less = f", {self.money(back[kind])} of it given back" if back.get(kind) else ""
            lines.append(f"  tax {kind or 'none'} {self.money(amount)}{less}")
        if closing.discounts:
            lines.append(f"  discounts {self.money(closing.discounts)}")
        lines += [f"  {line}" for line in takings_lines(closing.takings, self.money)]
        lines += [
            f"{place.place} measured {self.temperature(place.bad.celsius)} last,"
            f" at {self.clock(place.bad.at)}"
            for place in closing.places
            if place.bad
        ]
        lines += self.cash(closing.cash)
        lines += [f"{what}: {words}" for what, words in closing.explained.items()]
        lines += [f"{a.of}: {a.words}{a.by and f' ({a.by})'}" for a in closing.answers]
        return lines

    def cash(self, cash: CashDay) -> list[str]:
        lines = []
        lines.append(
            f"Cash: {self.money(cash.start)} at the start, {self.money(cash.expected)} expected"
        )
        if cash.start_missing and cash.opening is not None:
            off = "missing" if cash.start_missing > 0 else "more"
            lines.append(
                f"  {self.money(cash.opening)} was left before: "
                f"{self.money(abs(cash.start_missing))} {off} at the start"
            )
        if cash.counted is not None:
            diff = cash.variance
            word = (
                "exact"
                if not diff
                else f"{self.money(abs(diff))} {'missing' if diff > 0 else 'over'}"
            )
            lines.append(f"  {self.money(cash.counted)} counted: {word}")
            take = cash.counted - cash.left
            lines.append(f"  {self.money(cash.left)} stays, {self.money(take)} to take out")
        return lines

    def trace(self, trace: Trace) -> list[str]:
        batch = trace.batch
        unit = batch.unit
        lines = self.batch(batch)
        if batch.by or batch.notes:
            lines.append(f"by {batch.by or 'nobody named'}; {batch.notes}".rstrip("; "))
        lines += [f"supplier code of {k}: {v}" for k, v in batch.codes.items()]
        lines += [f"corrected {len(trace.batches) - 1} times"] if len(trace.batches) > 1 else []
        lines += [
            f"{'STOPPED' if h.stopped else 'released'} {h.at:%Y-%m-%d %H:%M} "
            f"by {h.by or '?'}: {h.why}"
            for h in trace.holds
        ]
        lines += [
            f"{show_amount(trace.parts.get(lot, 0), unit)} went into lot {lot}"
            for lot in trace.went_into
        ]
        lines += [
            f"{c.amount:+d} corrected {c.at:%Y-%m-%d %H:%M}: {c.text}"
            for c in trace.corrections
            if c.on_shelf and not c.lines
        ]
        labels = sum(p.labels for p in trace.printed)
        lines.append(f"{labels} labels printed in {len(trace.printed)} runs")
        amounts = {
            "made": trace.made,
            "corrected": trace.corrected,
            "more than was made": trace.over,
            "sold": trace.sold,
            "used": trace.used,
            "wasted": trace.wasted,
            "left": trace.left,
            "missing": trace.missing,
        }
        said = (f"{show_amount(n, unit)} {word}" for word, n in amounts.items() if n)
        lines.append(", ".join(said))
        mine = trace.sold - trace.assumed
        lines.append(f"{show_amount(mine, unit)} surely sold, in {len(trace.surely)} lines:")
        lines += table([self.traced(s, unit) for s in trace.surely], right=(2,))
        taken = show_amount(trace.assumed, unit)
        lines.append(
            f"{len(trace.may_be)} lines of sales that may be of it; the log took {taken} from it:"
        )
        lines += table([self.traced(s, unit) for s in trace.may_be], right=(2,))
        lines += [
            f"{show_amount(w.amount, unit)} wasted {w.at:%Y-%m-%d %H:%M}: "
            f"{w.words or WORDS[w.reason]}"
            for w in trace.waste
        ]
        lines += [
            f"counted {show_amount(c.amount, unit)} {c.at:%Y-%m-%d %H:%M}" for c in trace.counts
        ]
        return lines

    def traced(self, sale: TracedSale, unit: str) -> tuple[str, ...]:
        how = f"by the log of {sale.lot}" if sale.how == "assumed" else sale.how
        amount = show_amount(sale.amount, unit)
        return f"  {sale.at:%Y-%m-%d %H:%M}", sale.sale, amount, sale.portion, how
