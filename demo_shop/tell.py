"""What the demo says when it is made: one screen."""

from __future__ import annotations

from datetime import timedelta

from counter.trade.money import show_money
from demo_shop.play import Demo
from labels.say import NOTHING, Said, say, typed


def tell(demo: Demo) -> list[Said]:
    """Lines that say what was made and what to try next."""
    folder = demo.folder if demo.folder.startswith(("/", ".")) else f"./{demo.folder}"
    first, second = demo.lots["firm"], demo.lots["soft"]
    money = show_money(demo.taken, "USD")
    command = f"counter --shop {folder}"
    cooked, warm, cold = (f"{demo.at - timedelta(minutes=m):%H:%M}" for m in (180, 120, 15))
    tries = (
        "shelf",
        "sell firm-block*2 cup-small+ginger --cash 20.00",
        f"batch firm --made 96 --boiled 10min --cooked-at {cooked} --cooled {warm},{cold}",
        f"labels {first} -o labels.pdf",
        f"waste {second} 3 --because broken",
        f"trace {first}",
        "close --cash 412.35 --preview",
    )
    return [
        say("{shop} (invented) is open in {folder}.", shop="Millrace Tofu Works", folder=folder),
        NOTHING,
        say(
            "  {days} days behind it: {batches} batches, {sales} sales, {money} taken,\n"
            "  {out} days on which the firm blocks ran out.",
            days=demo.days,
            batches=demo.batches,
            sales=demo.sales,
            money=money,
            out=demo.sold_out_days,
        ),
        say(
            "  This morning, {date}: {batches} batches logged, labels in\n  {file}",
            date=demo.today,
            batches=len(demo.lots),
            file=demo.labels,
        ),
        NOTHING,
        say("Try next:"),
        *(typed(f"  {command} {one}") for one in tries),
        NOTHING,
        say("The counter page, in a browser: {command} serve", command=command),
    ]
