"""What a form for labels asks for, and what both ways to print them need."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import msgspec

from counter.errors import BadInput, CounterError, Refused
from counter.shop import Shop
from counter.shop.labels import LabelRun
from counter.trade.units import parse_positions
from counter.web.here import field, fields, shop, t
from counter.web.jobs import Done, Kind
from labels.blanks import PAPERS, Blank
from labels.errors import DoesNotFit
from labels.picture import png
from labels.say import say

SHEET_DPI = 200  # a whole sheet at the dots of its printer is more than a tablet likes to show
MOST_LOTS = 40


class Wanted(msgspec.Struct, frozen=True):
    """What the form asks for."""

    lots: tuple[tuple[str, int | None], ...]
    blank: str
    start: int
    used: tuple[int, ...]


def wanted(least: int = 1) -> Wanted:
    """The form, or the address, read and checked."""
    lots = list(dict.fromkeys(fields("lot", 20)))
    if len(lots) < least:
        raise BadInput(say("print labels"), say("no lot is chosen"), say("Choose a lot"))
    if len(lots) > MOST_LOTS:
        raise BadInput(
            say("print labels"),
            say("{n} lots are too many", n=len(lots)),
            say("Take {n}", n=MOST_LOTS),
        )
    start = number("start", "1") or 1
    used = parse_positions(field("used", "", 1000))
    return Wanted(
        tuple((lot, number(f"count.{lot}", "")) for lot in lots),
        field("blank", "", 80),
        start,
        used,
    )


def number(name: str, default: str) -> int | None:
    """A whole number of a field, None for an empty one without a default."""
    text = field(name, default, 20)
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        raise BadInput(
            say("read '{text}'", text=text), say("it is not a whole number"), say("Write it as 48")
        )
    return int(text)


def papers_of(known: Mapping[str, Blank]) -> dict[str, str]:
    """What to call the paper of the common blanks; a shop's own go by their own names."""
    own = shop().desk.settings.blanks
    sheets = {size: paper for paper, size in PAPERS.items()}
    return {
        name: sheets.get(blank.page, name) if blank.page else f"{blank.dpi} dpi"
        for name, blank in known.items()
        if name not in own
    }


def picture_of(data: bytes, shown: int) -> bytes:
    """A page of a PDF, counted from 1, on the dots of its printer; a sheet somewhat coarser."""
    blank = current_blank()
    return png(data, blank.dpi if blank.page is None else SHEET_DPI, page=max(shown, 1) - 1)


def current_blank() -> Blank:
    """The blank that is asked for: named, or that of the first lot's product, or the shop's."""
    named = field("blank", "", 80)
    if not named:
        known = shop().desk.catalogues.of(None).products
        product = known.get(shop().desk.batch(fields("lot")[0]).product)
        named = product.pack.blank if product else ""
    return shop().labels.blank(named)


def large_enough(error: DoesNotFit) -> list[str]:
    """Blanks that by their measures would hold what did not fit."""
    if error.least_mm is None:
        return []
    width, height = error.least_mm
    return [n for n, b in shop().labels.blanks().items() if b.width >= width and b.height >= height]


def checked_way() -> str:
    """Whether to print or to save, as the button says; Refused without a printer."""
    what = field("do")
    if what not in ("print", "save"):
        raise BadInput(
            say("print labels"),
            say("'{text}' is no way to print", text=what),
            say("Reload the page"),
        )
    if what == "print" and not shop().desk.settings.labels.printer:
        raise Refused(
            say("print labels"),
            say("no printer is named in shop.toml"),
            say("Name it under [labels], or print the PDF from the browser"),
        )
    return what


def said_of(own: Shop, run: LabelRun, what: str) -> Done:
    """What was made, and what the printer said where it was handed to one."""
    notes: list[tuple[Kind, str]] = [
        ("good", t("labels.made", n=run.labels, pages=run.pages, lots=", ".join(run.lots)))
    ]
    notes += [("warn", t("labels.again", lot=lot)) for lot in run.again]
    if what == "print":
        notes.append(sent(own, run))
    return Done(Path(run.path).name, "labels.done", tuple(notes))


def sent(own: Shop, run: LabelRun) -> tuple[Kind, str]:
    """Hand it to the printer; the PDF is there whatever the printer says."""
    try:
        sent = own.labels.send_labels(run)
    except CounterError as error:
        return "stop", error.said
    kind: Kind = "good" if sent.done else "warn"
    named = {"printer": own.desk.settings.labels.printer, "said": sent.said[:200]}
    return kind, t("labels.sent" if sent.done else "labels.waits", **named)
