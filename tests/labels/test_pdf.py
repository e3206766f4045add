"""The file: same input, same bytes; whole or not at all; every place on the sheet once."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from itertools import combinations
from pathlib import Path

import pdfplumber
import pypdfium2
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from pdfminer.pdftypes import resolve1

from labels import Blank, Label, blank_named, lay_out, write_pdf
from labels.blanks import BLANKS
from labels.errors import BadValue, NotReadable, NotWritten
from labels.fonts import MM
from labels.pdf import build_pdf, draw, impose
from labels.scale import write_scale_check
from labels.symbols import lot_symbol
from tests.bench.labels_bench import bare_stamping
from tests.labels.shop import firm_tofu
from tests.often import examples

SHEET = "sheet-a4-2x4-99.1x67.7"


def block(lot: str = "26328-01", blank: Blank | str = "roll-60x80") -> Label:
    paper = blank_named(blank) if isinstance(blank, str) else blank
    facts = firm_tofu(lot=lot, symbols=(lot_symbol(lot),))
    return lay_out(facts, market="us", blank=paper)


_TWICE = """
import sys
from tests.labels.test_pdf import block
from labels import write_pdf
write_pdf(sys.argv[1], [(block(), 5), (block("26328-02"), 3)])
"""


def test_the_same_labels_are_the_same_bytes_in_every_process(tmp_path: Path) -> None:
    here = tmp_path / "here.pdf"
    block("26328-07")  # what was laid out before must not show
    write_pdf(here, [(block(), 5), (block("26328-02"), 3)])
    for seed in ("0", "1"):
        there = tmp_path / f"there{seed}.pdf"
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        subprocess.run([sys.executable, "-c", _TWICE, str(there)], check=True, env=environment)
        assert there.read_bytes() == here.read_bytes()


def test_two_files_written_at_once_are_those_written_alone(tmp_path: Path) -> None:
    labels = [block(f"26328-{batch:02}") for batch in range(1, 9)]
    alone = []
    for label in labels:
        write_pdf(tmp_path / "alone.pdf", [(label, 2)])
        alone.append((tmp_path / "alone.pdf").read_bytes())

    def write(number: int) -> bytes:
        path = tmp_path / f"{number}.pdf"
        write_pdf(path, [(labels[number], 2)])
        return path.read_bytes()

    with ThreadPoolExecutor(4) as threads:
        assert list(threads.map(write, range(8))) == alone


def test_every_face_is_embedded_and_no_other_is_named(tmp_path: Path) -> None:
    path = tmp_path / "label.pdf"
    write_pdf(path, [(block(), 2)])
    with pdfplumber.open(path) as pdf:
        objects = [pdf.doc.getobj(n) for xref in pdf.doc.xrefs for n in xref.get_objids()]
        fonts = [o for o in objects if isinstance(o, dict) and str(o.get("Type")) == "/'Font'"]
        described = [resolve1(font["FontDescriptor"]) for font in fonts]
    assert len(fonts) >= 2
    assert all("FontFile2" in descriptor for descriptor in described)
    assert all("FiraSansCondensed" in str(font["BaseFont"]) for font in fonts)


def test_the_file_says_what_it_is_and_in_which_language(tmp_path: Path) -> None:
    path = tmp_path / "label.pdf"
    write_pdf(path, [(block(), 2)])
    with pdfplumber.open(path) as pdf:
        assert pdf.metadata["Title"] == "Firm Tofu 26328-01"
        assert pdf.doc.catalog["Lang"] == b"en"


@pytest.mark.parametrize("name", ["roll-60x80", "roll-100x60", "roll-105x148", SHEET])
def test_the_page_is_as_large_as_the_blank(name: str, tmp_path: Path) -> None:
    path = tmp_path / "label.pdf"
    write_pdf(path, [(block(blank=name), 1)])
    with pdfplumber.open(path) as pdf:
        size = (float(pdf.pages[0].width) / MM, float(pdf.pages[0].height) / MM)
    assert size == pytest.approx(blank_named(name).page_mm, abs=1e-3)


def test_a_run_begins_at_the_first_free_label_and_leaves_the_used_ones_out(tmp_path: Path) -> None:
    label = block(blank=SHEET)
    printed = write_pdf(tmp_path / "sheet.pdf", [(label, 9)], start=3, used=(4, 7))
    # sheet one: 3, 5, 6, 8; sheet two: 1 to 5
    assert (printed.labels, printed.pages, printed.next_free) == (9, 2, 6)
    assert [place.page for place in impose([(label, 9)], start=3, used=(4, 7))] == [0] * 4 + [1] * 5
    with pdfplumber.open(tmp_path / "sheet.pdf") as pdf:
        words = [[w for w in page.extract_words() if w["text"] == "26328-01"] for page in pdf.pages]
    assert [len(found) for found in words] == [8, 10]  # lot and human-readable line of each


def test_what_is_built_for_a_preview_is_what_is_written(tmp_path: Path) -> None:
    runs = [(block(blank=SHEET), 9)]
    built = build_pdf(runs, start=3, used=iter((4, 7)))
    printed = write_pdf(tmp_path / "sheet.pdf", runs, start=3, used=iter((4, 7)))
    assert (tmp_path / "sheet.pdf").read_bytes() == built.data
    assert (printed.pages, printed.next_free) == (built.pages, built.next_free) == (2, 6)


def test_several_labels_share_one_sheet_in_their_order(tmp_path: Path) -> None:
    runs = [(block("26328-01", SHEET), 3), (block("26328-02", SHEET), 2)]
    printed = write_pdf(tmp_path / "sheet.pdf", runs)
    assert (printed.labels, printed.distinct, printed.pages) == (5, 2, 1)
    with pypdfium2.PdfDocument(tmp_path / "sheet.pdf") as pdf:
        page = pdf[0].render(scale=300 / 72).to_pil()
    assert sorted(found.text for found in zxingcpp.read_barcodes(page)) == (
        ["26328-01"] * 3 + ["26328-02"] * 2
    )


@examples(40)
@given(
    name=st.sampled_from([n for n in BLANKS if n.startswith("sheet")]),
    count=st.integers(1, 70),
    start=st.integers(1, 4),
    used=st.sets(st.integers(1, 4), max_size=3),
)
def test_no_two_labels_share_a_place_and_all_lie_on_the_page(
    name: str, count: int, start: int, used: set[int]
) -> None:
    blank = blank_named(name)
    label = _TAGS.setdefault(name, _tag(blank))
    if set(range(start, blank.per_page + 1)) <= used:
        with pytest.raises(BadValue, match="Take a new sheet"):
            impose([(label, count)], start=start, used=used)
        return
    places = impose([(label, count)], start=start, used=used)
    assert len({(p.page, p.x, p.y) for p in places}) == len(places) == count
    width, height = blank.width * MM, blank.height * MM
    for place in places:
        assert place.x >= -0.1
        assert place.y >= -0.1
        assert place.x + width <= blank.page_mm[0] * MM + 0.1
        assert place.y + height <= blank.page_mm[1] * MM + 0.1
    dot = 72 / blank.dpi
    for one, other in combinations([p for p in places if p.page == 0], 2):
        apart_x = abs(one.x - other.x) >= width - dot
        apart_y = abs(one.y - other.y) >= height - dot
        assert apart_x or apart_y


_TAGS: dict[str, Label] = {}


def _tag(blank: Blank) -> Label:
    facts = firm_tofu(name="Tub", second_name="", symbols=(), ingredients=(), maker=None)
    return lay_out(facts, market="house", blank=blank)


@pytest.mark.parametrize(
    ("runs", "settings", "sentence"),
    [
        ([], {}, "Cannot print 0 labels: there is nothing to print. Say how many."),
        ([0], {}, "Cannot print 0 labels: there is nothing to print. Say how many."),
        ([30000], {}, "Cannot print 30000 labels: 20000 is the most in one file. "
                      "Print them in parts."),
        ([1], {"start": 9}, f"Cannot print at position 9: {SHEET} has positions 1 to 8."),
        ([1], {"used": (0,)}, f"Cannot print at position 0: {SHEET} has positions 1 to 8."),
        ([1], {"start": 7, "used": (7, 8)}, f"Cannot begin at position 7 of {SHEET}: every "
                                            "position from there on is used. Take a new sheet."),
    ],
)  # fmt: skip
def test_what_cannot_be_printed_is_refused_before_a_file_is_there(
    runs: list[int], settings: dict[str, object], sentence: str, tmp_path: Path
) -> None:
    label = block(blank=SHEET)
    with pytest.raises(BadValue) as refusal:
        write_pdf(tmp_path / "sheet.pdf", [(label, count) for count in runs], **settings)  # type: ignore[arg-type]
    assert str(refusal.value) == sentence
    assert not list(tmp_path.iterdir())


def test_labels_for_different_blanks_do_not_go_into_one_file(tmp_path: Path) -> None:
    with pytest.raises(BadValue, match="one file has one blank"):
        write_pdf(tmp_path / "mixed.pdf", [(block(), 1), (block(blank="roll-100x60"), 1)])


def test_a_full_disk_leaves_what_was_there_and_no_half_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "labels.pdf"
    path.write_bytes(b"yesterday")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotWritten) as refusal:
        write_pdf(path, [(block(), 1)])
    assert str(refusal.value) == (
        f"Cannot write labels.pdf in {tmp_path}: no space left on device. "
        "Make room, or choose another folder."
    )
    assert path.read_bytes() == b"yesterday"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(NotWritten, match="no such file or directory"):
        write_pdf(tmp_path / "none" / "labels.pdf", [(block(), 1)])


def test_a_symbol_that_reads_as_something_else_is_not_printed(tmp_path: Path) -> None:
    label = block()
    placed = label.symbols[0]
    wrong = placed._replace(symbol=replace(placed.symbol, data="26328-02"))
    with pytest.raises(NotReadable, match="it reads as '26328-01'"):
        write_pdf(tmp_path / "wrong.pdf", [(replace(label, symbols=(wrong,)), 1)])
    bare = placed._replace(bars=placed.bars[:-9])
    with pytest.raises(NotReadable, match="nothing can be read"):
        write_pdf(tmp_path / "wrong.pdf", [(replace(label, symbols=(bare,)), 1)])
    assert not list(tmp_path.iterdir())


def test_a_label_is_drawn_once_and_stamped_as_often_as_wanted() -> None:
    """No more than a tenth above what the drawing library takes for 600 pages of one form."""
    label = block()
    ours = len(draw([label], impose([(label, 600)])))
    assert ours <= 1.1 * len(bare_stamping([label], 600))


def test_the_ruler_of_the_test_page_is_as_long_as_it_says(tmp_path: Path) -> None:
    for name in ("roll-60x80", SHEET):
        length = write_scale_check(tmp_path / "scale.pdf", blank_named(name))
        with pdfplumber.open(tmp_path / "scale.pdf") as pdf:
            page = pdf.pages[0]
            lines = [float(line["x1"] - line["x0"]) for line in page.lines]
            text = page.extract_text()
            upright = max(page.lines, key=lambda line: line["y1"] - line["y0"])
            corners = [line for line in page.lines if line["linewidth"] == 0.25]
        assert max(lines) / MM == pytest.approx(length, abs=1e-3)
        assert upright["y0"] == pytest.approx(float(page.height) - upright["y1"], abs=1e-3)
        assert len(corners) == (8 * blank_named(name).per_page if name == SHEET else 0)
        assert f"This line is {length:g} mm long" in text
