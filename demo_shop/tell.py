"""What the demo says when it is made: one screen."""

from __future__ import annotations

from datetime import timedelta

from counter.trade.money import show_money
from demo_shop.play import Demo


def tell(demo: Demo) -> list[str]:
    """Lines that say what was made and what to try next."""
    folder = demo.folder if demo.folder.startswith(("/", ".")) else f"./{demo.folder}"
    first, second = demo.lots["firm"], demo.lots["soft"]
    money = show_money(demo.taken, "USD")
    command = f"counter --shop {folder}"
    cooked, warm, cold = (f"{demo.at - timedelta(minutes=m):%H:%M}" for m in (180, 120, 15))
    return [
        f"Millrace Tofu Works (invented) is open in {folder}.",
        "",
        f"  {demo.days} days behind it: {demo.batches} batches, {demo.sales} sales, {money} taken,",
        f"  {demo.sold_out_days} days on which the firm blocks ran out.",
        f"  This morning, {demo.today:%a %Y-%m-%d}: {len(demo.lots)} batches logged, labels in",
        f"  {demo.labels}",
        "",
        "Try next:",
        f"  {command} shelf",
        f"  {command} sell firm-block*2 cup-small+ginger --cash 20.00",
        f"  {command} batch firm --made 96 --boiled 10min"
        f" --cooked-at {cooked} --cooled {warm},{cold}",
        f"  {command} labels {first} -o labels.pdf",
        f"  {command} waste {second} 3 --because broken",
        f"  {command} trace {first}",
        f"  {command} close --cash 412.35 --preview",
        "",
        f"The counter page, in a browser: {command} serve",
    ]
