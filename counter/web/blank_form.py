"""A blank of the shop's own, measured with a ruler: the form, and the blank that it means."""

from __future__ import annotations

import re
from typing import Any

from counter.trade.schema import BadEntry
from counter.web.here import field
from counter.web.shop_forms import wrong
from labels.blanks import PAPERS, Blank
from labels.errors import LabelError
from labels.say import say
from labels.sizes import dots_per_mm

MEASURES = ("width", "height", "gap_x", "gap_y", "left", "top", "corner", "keep_clear")
COUNTS = ("columns", "rows", "dpi")
SHEET = ("page_width", "page_height")
FIELDS = ("name", "page", *MEASURES, *COUNTS, *SHEET)
USUAL = Blank(name="", width=60, height=40, corner=1.5)  # what a new one begins with


def filled(blank: Blank) -> dict[str, str]:
    """A blank as the form shows it."""
    on = next((p for p, size in PAPERS.items() if blank.page == size), "own")
    page = blank.page or (0, 0)
    figures = {
        "width": blank.width,
        "height": blank.height,
        "left": blank.left,
        "top": blank.top,
        "gap_x": blank.step_x - blank.width,
        "gap_y": blank.step_y - blank.height,
        "corner": blank.corner,
        "keep_clear": blank.keep_clear,
        "page_width": page[0],
        "page_height": page[1],
    }
    return {
        "name": blank.name,
        "page": on if blank.page else "roll",
        **{key: f"{round(value, 3):g}" if value else "" for key, value in figures.items()},
        **{key: str(getattr(blank, key)) for key in COUNTS},
    }


def blank_sent() -> Blank:
    """The blank that was typed. BadEntry names the field where one of them is at fault."""
    name = field("name", "", 40)
    if not re.fullmatch(r"[\w][\w.+-]*", name):
        raise wrong(
            "name", say("a name has letters, figures and hyphens"), say("Write roll-50x30, say")
        )
    kind = field("page", "roll", 8)
    figures: dict[str, Any] = {key: measure(key) for key in MEASURES}
    gap_x, gap_y = figures.pop("gap_x"), figures.pop("gap_y")
    counts, at = {key: count(key) for key in COUNTS}, "dpi"
    try:
        dots_per_mm(counts["dpi"])
        at = "width"
        return Blank(
            name=name,
            page=sheet(kind),
            **figures,
            columns=counts["columns"],
            rows=counts["rows"],
            dpi=counts["dpi"],
            pitch_x=round(figures["width"] + gap_x, 3) if gap_x else 0.0,
            pitch_y=round(figures["height"] + gap_y, 3) if gap_y else 0.0,
        )
    except LabelError as error:
        raise BadEntry(error.tried, error.why, error.do, path=at, fault=error.why) from None


def sheet(kind: str) -> tuple[float, float] | None:
    """The size of the sheet, or None on a roll."""
    if kind == "roll":
        return None
    return PAPERS.get(kind) or (measure("page_width"), measure("page_height"))


def measure(key: str) -> float:
    """Millimetres out of a field; nothing typed is none."""
    text = field(key, "", 12).replace(",", ".")
    if not re.fullmatch(r"([0-9]{1,4}(\.[0-9]{1,3})?)?", text):
        raise wrong(
            key, say("'{text}' is no measure in millimetres", text=text), say("Write 63.5, say")
        )
    return float(text or 0)


def count(key: str) -> int:
    text = field(key, "", 12)
    if not re.fullmatch(r"[0-9]{1,4}", text):
        raise wrong(
            key, say("'{text}' is not a whole number", text=text), say("Write it in figures")
        )
    return int(text)
