"""Each kind of symbol: its modules, guards, quiet zones, human-readable line and sizes."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.checks import with_check_digit
from labels.elements import Element
from labels.errors import BadSymbol
from labels.sizes import SIZES, bar_heights_mm, dots_per_mm, module_dots
from labels.symbols import Symbol, code128, ean8, ean13, gs1_128, lot_symbol, qr, upca

ITEM = ("01", "09521234000013")
LINK = "https://id.gs1.org/01/09521234000013/10/26328-01?17=261129"
EACH = [
    code128("26328-01"),
    gs1_128([ITEM, ("15", "261129")]),
    ean13("9521234000013"),
    ean8("95012346"),
    upca("036000291452"),
    qr(LINK),
]
BY_KIND = pytest.mark.parametrize("symbol", EACH, ids=[symbol.kind for symbol in EACH])


@pytest.mark.parametrize(
    ("symbol", "modules", "total"),
    [
        (EACH[0], 9 * 11 + 13, 132),  # start, 26, 32, to B, 8, -, 0, 1, check: 9 characters
        (EACH[1], 178, 198),  # arithmetic: start, FNC1, 12 pairs, check, stop
        (EACH[2], 95, 113),  # GS1 Bulgaria: 113 x 0.330 mm = 37.29 mm
        (EACH[3], 67, 81),  # GS1 Bulgaria: 81 x 0.330 mm = 26.73 mm
        (EACH[4], 95, 113),
    ],
)
def test_a_symbol_is_as_wide_as_the_standard_says(symbol: Symbol, modules: int, total: int) -> None:
    assert (symbol.modules, symbol.total_modules) == (modules, total)
    assert len(symbol.bars) % 2 == 1
    assert symbol.matrix == ()


@pytest.mark.parametrize(
    ("symbol", "x_mm", "width"),
    [
        (EACH[1], 0.495, 98.01),  # arithmetic, GS1-128 of item and date
        (EACH[2], 0.330, 37.29),  # GS1 Bulgaria
        (EACH[2], 0.264, 29.83),  # GS1 Bulgaria, 80 %
        (EACH[2], 0.660, 74.58),  # GS1 Bulgaria, 200 %
        (EACH[3], 0.264, 21.38),  # GS1 Bulgaria
        (EACH[3], 0.660, 53.46),  # GS1 Bulgaria
    ],
)
def test_the_widths_in_millimetres_are_the_published_ones(
    symbol: Symbol, x_mm: float, width: float
) -> None:
    assert round(symbol.total_modules * x_mm, 2) == width


@pytest.mark.parametrize(
    ("symbol", "x_mm", "heights"),
    [
        (EACH[2], 0.330, (18.28, 22.85)),  # GS1 Sweden, size guide
        (EACH[2], 0.264, (18.28, 18.28)),
        (EACH[2], 0.660, (18.28, 45.70)),
        (EACH[3], 0.330, (14.58, 18.23)),
        (EACH[3], 0.660, (14.58, 36.46)),
        (EACH[4], 0.330, (18.28, 22.85)),
        (EACH[1], 0.495, (31.75, 31.75)),
        (EACH[0], 0.250, (5.0, 10.0)),  # 15 % of 33 mm are 4.95 mm
        (EACH[0], 0.500, (9.9, 10.0)),
        (EACH[0], 1.000, (19.8, 19.8)),
        (EACH[5], 0.625, (0.0, 0.0)),
    ],
)
def test_bar_heights_are_those_of_the_tables(
    symbol: Symbol, x_mm: float, heights: tuple[float, float]
) -> None:
    assert bar_heights_mm(symbol, x_mm) == heights


def guard_modules(symbol: Symbol) -> list[int]:
    """Modules, counted from the left, that the long bars cover."""
    starts = [sum(symbol.bars[:i]) for i in range(len(symbol.bars))]
    return [m for i in symbol.guards for m in range(starts[i], starts[i] + symbol.bars[i])]


@given(st.text("0123456789", min_size=11, max_size=11))
def test_the_guard_bars_stand_at_the_ends_and_in_the_middle(digits: str) -> None:
    # ISO/IEC 15420: 101 at both ends, 01010 in the middle
    thirteen, eight = ean13(with_check_digit("9" + digits)), ean8(with_check_digit(digits[:7]))
    assert guard_modules(thirteen) == [0, 2, 46, 48, 92, 94]
    assert guard_modules(eight) == [0, 2, 32, 34, 64, 66]
    assert all(i % 2 == 0 for i in thirteen.guards + eight.guards)
    twelve = guard_modules(upca(with_check_digit(digits)))
    edges = {0, 2, 46, 48, 92, 94}
    assert edges <= set(twelve)
    # the first and the last digit of UPC-A are as tall; nothing else is
    assert all(m in edges or 3 <= m <= 9 or 85 <= m <= 91 for m in twelve)
    assert len(upca(with_check_digit(digits)).guards) == 10


@pytest.mark.parametrize(
    ("symbol", "line"),
    [
        (EACH[0], "26328-01"),
        (EACH[1], "(01)09521234000013(15)261129"),
        (EACH[2], "9 521234 000013"),
        (EACH[3], "9501 2346"),
        (EACH[4], "0 36000 29145 2"),
        (EACH[5], "(01)09521234000013(10)26328-01(17)261129"),
        (qr("https://example.com/tofu"), "https://example.com/tofu"),
        (code128("A\tB"), "A B"),
        (
            gs1_128([("10", "26328-01"), ("15", "261129"), ITEM]),
            "(01)09521234000013(15)261129(10)26328-01",
        ),
    ],
)
def test_the_human_readable_line(symbol: Symbol, line: str) -> None:
    # GS1 General Specifications 4.14 and 4.15 (from memory): all digits; identifiers in brackets
    assert symbol.text == line


@BY_KIND
def test_sizes_come_from_the_table_of_the_kind(symbol: Symbol) -> None:
    size = SIZES[symbol.kind]
    assert symbol.quiet == size.quiet
    assert symbol.height_mm == size.height_mm
    assert symbol.x_mm[:2] == size.x_mm[:2]
    assert symbol.x_mm[2] <= size.x_mm[2]
    assert size.source


@pytest.mark.parametrize(
    ("symbol", "dpi", "smallest", "dots"),
    [
        (EACH[2], 203, False, 3),  # 0.375 mm
        (EACH[2], 203, True, 3),  # 2 dots are 0.250 mm, under 0.264
        (EACH[2], 300, False, 4),  # 0.339 mm
        (EACH[2], 300, True, 4),
        (EACH[2], 600, False, 8),  # 0.339 mm
        (EACH[2], 600, True, 7),  # 0.296 mm
        (EACH[0], 203, True, 2),  # 0.250 mm exactly
        (EACH[0], 203.2, True, 2),
        (EACH[0], 203, False, 3),
        (EACH[0], 300, True, 3),  # 0.254 mm
        (EACH[0], 600, True, 6),
        (EACH[1], 203, False, 4),  # 0.500 mm
        (EACH[1], 300, False, 6),  # 0.508 mm
        (EACH[1], 600, False, 12),
        (EACH[5], 203, False, 5),
        (EACH[5], 203, True, 3),  # 0.375 mm exactly
    ],
)
def test_a_module_is_a_whole_number_of_dots(
    symbol: Symbol, dpi: float, smallest: bool, dots: int
) -> None:
    assert module_dots(symbol, dpi, smallest=smallest) == dots


@pytest.mark.parametrize(
    ("dpi", "smallest", "width"), [(203, False, 42.4), (300, False, 38.3), (600, True, 33.5)]
)
def test_an_ean_13_takes_so_much_room_at_each_resolution(
    dpi: float, smallest: bool, width: float
) -> None:
    # arithmetic: 113 modules of 3 dots of 1/8 mm, 4 of 1/300 inch, 7 of 1/600 inch
    dots = module_dots(EACH[2], dpi, smallest=smallest)
    assert round(EACH[2].total_modules * dots / dots_per_mm(dpi), 1) == width


@BY_KIND
@given(st.floats(96, 1200))
def test_the_module_is_in_range_and_none_is_nearer_to_the_target(
    symbol: Symbol, dpi: float
) -> None:
    least, target, greatest = symbol.x_mm
    per_mm = dots_per_mm(dpi)
    fitting = [d for d in range(1, 100) if least - 1e-9 <= d / per_mm <= greatest + 1e-9]
    if not fitting:
        with pytest.raises(BadSymbol):
            module_dots(symbol, dpi)
        return
    chosen = module_dots(symbol, dpi)
    assert chosen in fitting
    off = min(abs(d / per_mm - target) for d in fitting)
    assert math.isclose(abs(chosen / per_mm - target), off)
    assert module_dots(symbol, dpi, smallest=True) == min(fitting)


def test_where_no_whole_number_of_dots_fits_it_is_refused() -> None:
    # 60 dots an inch: one dot is 0.423 mm, two are 0.847 mm, and that would be too long
    long = gs1_128([ITEM, ("10", "abcdefgh")])
    with pytest.raises(BadSymbol) as refusal:
        module_dots(long, 60)
    assert str(refusal.value) == (
        "Cannot print gs1-128 at 60 dots an inch: a module of 1 dots is 0.423 mm and one of 2 is "
        f"0.847 mm, neither between 0.495 and {long.x_mm[2]:.3f} mm. "
        "Use a printer with finer dots, or put less into the symbol."
    )


@pytest.mark.parametrize("dpi", [0, -203, 49, 5000, math.nan, math.inf])
def test_a_resolution_that_no_printer_has_is_refused(dpi: float) -> None:
    with pytest.raises(BadSymbol):
        module_dots(EACH[2], dpi)


def test_a_long_gs1_128_keeps_to_165_millimetres() -> None:
    # GS1 General Specifications 5.4.4.3
    symbol = gs1_128([ITEM, ("15", "261129"), ("10", "26328-01")])
    assert symbol.x_mm[2] < SIZES["gs1-128"].x_mm[2]
    for dpi in (203, 300, 600):
        dots = module_dots(symbol, dpi)
        assert symbol.total_modules * dots / dots_per_mm(dpi) <= 165.10


@pytest.mark.parametrize(
    ("elements", "sentence"),
    [
        (
            [ITEM, ("21", "1" * 20), ("10", "1" * 8)],
            f"Cannot put (01)09521234000013(21){'1' * 20}(10)11111111 into a GS1-128 symbol: "
            "49 characters are more than 48. Shorten the lot code, or leave something out.",
        ),
        (
            [ITEM, ("15", "261129"), ("10", "abcdefghijklmnopqr")],
            "Cannot put (01)09521234000013(15)261129(10)abcdefghijklmnopqr into a GS1-128 symbol: "
            "it would be 206.91 mm long, and 165.10 mm is allowed. "
            "Shorten the lot code, or make it of digits.",
        ),
    ],
)
def test_a_gs1_128_that_is_too_long_is_refused(elements: list[Element], sentence: str) -> None:
    # GS1 General Specifications 5.4.4.3: 48 characters, 165.10 mm
    with pytest.raises(BadSymbol) as refusal:
        gs1_128(elements)
    assert str(refusal.value) == sentence


@pytest.mark.parametrize("text", ["", "é", "tofu 豆腐", "\u200b", "x" * 81, "\x80"])
def test_code_128_refuses_what_it_cannot_carry(text: str) -> None:
    with pytest.raises(BadSymbol, match="Cannot put"):
        code128(text)


@pytest.mark.parametrize("lot", ["26328-001", "26400-01", "", "lot 5"])
def test_the_lot_symbol_takes_lot_codes_only(lot: str) -> None:
    with pytest.raises(BadSymbol, match="Cannot read lot"):
        lot_symbol(lot)


@pytest.mark.parametrize("uri", ["", "tofu", "ftp://x", "https://x/ y", "https://x/é",
                                 "https://x/" + "y" * 300])  # fmt: skip
def test_a_qr_symbol_takes_web_addresses_only(uri: str) -> None:
    with pytest.raises(BadSymbol, match="into a QR symbol"):
        qr(uri)


def test_a_qr_symbol_is_a_square_with_three_finders() -> None:
    # ISO/IEC 18004: a ring of 7 by 7 around a square of 3 by 3 in three corners
    matrix = EACH[5].matrix
    side = len(matrix)
    assert all(len(row) == side for row in matrix)
    assert (side - 21) % 4 == 0
    assert EACH[5].modules == side
    assert EACH[5].total_modules == side + 8
    for top, left in ((0, 0), (0, side - 7), (side - 7, 0)):
        ring = [matrix[top + y][left + x] for y in range(7) for x in range(7)
                if {y, x} & {0, 6} or (2 <= y <= 4 and 2 <= x <= 4)]  # fmt: skip
        assert all(ring)


@BY_KIND
def test_a_symbol_is_a_plain_value_that_cannot_be_changed(symbol: Symbol) -> None:
    with pytest.raises(AttributeError):
        symbol.data = "9"  # type: ignore[misc]
    assert hash(symbol) == hash(symbol)
