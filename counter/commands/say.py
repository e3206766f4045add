"""Values as lines of text for the command line. No rules here, only words and columns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from counter.cli import shown
from counter.present import Presenter
from counter.trade.cooling import REACHED
from counter.trade.tubs import words_of
from counter.trade.units import show_amount
from labels.say import NOTHING, Said, any_of, figure, join, say, say_n, term

if TYPE_CHECKING:
    from counter.shop import Shop
    from counter.trade.inside import Inside
    from counter.trade.production import Batch
    from counter.trade.sales import PricedSlip, Sale
    from counter.trade.shelf import Shelf, ShelfBand, ShelfLot, ShelfTub
    from counter.trade.stock import Due
    from counter.trade.takings import Takings
    from labels.reasons import Explained


def table(rows: Iterable[Sequence[str]], right: Sequence[int] = ()) -> list[Said]:
    """Lines of aligned columns, in the shop's language; ``right`` names the columns of figures."""
    cells = [[shown(c) for c in row] for row in rows]
    if not cells:
        return []
    widths = [max(len(row[i]) for row in cells) for i in range(len(cells[0]))]
    return [
        Said(
            "  ".join(
                cell.rjust(width) if i in right else cell.ljust(width)
                for i, (cell, width) in enumerate(zip(row, widths, strict=True))
            ).rstrip()
        )
        for row in cells
    ]


def within(line: str) -> Said:
    """A line that belongs to the one above it."""
    return join("  ", (NOTHING, line))


def takings_lines(takings: Takings, money: Callable[[int], str]) -> list[Said]:
    """From what was taken to what is left of it; nothing where that is the same."""
    lines = list[Said]()
    if takings.rounding:
        lines.append(say("rounded for cash {money}", money=money(takings.rounding)))
    if n := takings.refunds:
        given = money(takings.given_back)
        lines.append(say_n("{n} refund {money}", "{n} refunds {money}", n=n, money=given))
    if n := takings.taken_back:
        lines.append(
            say_n(
                "1 sale was taken back whole: no portion, hour or average counts it"
                " ({money} a sale)",
                "{n} sales were taken back whole: no portion, hour or average counts them"
                " ({money} a sale)",
                n=n,
                money=money(takings.average),
            )
        )
    if lines:
        lines.append(say("{money} taken less given back", money=money(takings.left)))
    return lines


def explained(rows: Sequence[Explained]) -> list[Said]:
    """What stands on a label, by which clause, how high and how high it must be."""
    lines = list[Said]()
    for row in rows:
        key, clause = term(row.key.replace("-", " "), "statement"), term(row.clause)
        if row.why_absent:
            why = row.why_absent
            lines.append(
                say("- {name} ({clause}): left out, {why}", name=key, clause=clause, why=why)
            )
            continue
        lines.append(say("{name} ({clause}): {text}", name=key, clause=clause, text=row.text))
        if row.glyph:
            least, placement = figure(f"{row.least_mm:.2f}"), term(row.placement)
            height = say("not placed high")
            if row.height_mm is not None:
                height = say("{height} mm high", height=figure(f"{row.height_mm:.2f}"))
            least_high = say("at least {least} mm on '{glyph}'", least=least, glyph=row.glyph)
            lines.append(join("", ("    ", height, ", ", least_high, "; ", placement)))
        if row.answer:
            lines.append(Said(f"    {row.answer}"))
    return lines


def allergens(found: Sequence[Inside], market: str) -> list[Said]:
    """A line a product or lot, a column for each source that is in any of it."""
    from counter.trade.inside import cell, in_none, sources_of

    sources = sources_of(market, found)
    absent = in_none(found, sources)
    columns = [source for source in sources if source not in absent]
    rows: list[Sequence[str]] = [("", "", *map(term, columns))]
    rows += [
        (one.name, _where(one), *(term(cell(one, source) or "-") for source in columns))
        for one in found
    ]
    lines = table(rows)
    if absent:
        lines.append(say("In none of it: {names}.", names=join(", ", map(term, absent))))
    for one in found:
        lines += [
            say("{name}: no {source}, {why}", name=one.name, source=term(source), why=why)
            for source, why in one.none.items()
        ]
    return list(dict.fromkeys(lines))


def _where(one: Inside) -> str:
    if one.lot:
        return one.lot
    return say("nobody knows") if not one.known else term("topping" if one.topping else "recipe")


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

    def batch(self, batch: Batch) -> list[Said]:
        made, mark = show_amount(batch.made, batch.unit), batch.mark
        name = self.product(batch.product)
        lines = [say("Lot {lot}: {amount} {name}", lot=batch.lot, amount=made, name=name)]
        if batch.void:
            lines.append(say("VOID, it never was: {why}", why=batch.void))
        else:
            lines.append(
                say(
                    "{kind} {weekday} {date}: {reason}",
                    kind=term(mark.kind),
                    weekday=term(f"{mark.day:%A}"),
                    date=mark.day,
                    reason=mark.reason,
                )
            )
        figures = self._figures(batch)
        return [*lines, join("; ", figures)] if figures else lines

    def _figures(self, batch: Batch) -> list[Said]:
        """What went into a batch and how it was made."""
        figures = [
            join(" ", (p.ingredient, figure(p.written) or by_recipe(p.grams)))
            for p in batch.ingredients
        ]
        if batch.brix is not None:
            figures.append(say("{brix} °Brix", brix=batch.brix))
        if cook := batch.cook:
            how = say("boiled") if cook.celsius is None else self.temperature(cook.celsius)
            figures.append(say("{how} {minutes} min", how=how, minutes=cook.minutes))
        if batch.passed_57:
            figures.append(say("57 °C at {clock}", clock=self.clock(batch.passed_57)))
        if cool := batch.cooling:
            cold = self.clock(cool.to_5) if cool.to_5 else say("not yet cold")
            figures.append(say("cooled {clock}, {cold}", clock=self.clock(cool.to_21), cold=cold))
        if batch.press_kpa is not None:
            pressed = say("pressed at {pressure} kPa", pressure=batch.press_kpa.quantize(1))
            if n := batch.press_minutes:
                pressed = say("{pressed} for {n} min", pressed=pressed, n=n)
            figures.append(pressed)
        for m in batch.mixed:
            amount = show_amount(m.amount, self.shop.desk.batch(m.lot).unit)
            figures.append(say("from lot {lot}: {amount}", lot=m.lot, amount=amount))
        return figures

    def shelf(self, shelf: Shelf) -> list[Said]:
        rows = [
            (
                product.name,
                lot.lot,
                show_amount(lot.amount, product.unit),
                say("{kind} {date}", kind=term(lot.kind), date=lot.day),
                self.state(lot),
            )
            for product in shelf.products
            for lot in product.lots
        ]
        lines = self.bands(shelf.bands)
        lines += table(rows, right=(2,)) or [say("Nothing is on hand.")]
        for product in shelf.products:
            lines += [self.tub(tub, product.name) for tub in product.tubs]
        return lines

    def bands(self, bands: Iterable[ShelfBand]) -> list[Said]:
        """What places do to the lots that lie in them, a line each."""
        lines = []
        for band in bands:
            why = say("was not measured since they came")
            if band.kind == "room":
                why = say("is not chilled")
            if band.reading:
                measured, at = self.temperature(band.reading.celsius), self.clock(band.reading.at)
                why = say("MEASURED {temperature} at {clock}", temperature=measured, clock=at)
            if band.reading and band.good_at:
                why = say(
                    "{measured}, last good {clock}", measured=why, clock=self.clock(band.good_at)
                )
            left = join(
                ", ", (say("{lot} {n} min left", lot=lot, n=n) for lot, n in band.lots.items())
            )
            left = left or say("what lies there cools still")
            lines.append(say("{place} {why}: {left}", place=band.place, why=why, left=left))
        return lines

    def tub(self, tub: ShelfTub, name: str) -> Said:
        state = say("{n} min left", n=tub.minutes)
        if tub.refusal:
            state = say("NOT FOR SALE: {why}", why=tub.refusal)
        portions = self.shop.desk.for_sale().portions
        cups = [Said(f"{n} {portions[k].name}") for k, n in tub.cups.items()]
        return say(
            "Tub {tub} {name}, {held}: {level}, {cups}, {state}",
            tub=tub.tub,
            name=name,
            held=term(words_of(tub.mode)),
            level=show_amount(tub.level, "ml"),
            cups=any_of(cups),
            state=state,
        )

    def state(self, lot: ShelfLot) -> Said:
        if lot.refusal:
            return say("NOT FOR SALE: {why}", why=lot.refusal)
        said = [say("oversold: explain at closing")] if lot.oversold else []
        said += [say("last day")] if lot.last_day else []
        return join(", ", [*said, self.due(lot.cooling)] if lot.cooling else said)

    def due(self, due: Due) -> Said:
        """What of the cooling is to be noted next, and how many minutes are left for it."""
        step, by = REACHED[due.step], self.clock(due.by)
        if due.minutes < 0:
            return say(
                "{step} IS OVERDUE since {clock}: measure it and note it", step=step, clock=by
            )
        return say("{step} due by {clock}, {n} min left", step=step, clock=by, n=due.minutes)

    def slip(self, priced: PricedSlip) -> list[Said]:
        rows: list[Sequence[str]] = []
        for line in priced.lines:
            what = line.name + "".join(f" +{t}" for t in line.toppings)
            if line.kind != "price":
                what = join("", (what, " (", term(line.kind), ")"))
            lots = " ".join(dict.fromkeys(d.lot for d in line.draws))
            rows.append((line.weight or f"{line.quantity} x", what, lots, self.money(line.price)))
        if priced.discount:
            rows.append(
                ("", say("discount: {why}", why=priced.why), "", self.money(-priced.discount))
            )
        for tax in priced.taxes:
            name = tax.tax_class
            word = say("of it tax {name}", name=name)
            if not priced.included:
                word = say("tax {name}", name=name)
            rows.append(("", word, "", self.money(tax.tax)))
        rows.append(("", say("Total"), "", self.money(priced.total)))
        return table(rows, right=(3,))

    def sale(self, sale: Sale) -> list[Said]:
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
        lines = [say("Sale {number}", number=sale.number), *self.slip(priced)]
        if sale.rounding:
            rounded = self.money(sale.total + sale.rounding)
            lines.append(say("Rounded for cash: {money}", money=rounded))
        for paid in sale.payments:
            one = join(" ", (term(paid.kind.capitalize()), self.money(paid.amount)))
            if paid.given:
                one = say("{paid} of {given}", paid=one, given=self.money(paid.given))
            lines.append(one)
        return lines

    def sold(self, sales: Sequence[Sale]) -> list[Said]:
        """Sales entered from paper, a line each, and their sum."""
        rows = [
            (
                sale.number,
                self.clock(sale.at),
                ", ".join(f"{n.weight or n.quantity} x {n.name}" for n in sale.lines),
                join("+", (term(p.kind) for p in sale.payments)),
                self.money(sale.total + sale.rounding),
            )
            for sale in sales
        ]
        n, whole = len(sales), self.money(sum(s.total + s.rounding for s in sales))
        return [
            *table(rows, right=(4,)),
            say_n(
                "{n} sale entered, {money} in all",
                "{n} sales entered, {money} in all",
                n,
                money=whole,
            ),
        ]

    def change(self, sale: Sale) -> Said:
        coins = self.shop.counter.change_coins(sale)
        words = say("the drawer may not hold coins for it")
        if coins:
            words = Said(", ".join(f"{n} x {self.money(v)}" for v, n in coins.items()))
        return say("Change {money}: {coins}", money=self.money(sale.change), coins=words)
