"""How a label is set: what wraps where, what is largest, what is refused and what would do."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from labels import Blank, Facts, Label, blank_named, explain, lay_out, write_pdf
from labels.blanks import BLANKS
from labels.compose import lines, outside_digits
from labels.errors import BadSymbol, BadValue, DoesNotFit
from labels.fonts import MM, Face, house_faces
from labels.rules import Run, statements
from labels.symbols import Symbol, code128, ean13, gs1_128
from labels.wrap import Atom, SetLine, atoms_of, wrap, wrap_evenly, wrap_without_widow
from tests.labels.shop import SYMBOLS, firm_tofu, rectangle

FACES = house_faces()


def cut(text: str) -> list[str]:
    atoms = atoms_of([Run(text)], FACES, "storage")
    return ["".join(piece for _, piece in atom.pieces) for atom in atoms]


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("keep at 41 °F (5 °C)", ["keep", "at 41 °F", "(5 °C)"]),
        ("NET WT 14 OZ (396 g)", ["NET WT", "14 OZ", "(396 g)"]),
        ("add 2 fl oz water", ["add 2 fl oz", "water"]),
        ("half-dried five-spice", ["half-", "dried", "five-", "spice"]),
        ("lot 26328-01", ["lot 26328-01"]),
        ("Alder Ferry, OR 97099", ["Alder", "Ferry,", "OR 97099"]),
        ("Poids net : 5 g", ["Poids", "net :", "5 g"]),
        ("30\u00a0novembre\u00a02026", ["30 novembre 2026"]),
    ],
)
def test_lines_break_at_words_and_hyphens_but_never_before_a_unit(
    text: str, parts: list[str]
) -> None:
    assert cut(text) == parts


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        # from the widest line that does not hold the whole to the narrowest: what breaks first
        ("NET WT 14 OZ (396 g)", ["NET WT 14 OZ|(396 g)", "NET WT|14 OZ|(396 g)"]),
        ("Mill, 14 Sluice Lane", ["Mill, 14 Sluice|Lane", "Mill,|14|Sluice|Lane"]),
        ("Smoked five-spice", ["Smoked|five-spice", "Smoked|five-|spice"]),
        ("Mill, OR 97099 · 555-0142", ["Mill,|OR 97099 · 555-0142", "Mill,|OR 97099 ·|555-0142"]),
    ],
)  # fmt: skip
@pytest.mark.parametrize("wrapped", [wrap, wrap_evenly, wrap_without_widow])
def test_words_that_belong_together_part_only_where_no_line_holds_them(
    wrapped: Callable[[list[Atom], float], list[SetLine]], text: str, lines: list[str]
) -> None:
    atoms = atoms_of([Run(text)], FACES, "net-quantity")
    whole = sum(atom.width + atom.gap for atom in atoms)
    found = []
    for percent in range(100, 0, -1):
        broken = "|".join(
            "".join(piece for _, piece, _ in line.pieces)
            for line in wrapped(atoms, whole * percent / 100)
        )
        if broken not in (text, *found):
            found.append(broken)
    assert (found[0], found[-1]) == (lines[0], lines[-1])
    assert all("|·" not in broken for broken in found)


@pytest.mark.parametrize("blank", BLANKS.values(), ids=BLANKS)
def test_on_no_blank_a_separator_begins_a_line_or_the_telephone_stands_alone(blank: Blank) -> None:
    panel = rectangle(blank.width, blank.height)
    for symbol in SYMBOLS:
        try:
            label = lay_out(firm_tofu(symbols=(symbol,), panel=panel), market="us", blank=blank)
        except DoesNotFit:
            continue
        lines = [text.text for text in label.texts]
        assert not [line for line in lines if line.startswith("·") or line == "555-0142"]
        assert "NET" not in lines


def test_a_name_is_set_in_lines_of_about_equal_length() -> None:
    atoms = atoms_of([Run("Smoked Tofu with Sesame and Ginger")], FACES, "name")
    width = sum(atom.width + atom.gap for atom in atoms) * 0.8
    greedy = [line.width for line in wrap(atoms, width)]
    even = [line.width for line in wrap_evenly(atoms, width)]
    assert len(even) == len(greedy) == 2
    assert max(even) - min(even) < max(greedy) - min(greedy)


def test_small_text_grows_with_the_blank_and_never_above_what_is_calm() -> None:
    def size(blank: str) -> float:
        label = lay_out(firm_tofu(), market="us", blank=blank_named(blank))
        return label.size_of("ingredients") or 0

    assert 8 < size("roll-60x80") < size("roll-100x75") <= size("roll-105x148") <= 13


def test_the_second_name_stands_right_below_the_first() -> None:
    label = lay_out(firm_tofu(), market="us", blank=blank_named("roll-60x80"))
    keys = [text.statement for text in label.texts]
    assert keys[:2] == ["name", "second-name"]
    assert label.texts[0].x == label.texts[1].x


def test_all_text_of_a_narrow_label_begins_at_one_edge() -> None:
    label = lay_out(firm_tofu(), market="us", blank=blank_named("roll-60x80"))
    edges = {round(t.x, 3) for t in label.texts if t.statement not in ("symbol",)}
    assert len([edge for edge in edges if edge < 0.3 * label.blank.width * MM]) <= 2


@pytest.mark.parametrize("blank", [b for b in BLANKS.values() if min(b.width, b.height) > 50])
@pytest.mark.parametrize("symbol", [*SYMBOLS[:2], SYMBOLS[5]])
def test_capitals_stand_as_far_from_the_top_as_lines_from_the_left(
    blank: Blank, symbol: Symbol
) -> None:
    panel = rectangle(blank.width, blank.height)
    facts = firm_tofu(symbols=(symbol,), panel=panel, second_name="", second_language="")
    label = lay_out(facts, market="us", blank=blank)
    texts = [text for text in label.texts if text.statement != "symbol"]
    above = min(blank.height * MM - t.y - t.face.height("H") * t.size for t in texts)
    left = min(t.x - t.face.overhang(t.text[0]) * t.size for t in texts)
    assert above == pytest.approx(left, abs=0.06 * MM)
    # and what stands below the bars is no larger than the small text
    assert max(t.size for t in label.texts if t.statement == "symbol") <= label.size_of(
        "ingredients"
    )


@pytest.mark.parametrize("name", ["roll-100x75", "roll-100x150", "sheet-a4-2x4-99.1x67.7"])
def test_what_a_link_says_stands_below_it_in_lines_rather_than_small(name: str) -> None:
    facts = firm_tofu(symbols=(SYMBOLS[5],), second_name="", second_language="")
    label = lay_out(facts, market="us", blank=blank_named(name))
    below = [text for text in label.texts if text.statement == "symbol"]
    assert [text.text for text in below] == ["(01)09521234000013", "(10)26328-01", "(15)261130"]
    assert min(text.size for text in below) > 6  # points, the least


@pytest.mark.parametrize(
    ("symbol", "outside"),
    # ISO/IEC 15420: which of the digits stand beside the bars
    [("ean-13", (True, False)), ("ean-8", (False, False)), ("upc-a", (True, True))],
)
def test_digits_reach_beyond_the_bars_where_the_standard_has_them(
    symbol: str, outside: tuple[bool, bool]
) -> None:
    reach = outside_digits(next(one for one in SYMBOLS if one.kind == symbol))
    assert tuple(side > 0 for side in reach) == outside
    assert min(reach) >= 0


@pytest.mark.parametrize("name", ["roll-60x80", "roll-100x75", "roll-105x148"])
@pytest.mark.parametrize("which", [2, 3, 4])
def test_digits_are_no_larger_than_their_place_below_the_bars(name: str, which: int) -> None:
    facts = firm_tofu(symbols=(SYMBOLS[which],), second_name="", second_language="")
    label = lay_out(facts, market="us", blank=blank_named(name))
    [symbol] = label.symbols
    seven = 7 * symbol.width / symbol.symbol.modules  # modules a digit: ISO/IEC 15420
    digits = [text for text in label.texts if text.statement == "symbol"]
    assert len({text.size for text in digits}) == 1
    for digit in digits:
        assert digit.face.width(digit.text, digit.size) <= seven * len(digit.text)
        assert digit.size <= 11.5  # points: common practice, no source


@pytest.mark.parametrize(
    ("pair", "width", "height"), [((0, 2), 100, 150), ((2, 5), 100, 150), ((2, 5), 50, 130)]
)
def test_where_there_is_room_each_of_two_symbols_is_as_wide_as_alone(
    pair: tuple[int, int], width: float, height: float
) -> None:
    """Whatever the dots of the other: that of a module is its own."""
    blank = Blank(name="mine", width=width, height=height, dpi=300)

    def widths(*which: int) -> list[float]:
        symbols = tuple(SYMBOLS[n] for n in which)
        facts = firm_tofu(symbols=symbols, second_name="", second_language="")
        return [symbol.width for symbol in lay_out(facts, market="us", blank=blank).symbols]

    assert widths(*pair) == pytest.approx([*widths(pair[0]), *widths(pair[1])])


def test_a_net_quantity_in_two_lines_is_whole_and_leaves_the_name_its_size() -> None:
    facts = firm_tofu(panel=rectangle(100, 75))
    label = lay_out(facts, market="us", blank=blank_named("roll-100x75"))
    assert len({text.y for text in label.texts if text.statement == "net-quantity"}) == 2
    assert label.size_of("name") > 2.5 * label.size_of("ingredients")


class Hanging(Face, frozen=True):
    """A face whose letters reach far below the line."""

    ascent = 0.5
    descent = 0.9


@pytest.mark.parametrize("faces", [(0, 1), (1, 0)])
def test_a_line_of_two_faces_holds_what_reaches_up_and_down_in_either(
    faces: tuple[int, int],
) -> None:
    both = [FACES.regular, Hanging("hanging", FACES.regular.path)]
    pieces = tuple((both[which], "Hg") for which in faces)
    box = lines("name", [Atom(pieces, 1, 0, None)], 10, 1)
    assert box.height == pytest.approx(FACES.regular.ascent + 0.9)
    assert [mark.y for mark in box.marks] == pytest.approx([FACES.regular.ascent] * 2)


def test_the_bars_share_the_edge_of_the_text_where_the_margin_holds_the_quiet_zone() -> None:
    label = lay_out(firm_tofu(), market="us", blank=blank_named("roll-100x150"))
    [symbol] = label.symbols
    margin = min(text.x for text in label.texts)
    right = symbol.bars[-1].x + symbol.bars[-1].width
    step = 2 * 72 / 203  # onto the dot grid
    assert right == pytest.approx(label.blank.width * MM - margin, abs=step)
    assert symbol.x + symbol.width > label.blank.width * MM - margin  # the quiet zone, beyond it


@pytest.mark.parametrize("blank", ["roll-40x25", "roll-50x30", "roll-60x40"])
def test_a_tag_with_lot_and_date_fits_the_smallest_blanks(blank: str, tmp_path: Path) -> None:
    facts = Facts(
        name="Firm Tofu",
        lot="26328-01",
        date_mark=firm_tofu().date_mark,
        symbols=(code128("26328-01"),),
    )
    label = lay_out(facts, market="house", blank=blank_named(blank))
    write_pdf(tmp_path / "tag.pdf", [(label, 1)])
    assert {text.statement for text in label.texts} == {"name", "date", "lot", "symbol"}


def test_what_does_not_fit_is_named_with_what_would_do() -> None:
    with pytest.raises(DoesNotFit) as refusal:
        lay_out(firm_tofu(), market="us", blank=blank_named("roll-60x40"))
    assert refusal.value.least_mm is not None
    width, height = refusal.value.least_mm
    assert str(refusal.value) == (
        "Cannot fit the label of 'Firm Tofu' on roll-60x40: the second name finds no room "
        f"at the height 21 CFR 101.15(c)(2) asks for, {refusal.value.missing_mm:.1f} mm of height "
        f"are missing. Use a blank of {width:g} x {height:g} mm or larger, or say less."
    )
    assert refusal.value.statement == "second-name"
    assert width == 60
    assert 0 < refusal.value.missing_mm <= height - 40


def test_a_symbol_too_wide_for_the_blank_is_named() -> None:
    narrow = Blank(name="narrow", width=30, height=150, dpi=203)
    facts = firm_tofu(symbols=(ean13("9521234000013"),))
    with pytest.raises(DoesNotFit) as refusal:
        lay_out(facts, market="eu", blank=narrow)
    assert refusal.value.statement == "symbol"
    assert "mm of width are missing" in str(refusal.value)


def test_a_printer_too_coarse_for_the_symbol_is_refused() -> None:
    symbol = gs1_128([("01", "09521234000013"), ("15", "261130"), ("10", "26328-01")])
    coarse = Blank(name="coarse", width=200, height=150, dpi=75)  # dots of 0.34 mm
    with pytest.raises(BadSymbol, match="neither between 0.495 and"):
        lay_out(firm_tofu(symbols=(symbol,)), market="us", blank=coarse)


@pytest.mark.parametrize("symbol", SYMBOLS, ids=[symbol.kind for symbol in SYMBOLS])
def test_a_net_quantity_takes_no_third_line_where_a_tighter_label_spares_it(symbol: Symbol) -> None:
    facts = firm_tofu(symbols=(symbol,), second_name="", second_language="")
    label = lay_out(facts, market="us", blank=blank_named("roll-60x80"))
    assert len({text.y for text in label.texts if text.statement == "net-quantity"}) <= 2


def test_small_text_of_a_tiny_pack_is_as_large_as_can_be_read_where_there_is_room() -> None:
    """Common practice, no source: 1.2 mm, although 0.9 mm would do (EU 1169/2011 Art. 13(3))."""
    tiny = firm_tofu(panel=rectangle(40, 24), lot="", symbols=(), second_name="")
    [least] = {s.least_mm for s in statements(tiny, "eu") if s.key == "contains"}
    row = next(r for r in explain(tiny, "eu", blank_named("roll-50x30")) if r.key == "contains")
    assert least == 0.9
    assert row.height_mm == pytest.approx(1.2, abs=0.06)


def test_several_symbols_stand_below_one_another(tmp_path: Path) -> None:
    facts = firm_tofu(symbols=(SYMBOLS[0], SYMBOLS[2]))
    label = lay_out(facts, market="us", blank=blank_named("roll-105x148"))
    printed = write_pdf(tmp_path / "two.pdf", [(label, 1)])  # reads both back
    assert printed.labels == 1
    lower, upper = sorted(label.symbols, key=lambda placed: placed.y)
    assert lower.y + lower.height < upper.y


@pytest.fixture
def logo(tmp_path: Path) -> Path:
    path = tmp_path / "wheel.png"
    picture = Image.new("L", (400, 200), 255)
    picture.paste(0, (50, 50, 350, 150))
    picture.save(path)
    return path


def test_a_logo_stands_at_the_top_right_in_its_own_proportion(logo: Path, tmp_path: Path) -> None:
    label = lay_out(firm_tofu(logo=str(logo)), market="us", blank=blank_named("roll-60x80"))
    assert label.picture is not None
    _, x, y, width, height = label.picture
    assert width == pytest.approx(2 * height)
    assert x + width <= label.blank.width * MM
    assert y > label.blank.height * MM / 2
    name = [text for text in label.texts if text.statement == "name"]
    assert all(text.x + text.width < x for text in name)
    write_pdf(tmp_path / "label.pdf", [(label, 1)])


@pytest.mark.parametrize(("content", "why"), [(None, "no such file"), (b"x", "no picture in")])
def test_a_logo_that_is_no_picture_is_refused(
    content: bytes | None, why: str, tmp_path: Path
) -> None:
    path = tmp_path / "wheel.png"
    if content:
        path.write_bytes(content)
    with pytest.raises(BadValue, match=why):
        lay_out(firm_tofu(logo=str(path)), market="us", blank=blank_named("roll-60x80"))


def test_a_logo_that_is_not_whole_or_gigantic_is_one_sentence(tmp_path: Path) -> None:
    noise = Image.effect_noise((600, 300), 90)
    noise.save(tmp_path / "noise.png")
    cut = tmp_path / "cut.png"
    cut.write_bytes((tmp_path / "noise.png").read_bytes()[:40_000])
    wide, huge, heavy = (tmp_path / name for name in ("wide.png", "huge.png", "heavy.png"))
    Image.new("1", (4000, 10)).save(wide)
    Image.new("1", (20_000, 20_000)).save(huge)  # some KiB that unfold into 400 million dots
    heavy.write_bytes(bytes(5 << 20))
    for path, why in (
        (cut, "the picture in that file is not whole"), (wide, "more than 3000 dots a side"),
        (huge, "more than 3000 dots a side"), (heavy, "it has more than 4 MiB"),
    ):  # fmt: skip
        with pytest.raises(BadValue, match=rf"^Cannot print the logo {path.name}: .*{why}"):
            lay_out(firm_tofu(logo=str(path)), market="us", blank=blank_named("roll-60x80"))


def test_an_unknown_market_is_refused() -> None:
    with pytest.raises(BadValue, match=r"there are no rules for it\. Use one of us, eu, house\."):
        lay_out(firm_tofu(), market="uk", blank=blank_named("roll-60x80"))


def test_the_same_facts_are_laid_out_the_same() -> None:
    def once() -> Label:
        return lay_out(firm_tofu(), market="us", blank=blank_named("roll-100x75"))

    assert once() == once()


def test_explain_gives_each_statement_its_rule_and_its_height_here() -> None:
    rows = explain(firm_tofu(), "us", blank_named("roll-60x80"))
    by_key = {row.key: row for row in rows}
    net = by_key["net-quantity"]
    assert net.clause == "21 CFR 101.7(e), (f), (i)"
    assert net.height_mm is not None
    assert net.height_mm >= net.least_mm == 3.175
    assert by_key["packed"].why_absent == "no packing date is given"
    assert by_key["packed"].height_mm is None
    assert all(row.clause for row in rows)
    assert all(row.text or row.why_absent for row in rows)


def test_explain_says_the_rules_even_where_nothing_fits() -> None:
    facts = firm_tofu(panel=rectangle(300, 300))
    for rows in (explain(facts, "us"), explain(facts, "us", blank_named("roll-40x25"))):
        assert {row.key for row in rows} >= {"name", "net-quantity", "maker"}
        assert all(row.height_mm is None for row in rows)
