"""Weeks, months, years and the plan as lines of text for the command line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from counter.commands.say import table, takings_lines, within
from counter.plan.planning import Choice
from counter.plan.replay import Replayed
from counter.plan.tomorrow import ProductPlan, ShopPlan
from counter.present import FLOW, Presenter, share, weight
from counter.reports.goods_tables import kilo_words
from counter.reports.money_tables import rate_words
from counter.reports.report import span_title
from counter.reports.spans import SpanSummary
from counter.trade.corrections import change_words
from counter.trade.taxes import TaxDay
from counter.trade.units import show_amount
from labels.say import NOTHING, Said, join, say, say_n, term


def tell_span(summary: SpanSummary, telling: Presenter) -> list[Said]:
    """The summary of a span: its days or months, products, money, yields."""
    title, n = span_title(summary, telling), len(summary.days)
    lines = [say_n("{title}: {n} day closed", "{title}: {n} days closed", n, title=title)]
    lines += [NOTHING, *_pieces(summary, telling), NOTHING, *_products(summary, telling), NOTHING]
    lines += _money(summary, telling)
    for y in summary.yields:
        name, kilos = telling.product(y.product), kilo_words(y)
        lines.append(
            say_n(
                "{name}: {kilos} from 1 kg of beans, {n} batch",
                "{name}: {kilos} from 1 kg of beans, {n} batches",
                y.batches,
                name=name,
                kilos=kilos,
            )
        )
    return lines


def _pieces(summary: SpanSummary, telling: Presenter) -> list[Said]:
    """A line a day, or a month of a year."""
    money = telling.money
    rows: list[Sequence[str]] = [
        (NOTHING, say("sales"), say("taken"), say("wasted"), say("at price"), NOTHING)
    ]
    for p in summary.pieces if summary.kind == "year" else ():
        if p.days:
            month = telling.month(p.first)
            days, wasted = say_n("{n} day", "{n} days", p.days), money(p.wasted_cost)
            worth = money(p.wasted_price)
            rows.append((month, str(p.sales), money(p.total), wasted, worth, days))
    for d in summary.days if summary.kind != "year" else ():
        day = telling.day(d.day)
        wasted, worth = money(d.wasted_cost), money(d.wasted_price)
        out = _sold_out(d.sold_out, telling)
        rows.append((day, str(d.sales), money(d.total), wasted, worth, out))
    wasted, worth = money(summary.wasted_cost), money(summary.wasted_price)
    rows.append((say("all"), str(summary.sales), money(summary.total), wasted, worth, NOTHING))
    return table(rows, right=(1, 2, 3, 4))


def _money(summary: SpanSummary, telling: Presenter) -> list[Said]:
    money, takings = telling.money, summary.takings
    lines = [
        join(" ", (term(kind), money(amount))) for kind, amount in sorted(summary.payments.items())
    ]
    lines += [_tax(tax, telling) for tax in summary.taxes]
    lines.append(say("discounts {money}", money=money(summary.discounts)))
    lines += takings_lines(takings, money)
    for one in summary.corrections:
        change = join(", ", filter(None, (change_words(one, money, telling.temperature), one.text)))
        lines.append(say("corrected {date}: {change}", date=one.corrects, change=change))
    if summary.corrected_money:
        left = money(takings.left + summary.corrected_money)
        lines.append(say("{money} left, as corrected", money=left))
    missing, off = summary.missing_in_all, money(abs(summary.missing_in_all))
    drawer = say("{off} missing", off=off) if missing > 0 else say("{off} over", off=off)
    drawer = drawer if missing else say("exact")
    return [*lines, say("cash over all days: {drawer}", drawer=drawer)]


def _tax(tax: TaxDay, telling: Presenter) -> Said:
    money, name = telling.money, tax.tax_class or term("none")
    if tax.rate is None:
        return say(
            "tax {name} {money}, of days closed before refunds were taken off it",
            name=name,
            money=money(tax.tax),
        )
    return say(
        "tax {name} at {rate}: {money}, {back} given back, {left} left",
        name=name,
        rate=rate_words(tax.rate),
        money=money(tax.tax),
        back=money(tax.refunded),
        left=money(tax.left),
    )


def _sold_out(products: tuple[str, ...], telling: Presenter) -> Said:
    names = ", ".join(map(telling.product, products))
    return say("sold out: {names}", names=names) if products else NOTHING


def _products(summary: SpanSummary, telling: Presenter) -> list[Said]:
    head = (say("product"), *FLOW, say("brought"))
    rows: list[Sequence[str]] = [head]
    for product in summary.products:
        flow = product.flow
        amounts = (
            flow.carried_in,
            flow.made,
            flow.sold,
            flow.used,
            flow.wasted_all,
            flow.carried_out,
            flow.variance,
        )
        shown = [show_amount(n, flow.unit) if n else Said("-") for n in amounts]
        rows.append((telling.product(flow.product), *shown, telling.money(product.net)))
    return table(rows, right=range(1, 9))


def tell_plan(plan: ShopPlan, telling: Presenter) -> list[Said]:
    """The plan: what to make, what to soak, what a mould less or more would do, and why."""
    weekday = term(f"{plan.target:%A}")
    head = say("Plan for {weekday} {date}", weekday=weekday, date=plan.target)
    lines = [join(", ", filter(None, (head, plan.special)))]
    if plan.open_day is not None:
        lines.append(
            say(
                "Day {date} is not closed yet: what it will leave is an estimate."
                " Plan again after closing.",
                date=plan.open_day,
            )
        )
    for place in plan.warm:
        assert place.bad is not None
        lines.append(
            say(
                "{place} measured {temperature} at {clock}: what lies there may have to go."
                " Measure again, and plan again.",
                place=place.place,
                temperature=telling.temperature(place.bad.celsius),
                clock=telling.clock(place.bad.at),
            )
        )
    if not plan.products:
        return [*lines, say("Nothing to plan: the catalogue has no product that is sold.")]
    lines += [NOTHING, *_choices(plan, telling), NOTHING, *_soaks(plan, telling), NOTHING]
    return lines + [join(": ", (p.name, p.words)) for p in plan.products]


def _choices(plan: ShopPlan, telling: Presenter) -> list[Said]:
    rows: list[Sequence[str]] = [
        (NOTHING, NOTHING, say("make"), say("sells out"), say("left over"), say("margin"))
    ]
    for product in plan.products:
        this = product.this
        vessels = _vessels(product.vessel, this.moulds)
        rows += [
            _choice(product, NOTHING, within(word), choice, telling)
            if choice is not this
            else _choice(product, product.name, word, choice, telling)
            for word, choice in (
                (say("one less"), product.fewer),
                (say("this: {vessels}", vessels=vessels), this),
                (say("one more"), product.more),
            )
            if choice is not None
        ]
    return table(rows, right=(2, 3, 4, 5))


def _vessels(vessel: str, n: int) -> Said:
    if vessel == "tub":
        return say_n("{n} tub", "{n} tubs", n)
    return say_n("{n} mould", "{n} moulds", n)


def _choice(
    product: ProductPlan, name: str, word: Said, choice: Choice, telling: Presenter
) -> tuple[str, ...]:
    return (
        name,
        word,
        show_amount(choice.make, product.unit),
        telling.percent(Decimal(round(choice.sells_out * 100)) / 100),
        show_amount(round(choice.left), product.unit),
        telling.money(choice.margin),
    )


def _soaks(plan: ShopPlan, telling: Presenter) -> list[Said]:
    rows: list[Sequence[str]] = [
        (say("tonight"), say("dry beans"), term("water"), term("coagulant"))
    ]
    for product in plan.to_make:
        if soak := product.soak:
            kinds = _coagulants(product.coagulants, telling)
            rows.append((product.name, weight(soak.beans_g), weight(soak.water_g), kinds))
        elif product.takes:
            takes = (
                say("{amount} of {name}", amount=amount, name=telling.product(key))
                for key, amount in product.takes.items()
            )
            rows.append((product.name, "-", "-", say("takes {parts}", parts=join(", ", takes))))
    beans, kinds = weight(plan.beans_g), _coagulants(plan.coagulants, telling)
    rows.append((say("all"), beans, weight(plan.water_g), kinds))
    soak_said = say("Soak {amount} of dry beans tonight.", amount=beans)
    return [soak_said, NOTHING, *table(rows, right=(1, 2))]


def _coagulants(coagulants: Mapping[str, Decimal], telling: Presenter) -> Said:
    return join(
        ", ",
        (join(" ", (telling.ingredient(key), weight(grams))) for key, grams in coagulants.items()),
    )


def _rule(name: str) -> Said:
    match name:
        case "made":
            return say("what was made")
        case "plan":
            return say("the plan")
        case "yesterday":
            return say("as yesterday")
        case "same day last week":
            return say("as a week ago")
    return say("the mean of all days")


def tell_replay(replayed: tuple[Replayed, ...], telling: Presenter) -> list[Said]:
    """Waste and lost sales of each rule, a block a product and the sum in money."""
    if not replayed:
        return [say("Too few days are closed to replay: it takes more than ten of a product.")]
    head = (NOTHING, NOTHING, say("made"), say("left over"), say("missed"))
    rows: list[Sequence[str]] = [(*head, say("missed of wanted"), say("loss"))]
    costs: dict[str, float] = {}
    for product in replayed:
        for rule, result in product.rules.items():
            costs[rule] = costs.get(rule, 0.0) + result.cost
            rows.append(
                (
                    product.name if rule == "made" else "",
                    _rule(rule),
                    show_amount(result.made, product.unit),
                    show_amount(result.wasted, product.unit),
                    show_amount(result.lost, product.unit),
                    share(result.lost, result.sold + result.lost),
                    telling.money(round(result.cost)),
                )
            )
    lines, least = table(rows, right=(2, 3, 4, 5, 6)), max(p.days for p in replayed)
    lines += [NOTHING, say("Loss over all products, up to {n} days each:", n=least)]
    lines += table(
        [(within(_rule(rule)), telling.money(round(cost))) for rule, cost in costs.items()],
        right=(1,),
    )
    lines += [
        NOTHING,
        say(
            "Loss is the margin of what was asked for and not there, and the cost of what was left"
            " over,\nless its worth where it keeps until the next day. What was made counts what"
            " was carried in too;\nthe rules start each day with nothing."
        ),
    ]
    if out := sum(p.sold_out_days for p in replayed):
        added = join(
            ", ",
            (
                join(" ", (telling.product(p.product), show_amount(p.added, p.unit)))
                for p in replayed
                if p.added
            ),
        )
        lines.append(
            say(
                "True demand is not known on {n} sold-out days of products. It is taken as what"
                " sold plus what\nthe shop's other days say was still wanted: {added}.",
                n=out,
                added=added or say("nothing more"),
            )
        )
    return lines
