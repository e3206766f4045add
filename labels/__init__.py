"""What stands on a pack, and how it gets on paper.

Facts become statements by the law of a market, statements a placed label on a blank, a label a
PDF, and every bar code in it is read back before the file is there.

    label = lay_out(facts, market="us", blank=blank_named("roll-60x80"))
    write_pdf("labels.pdf", [(label, 96)])

A name is loaded when it is asked for: who only reads a mass or a lot loads nothing that draws.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from labels.blanks import Blank, blank_named
    from labels.errors import LabelError
    from labels.facts import DateMark, Facts, Ingredient, Maker, NetQuantity, Panel, RandomWeight
    from labels.layout import lay_out
    from labels.pdf import Printed, write_pdf
    from labels.placed import Label
    from labels.reasons import explain

__all__ = [
    "Blank",
    "DateMark",
    "Facts",
    "Ingredient",
    "Label",
    "LabelError",
    "Maker",
    "NetQuantity",
    "Panel",
    "Printed",
    "RandomWeight",
    "blank_named",
    "explain",
    "lay_out",
    "write_pdf",
]
_MODULES = ("facts", "blanks", "errors", "placed", "pdf", "layout", "reasons")


def __getattr__(name: str) -> Any:
    if name in __all__:
        for module in _MODULES:
            found = import_module(f"labels.{module}")
            if hasattr(found, name):
                return getattr(found, name)
    raise AttributeError(f"module 'labels' has no attribute '{name}'")
