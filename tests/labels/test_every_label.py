"""Laws that every label obeys, whatever the food and the blank; measured on the printed page."""

from __future__ import annotations

import tempfile
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, assume, given
from msgspec.structs import replace

from labels import Blank, Facts, Label, blank_named, lay_out, write_pdf
from labels.errors import DoesNotFit
from labels.fonts import MM
from labels.placed import Rectangle
from labels.symbols import Symbol
from tests.labels.paper import Ink, by_statement, glyph_height_mm, inks, outline
from tests.labels.shop import BLANKS, FOODS, SMALL_BLANKS, SYMBOLS, firm_tofu
from tests.often import examples

# Each example draws, reads and measures a page: a failing one is shown as found, not shrunk.
CALM = examples(
    25,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)


def refusal_of(facts: Facts, market: str, blank: Blank) -> DoesNotFit | None:
    try:
        lay_out(facts, market=market, blank=blank)
    except DoesNotFit as refusal:
        return refusal
    return None


def laid_out(facts: Facts, market: str, blank: Blank) -> Label:
    """The label, on the least blank that would do if it does not fit this one."""
    refusal = refusal_of(facts, market, blank)
    if refusal:
        assert refusal.missing_mm > 0
        assert refusal.least_mm is not None
        width, height = refusal.least_mm
        blank = replace(blank, width=width, height=height)
    return lay_out(facts, market=market, blank=blank)


def printed(label: Label) -> list[tuple[str, str, list[Ink]]]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "label.pdf"
        write_pdf(path, [(label, 1)])  # reads every symbol back, too
        found = list(by_statement(path, label))
        said = {ink for _, _, characters in found for ink in characters}
        return [*found, ("symbol", "", [ink for ink in inks(path) if ink not in said])]


def check_heights(label: Label, found: list[tuple[str, str, list[Ink]]]) -> None:
    least = {s.key: s for s in label.statements}
    for key, _, characters in found:
        if key == "symbol":
            continue
        statement = least[key]
        for ink in characters:
            if statement.glyph == "1" and not ink.character.isdigit():
                continue  # 76/211/EEC speaks of the figures
            height = glyph_height_mm(ink, statement.glyph)
            assert height >= statement.least_mm - 1e-3, (key, ink.character, height)


def check_places(label: Label, found: list[tuple[str, str, list[Ink]]]) -> None:
    everything = [(key, ink) for key, _, characters in found for ink in characters]
    rim = label.blank.keep_clear - 0.15  # a round letter overshoots, and a symbol steps to its grid
    for key, ink in everything:
        assert ink.left >= rim, (key, ink)
        assert ink.top >= rim, (key, ink)
        assert ink.right <= label.blank.width - rim, (key, ink)
        assert ink.bottom <= label.blank.height - rim, (key, ink)
    for (key, one), (other_key, other) in combinations(everything, 2):
        same_line = key == other_key and abs(one.baseline - other.baseline) < 0.01
        assert same_line or not one.meets(other), (key, one, other_key, other)
    for symbol in label.symbols:
        top = label.blank.height - (symbol.y + symbol.height) / MM
        left, width, height = symbol.x / MM, symbol.width / MM, symbol.height / MM
        assert left >= 0
        assert left + width <= label.blank.width
        box = Ink("", "", 0, 0, left, top, left + width, top + height)
        assert not [ink for _, ink in everything if ink.meets(box, 0.05)]


def bar_box(bar: Rectangle, height: float) -> Ink:
    left, right = bar.x / MM, (bar.x + bar.width) / MM
    return Ink("", "", 0, 0, left, height - (bar.y + bar.height) / MM, right, height - bar.y / MM)


def check_net_quantity(label: Label, found: list[tuple[str, str, list[Ink]]]) -> None:
    """21 CFR 101.7(f): bottom 30 %, clear by its height above and below, by 2 N at the sides."""
    [net] = [s for s in label.statements if s.key == "net-quantity"]
    [ours] = [characters for key, _, characters in found if key == "net-quantity"]
    if net.placement.startswith("bottom"):
        assert min(ink.top for ink in ours) >= 0.7 * label.blank.height - 0.01
    size, font = ours[0].size, ours[0].font
    capital = outline(font, "H")[3] * size / MM
    n_width = (outline(font, "N")[2] - outline(font, "N")[0]) * size / MM
    left, right = min(i.left for i in ours), max(i.right for i in ours)
    baseline = max(ink.baseline for ink in ours)
    top = min(ink.baseline for ink in ours) - capital
    zone = Ink("", "", 0, 0, left - 2 * n_width, top - 1e-3, right + 2 * n_width, baseline + 1e-3)
    above = Ink("", "", 0, 0, left, top - capital, right, baseline + capital)
    for key, _, characters in found:
        for ink in characters:
            if key != "net-quantity":
                assert not ink.meets(zone), (key, ink, zone)
                assert not ink.meets(above), (key, ink, above)
    for symbol in label.symbols:
        for bar in symbol.bars:
            box = bar_box(bar, label.blank.height)
            assert not box.meets(zone), (symbol.symbol.kind, zone)
            assert not box.meets(above), (symbol.symbol.kind, above)


@CALM
@given(facts=FOODS, blank=BLANKS)
def test_a_us_label_is_whole_legible_and_apart_or_names_the_blank_that_would_do(
    facts: Facts, blank: Blank
) -> None:
    label = laid_out(facts, "us", blank)
    found = printed(label)
    check_heights(label, found)
    check_places(label, found)
    check_net_quantity(label, found)


@pytest.mark.parametrize("symbol", SYMBOLS, ids=[symbol.kind for symbol in SYMBOLS])
@pytest.mark.parametrize("blank", ["roll-60x80", "roll-100x60", "roll-100x75", "roll-105x148"])
def test_what_stands_below_the_bars_keeps_clear_of_the_net_quantity_and_the_rim(
    symbol: Symbol, blank: str
) -> None:
    """21 CFR 101.7(f), of the digits beside EAN and UPC bars as of any other print."""
    facts = firm_tofu(symbols=(symbol,), second_name="", second_language="")
    label = lay_out(facts, market="us", blank=blank_named(blank))
    found = printed(label)
    check_places(label, found)
    check_net_quantity(label, found)


@CALM
@given(facts=FOODS, blank=BLANKS)
def test_an_eu_label_is_whole_legible_and_apart_or_names_the_blank_that_would_do(
    facts: Facts, blank: Blank
) -> None:
    label = laid_out(facts, "eu", blank)
    found = printed(label)
    check_heights(label, found)
    check_places(label, found)


@CALM
@given(facts=FOODS, blank=BLANKS)
def test_the_name_is_the_most_prominent_text_of_a_pack(facts: Facts, blank: Blank) -> None:
    """21 CFR 101.3(d) asks for a size reasonably related to the most prominent print."""
    label = laid_out(facts, "us", blank)
    name = label.size_of("name") or 0
    others = [t.size for t in label.texts if t.statement not in ("name", "date")]
    assert name >= max(others)
    assert all(t.face.name.endswith("bold") for t in label.texts if t.statement == "name")


@CALM
@given(facts=FOODS, blank=SMALL_BLANKS)
def test_a_blank_a_millimetre_smaller_than_the_least_is_refused(facts: Facts, blank: Blank) -> None:
    refusal = refusal_of(facts, "eu", blank)
    assume(refusal is not None and refusal.least_mm is not None)
    assert refusal is not None
    assert refusal.least_mm is not None
    width, height = refusal.least_mm
    if width > blank.width:
        smaller = replace(blank, width=width - 1.01, height=height)
    else:
        smaller = replace(blank, height=height - 1.01)
    with pytest.raises(DoesNotFit):
        lay_out(facts, market="eu", blank=smaller)
