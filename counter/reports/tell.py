"""Weeks, months, years and the plan as lines of text for the command line."""

from __future__ import annotations

from counter.commands.say import table, takings_lines
from counter.plan.planning import Choice
from counter.plan.replay import Replayed
from counter.plan.tomorrow import ProductPlan, ShopPlan
from counter.present import Presenter, several, share, weight
from counter.reports.goods_tables import kilo_words
from counter.reports.money_tables import rate_words
from counter.reports.report import span_title
from counter.reports.spans import SpanSummary
from counter.trade.corrections import change_words
from counter.trade.taxes import TaxDay
from counter.trade.units import show_amount
from labels.say import Said

_RULE_WORDS = {
    "made": "what was made",
    "plan": "the plan",
    "yesterday": "as yesterday",
    "same day last week": "as a week ago",
    "mean": "the mean of all days",
}


def tell_span(summary: SpanSummary, telling: Presenter) -> list[str]:
    """The summary of a span: its days or months, products, money, yields."""
    money = telling.money
    lines = [f"{span_title(summary, telling)}: {len(summary.days)} days closed", ""]
    year = summary.kind == "year"
    rows = [("", "sales", "taken", "wasted", "at price", "")]
    if year:
        rows += [
            (
                f"{p.first:%B}",
                str(p.sales),
                money(p.total),
                money(p.wasted_cost),
                money(p.wasted_price),
                f"{p.days} days",
            )
            for p in summary.pieces
            if p.days
        ]
    else:
        rows += [
            (
                f"{d.day:%a} {d.day}",
                str(d.sales),
                money(d.total),
                money(d.wasted_cost),
                money(d.wasted_price),
                _sold_out(d.sold_out, telling),
            )
            for d in summary.days
        ]
    rows.append(
        (
            "all",
            str(summary.sales),
            money(summary.total),
            money(summary.wasted_cost),
            money(summary.wasted_price),
            "",
        )
    )
    lines += table(rows, right=(1, 2, 3, 4))
    lines += ["", *_products(summary, telling), ""]
    lines += _money(summary, telling)
    lines += [
        f"{telling.product(y.product)}: {kilo_words(y)} from 1 kg of beans, {y.batches} batches"
        for y in summary.yields
    ]
    return lines


def _money(summary: SpanSummary, telling: Presenter) -> list[str]:
    money = telling.money
    lines = []
    takings = summary.takings
    for kind, amount in sorted(summary.payments.items()):
        lines.append(f"{kind} {money(amount)}")
    lines += [_tax(tax, telling) for tax in summary.taxes]
    lines.append(f"discounts {money(summary.discounts)}")
    lines += takings_lines(takings, money)
    for one in summary.corrections:
        change = change_words(one, money, telling.temperature)
        lines.append(f"corrected {one.corrects}: {', '.join(x for x in (change, one.text) if x)}")
    if summary.corrected_money:
        lines.append(f"{money(takings.left + summary.corrected_money)} left, as corrected")
    missing = summary.missing_in_all
    word = "missing" if missing > 0 else "over"
    drawer = f"{money(abs(missing))} {word}" if missing else "exact"
    lines.append(f"cash over all days: {drawer}")
    return lines


def _tax(tax: TaxDay, telling: Presenter) -> str:
    money, name = telling.money, tax.tax_class or "none"
    if tax.rate is None:
        return f"tax {name} {money(tax.tax)}, of days closed before refunds were taken off it"
    back = f"{money(tax.refunded)} given back, {money(tax.left)} left"
    return f"tax {name} at {rate_words(tax.rate)}: {money(tax.tax)}, {back}"


def _sold_out(products: tuple[str, ...], telling: Presenter) -> str:
    return f"sold out: {', '.join(map(telling.product, products))}" if products else ""


def _products(summary: SpanSummary, telling: Presenter) -> list[Said]:
    head = ("product", "in", "made", "sold", "used", "wasted", "out", "missing", "brought")
    rows = [head]
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
        shown = [show_amount(n, flow.unit) if n else "-" for n in amounts]
        rows.append((telling.product(flow.product), *shown, telling.money(product.net)))  # type: ignore[arg-type]
    return table(rows, right=range(1, 9))


def tell_plan(plan: ShopPlan, telling: Presenter) -> list[str]:
    """The plan: what to make, what to soak, what a mould less or more would do, and why."""
    name = f"{plan.target:%A} {plan.target}" + (f", {plan.special}" if plan.special else "")
    lines = [f"Plan for {name}"]
    if plan.open_day is not None:
        lines.append(
            f"Day {plan.open_day} is not closed yet: what it will leave is an estimate. "
            "Plan again after closing."
        )
    for place in plan.warm:
        assert place.bad is not None
        shown = telling.temperature(place.bad.celsius)
        lines.append(
            f"{place.place} measured {shown} at {telling.clock(place.bad.at)}: what lies there may"
            " have to go. Measure again, and plan again."
        )
    if not plan.products:
        return [*lines, "Nothing to plan: the catalogue has no product that is sold."]
    lines += ["", *_choices(plan, telling), "", *_soaks(plan, telling), ""]
    lines += [f"{p.name}: {p.words}" for p in plan.products]
    return lines


def _choices(plan: ShopPlan, telling: Presenter) -> list[Said]:
    rows = [("", "", "make", "sells out", "left over", "margin")]
    for product in plan.products:
        for word, choice in (
            ("one less", product.fewer),
            ("this", product.this),
            ("one more", product.more),
        ):
            if choice is not None:
                rows.append(_choice(product, word, choice, telling))
    return table(rows, right=(2, 3, 4, 5))


def _choice(
    product: ProductPlan, word: str, choice: Choice, telling: Presenter
) -> tuple[str, str, str, str, str, str]:
    moulds = several(choice.moulds, product.vessel)
    name = product.name if word == "this" else ""
    return (
        name,
        f"{word}: {moulds}" if word == "this" else f"  {word}",
        show_amount(choice.make, product.unit),
        f"{choice.sells_out:.0%}",
        show_amount(round(choice.left), product.unit),
        telling.money(choice.margin),
    )


def _soaks(plan: ShopPlan, telling: Presenter) -> list[str]:
    rows = [("tonight", "dry beans", "water", "coagulant")]
    for product in plan.to_make:
        if product.soak is not None:
            kinds = _coagulants(product.coagulants, telling)
            rows.append(
                (product.name, weight(product.soak.beans_g), weight(product.soak.water_g), kinds)
            )
        elif product.takes:
            takes = ", ".join(
                f"{amount} of {telling.product(key)}" for key, amount in product.takes.items()
            )
            rows.append((product.name, "-", "-", f"takes {takes}"))
    rows.append(
        ("all", weight(plan.beans_g), weight(plan.water_g), _coagulants(plan.coagulants, telling))
    )
    lines = [f"Soak {weight(plan.beans_g)} of dry beans tonight.", ""]
    return lines + table(rows, right=(1, 2))


def _coagulants(coagulants: object, telling: Presenter) -> str:
    assert isinstance(coagulants, dict)
    return ", ".join(
        f"{telling.ingredient(key)} {weight(grams)}" for key, grams in coagulants.items()
    )


def tell_replay(replayed: tuple[Replayed, ...], telling: Presenter) -> list[str]:
    """Waste and lost sales of each rule, a block a product and the sum in money."""
    if not replayed:
        return ["Too few days are closed to replay: it takes more than ten of a product."]
    rows = [("", "", "made", "left over", "missed", "missed of wanted", "loss")]
    costs: dict[str, float] = {}
    for product in replayed:
        for rule, result in product.rules.items():
            costs[rule] = costs.get(rule, 0.0) + result.cost
            rows.append(
                (
                    product.name if rule == "made" else "",
                    _RULE_WORDS[rule],
                    show_amount(result.made, product.unit),
                    show_amount(result.wasted, product.unit),
                    show_amount(result.lost, product.unit),
                    share(result.lost, result.sold + result.lost),
                    telling.money(round(result.cost)),
                )
            )
    lines: list[str] = [*table(rows, right=(2, 3, 4, 5, 6))]
    least = max(p.days for p in replayed)
    lines += ["", f"Loss over all products, up to {least} days each:"]
    lines += table(
        [(f"  {_RULE_WORDS[rule]}", telling.money(round(cost))) for rule, cost in costs.items()],
        right=(1,),
    )
    out = sum(p.sold_out_days for p in replayed)
    lines += [
        "",
        "Loss is the margin of what was asked for and not there, and the cost of what was left"
        " over,",
        "less its worth where it keeps until the next day. What was made counts what was carried in"
        " too;",
        "the rules start each day with nothing.",
    ]
    if out:
        added = ", ".join(
            f"{telling.product(p.product)} {show_amount(p.added, p.unit)}"
            for p in replayed
            if p.added
        )
        lines += [
            f"True demand is not known on {out} sold-out days of products. It is taken as what sold"
            " plus what",
            f"the shop's other days say was still wanted: {added or 'nothing more'}.",
        ]
    return lines
