"""How much a printer and a hand may spoil before a symbol is no longer read.

A *tired* print has bars half a dot too wide, too narrow or true, one dot in fifty black on white or
white on black, and lies two degrees askew. A speck is one dot; half a dot is half a dot in all, not
at each edge; bars are as high as the standard asks at the least. A *look* is one picture of it. The
scanner sees light and dark over a spot of eight tenths of a module as one (what ISO/IEC 15415 lets
a verifier do, from memory; with it the slight blur of ink and lens), takes five pixels a module,
lets them fall where they will, and has six tenths of full contrast (grade B of ISO/IEC 15416, from
memory). Black on pure white is not kinder: ZBar then takes the shadow of a speck in a quiet zone
for a bar. Two readers look, ZXing and ZBar; each gives one answer, what it sees along most lines.

``python -m tests.codes.sweep 60`` counted (read by ZXing, by ZBar, of so many first looks; seven
kinds, 203, 300 and 600 dpi):

- Target module width, which the layout takes where there is room: 3,780 and 3,779 of 3,780, none
  wrong; the one was a Code 128 of letters at 203 dpi.
- Least module width: 3,780 and 3,769 of 3,780, none wrong; all of the eleven were a Code 128 of
  letters with modules of 2 dots at 203 dpi.
- One cause alone, at the least width: nothing, specks, tilt or thin bars cost 1 of 840 at most.
  Fat bars held exactly straight are read by ZXing in 177 of 210, by ZBar in all: ZXing rounds edges
  to whole pixels, and on a straight picture every line is rounded alike. Half a degree mends it,
  and so does looking again: at target width both had read each of them within five looks.
- Bars cut to 5 mm: 629 and 625 of 630; what fails is GS1-128 at 203 and 300 dpi.
- Another scanner, target width: 3 or 8 pixels a module 630 and 626 of 630 at the least, contrast 1
  or 0.4 all 630. A sharper spot of half a module sees each speck: 608 and 569 of 630, nearly all of
  them Code 128, most at 203 dpi (a random text there: 13 and 7 of 30).
- Specks that grow and shrink with the bars, so that four dots in a hundred are black: 401 and 410
  of 420; ZXing loses some EAN-13, UPC-A and Code 128 at 203 dpi.
- A whole dot too wide, least width: ZBar still reads 209 of 210, ZXing hardly any at 203 dpi.
- Specks in one dot of twenty, fat bars, least width: 202 and 173 of 210, Code 128 mostly.

Of 1,500 EAN-13 at 203 dpi with fat bars both read all 1,500; but in 10 of them ZXing saw a second,
wrong number besides, along a few lines at the very end of the bars. Digits 1 and 7, and 2
and 8, differ by the widths of their bars alone, and the check digit does not catch every pair of
such mistakes. A printer that prints so fat wants its heat turned down, and a scan that names no
item of the shop wants a second scan, never a guess.
"""

from __future__ import annotations

import random

import pytest

from labels.sizes import module_dots
from tests.codes.drawing import Scanner, draw, print_tired, read_zbar, read_zxing
from tests.codes.sweep import DPIS, GAINS, MAKERS, TIRED, Spoilt, count, look, looks_needed

EACH_KIND = pytest.mark.parametrize("kind", MAKERS)
EACH_DPI = pytest.mark.parametrize("dpi", DPIS)


@EACH_KIND
@EACH_DPI
@pytest.mark.parametrize("gain", GAINS)
def test_at_target_width_both_readers_read_a_tired_print_at_the_first_look(
    kind: str, dpi: int, gain: float
) -> None:
    for number in range(5):
        seen = look(kind, dpi, Spoilt(gain), number)
        assert (seen.zxing[:1], seen.zbar[:1]) == ([seen.says], [seen.says])


@EACH_KIND
@EACH_DPI
def test_fat_bars_held_exactly_straight_are_read_by_both_within_a_third_of_a_second(
    kind: str, dpi: int
) -> None:
    for number in range(2):  # a camera takes some thirty pictures a second
        assert looks_needed(kind, dpi, Spoilt(0.5, specks=0, tilt=0), number, 10) <= 10


@EACH_KIND
@EACH_DPI
def test_at_least_width_a_reader_reads_every_tired_print_and_none_reads_it_wrong(
    kind: str, dpi: int
) -> None:
    total = count(look(kind, dpi, spoilt, n, smallest=True) for spoilt in TIRED for n in range(3))
    assert (total["neither"], total["wrong"]) == (0, 0)
    assert total["zxing"] == total["looks"]


@pytest.mark.parametrize("kind", [kind for kind in MAKERS if kind != "qr"])
@EACH_DPI
def test_bars_cut_to_5_millimetres_are_still_read(kind: str, dpi: int) -> None:
    for gain in (-0.5, 0.5):
        seen = look(kind, dpi, Spoilt(gain), 0, height_mm=5.0)
        assert not seen.wrong
        assert seen.by_zxing


@pytest.mark.parametrize("kind", ["ean-13", "ean-8", "upc-a"])
@pytest.mark.parametrize("dpi", [203, 300])
def test_a_whole_dot_too_wide_is_still_read_by_one_reader(kind: str, dpi: int) -> None:
    for number in range(3):
        seen = look(kind, dpi, Spoilt(1.0), number, smallest=True)
        assert seen.by_zbar


@pytest.mark.parametrize("gain", [-1.0, -0.5, 0.0, 0.5, 1.0])
def test_the_press_makes_a_bar_wider_by_the_gain_in_all(gain: float) -> None:
    # the first guard bar: one module of 4 dots behind 11 light ones
    clean = draw(MAKERS["ean-13"](random.Random(1)), 300, dots=4)
    page = print_tired(clean, gain=gain, specks=0, chance=random.Random(1))
    dark = [page.getpixel((x, 20)) == 0 for x in range(2 * 11 * 4 - 4, 2 * 12 * 4 + 8)]
    assert sum(dark) == 2 * 4 + 2 * gain


def test_the_press_turns_two_dots_in_a_hundred() -> None:
    clean = draw(MAKERS["ean-8"](random.Random(2)), 300, dots=4, height=100)
    page = print_tired(clean, gain=0, specks=0.02, chance=random.Random(2))
    small = page.resize(clean.size, 0)
    turned = sum(a != b for a, b in zip(clean.tobytes(), small.tobytes(), strict=True))
    assert turned == round(0.02 * clean.width * clean.height)


def test_the_scanner_takes_so_many_pixels_a_module_at_the_contrast_it_has() -> None:
    clean = draw(MAKERS["ean-8"](random.Random(3)), 300, dots=4, height=100)
    page = print_tired(clean, gain=0, specks=0, chance=random.Random(3))
    picture = Scanner(pixels=3, contrast=0.5).look(page, 4, 0, random.Random(3))
    assert abs(picture.width - clean.width / 4 * 3) <= 2 * 12 + 1
    darkest, lightest = picture.getextrema()
    assert 0.48 < (lightest - darkest) / 255 <= 0.5


def test_a_print_spoiled_altogether_is_not_read_as_something_else() -> None:
    chance = random.Random(7)
    for make in MAKERS.values():
        symbol = make(chance)
        dots = module_dots(symbol, 300)
        clean = draw(symbol, 300, dots=dots, height=60)
        page = print_tired(clean, gain=dots - 0.5, specks=0.2, chance=chance)
        ruined = Scanner().look(page, dots, 0, chance)
        assert read_zxing(ruined, symbol.kind) == []
        assert read_zbar(ruined, symbol.kind) == []
