"""``python -m tests.crash.driver FOLDER``: a program with the shop open that does what it is told.

A line of its input is one act, a line of its output the answer, JSON; what it answers for a sale is
an acknowledgement, which is written to the file ``ANSWERS`` names, too. A refusal is answered with
its sentence, anything else ends it with a traceback. It is started some hundred times: it imports
the shop and nothing of the tests.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import msgspec

from counter.errors import CounterError
from counter.shop import Shop
from counter.trade.payments import Tender
from counter.trade.sales import Slip, SlipItem

BESIDE: list[subprocess.Popen[str]] = []
SAID = dict.fromkeys(("made", "day", "cash", "uncounted", "cooling"), "said the test")
BLOCK = (SlipItem("firm-block", 1),)


def sell(shop: Shop, key: str) -> str:
    """Sell one block under a key; the number of the sale."""
    return shop.counter.sell(Slip(BLOCK, key=key), [Tender("card")]).number


def act(shop: Shop, words: list[str]) -> Mapping[str, Any]:
    """Do what a line says; what is answered."""
    match words:
        case ["sell", key]:
            return {"key": key, "number": sell(shop, key)}
        case ["see"]:
            ledger = shop.desk.standing()
            sold = [row.sold for row in ledger.rows.values()]
            return {"sales": list(ledger.sales), "sold": sold, "notices": shop.desk.books.notices}
        case ["close"]:
            return {"closed": str(shop.evening.close_day().day)}
        case ["reopen"]:
            return {"reopened": str(shop.evening.reopen_day("to go on").day)}
        case ["backup", to]:
            return {"saved": str(shop.copies.back_up(Path(to)).said)}
        case ["beside", *keys]:  # another program, that sells meanwhile
            other = subprocess.Popen(
                [sys.executable, "-m", __spec__.name, str(shop.desk.folder)], stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL, text=True,
            )  # fmt: skip
            BESIDE.append(other)
            assert other.stdin is not None
            other.stdin.write("".join(f"sell {key}\n" for key in keys))
            other.stdin.close()
            return {"beside": other.pid}
    raise AssertionError(words)


def main(folder: str) -> None:
    shop: Shop | None = None
    noted = os.open(os.environ.get("ANSWERS", os.devnull), os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    for line in sys.stdin:
        try:
            shop = shop or Shop.open(Path(folder))
            shop.desk.questions.given = SAID
            said = act(shop, line.split())
        except CounterError as error:
            notices = shop.desk.books.notices if shop else []
            said = {
                "refused": str(error), "of": type(error).__name__, "asked": line.split(),
                "notices": notices,
            }  # fmt: skip
        answer = msgspec.json.encode(said, enc_hook=str) + b"\n"
        os.write(noted, answer)
        sys.stdout.buffer.write(answer)
        sys.stdout.buffer.flush()
    if shop:
        shop.desk.books.close()
    for other in BESIDE:
        other.wait()


if __name__ == "__main__":
    main(sys.argv[1])
