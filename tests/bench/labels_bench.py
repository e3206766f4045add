"""Printing labels beside the floor: the drawing library stamping an equal form as often.

The floor draws the same texts and bars once as a form and stamps it, and does nothing else: no
layout, no reading back, no flushing to the disk.
"""

from __future__ import annotations

import io
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from labels import Facts, Label, blank_named, lay_out, write_pdf
from labels.fonts import FONT_LOCK, MM, register
from labels.symbols import lot_symbol
from tests.labels.shop import firm_tofu

_MANY = 600
_ROUNDS = 7


def run() -> list[tuple[str, float, float]]:
    """(what, ours in seconds, floor in seconds), the best of several turns taken alternately."""
    facts = [_facts(batch) for batch in range(1, 7)]
    blank = blank_named("roll-60x80")
    label = lay_out(facts[0], market="us", blank=blank)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "labels.pdf"

        def printed() -> None:
            write_pdf(path, [(label, _MANY)])

        def laid_out_and_printed() -> None:
            write_pdf(path, [(lay_out(facts[0], market="us", blank=blank), _MANY)])

        def six_kinds() -> None:
            labels = [lay_out(one, market="us", blank=blank) for one in facts]
            write_pdf(path, [(one, _MANY // 6) for one in labels])

        def floor() -> None:
            bare_stamping([label], _MANY)

        kinds = [lay_out(one, market="us", blank=blank) for one in facts]

        def floor_of_six() -> None:
            bare_stamping(kinds, _MANY // 6)

        return [
            (name, *_in_turn(ours, bare))
            for name, ours, bare in (
                ("600 labels printed and read back", printed, floor),
                ("600 labels laid out, printed and read back", laid_out_and_printed, floor),
                ("600 labels of six kinds, laid out, printed, read back", six_kinds, floor_of_six),
            )
        ]


def bare_stamping(labels: list[Label], count: int) -> bytes:
    """``count`` pages of a form for each of ``labels`` of one size, by the library alone."""
    buffer, label = io.BytesIO(), labels[0]
    with FONT_LOCK:
        size = (label.blank.width * MM, label.blank.height * MM)
        first = register(label.texts[0].face)
        canvas = Canvas(buffer, size, invariant=1, pageCompression=1, initialFontName=first)
        for number, label in enumerate(labels):
            canvas.beginForm(f"label{number}", 0, 0, *size)
            for text in label.texts:
                canvas.setFont(register(text.face), text.size)
                canvas.drawString(text.x, text.y, text.text)
            for symbol in label.symbols:
                for bar in symbol.bars:
                    canvas.rect(*bar, stroke=0, fill=1)
            canvas.endForm()
            for _ in range(count):
                canvas.doForm(f"label{number}")
                canvas.showPage()
        canvas.save()
    return buffer.getvalue()


def _facts(batch: int) -> Facts:
    lot = f"26328-{batch:02}"
    return firm_tofu(lot=lot, symbols=(lot_symbol(lot),))


def _in_turn(ours: Callable[[], None], floor: Callable[[], None]) -> tuple[float, float]:
    """The best time of each over rounds in which both take their turn."""
    best = [float("inf"), float("inf")]
    for _ in range(_ROUNDS):
        for which, work in enumerate((ours, floor)):
            start = time.perf_counter()
            work()
            best[which] = min(best[which], time.perf_counter() - start)
    return best[0], best[1]


if __name__ == "__main__":
    for name, ours, floor in run():
        print(f"{name}: {ours * 1000:.0f} ms, floor {floor * 1000:.0f} ms, {ours / floor:.2f}")
