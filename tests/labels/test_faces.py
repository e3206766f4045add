"""Faces: what cannot be written is refused before anything is drawn, and heights are true."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from msgspec.structs import replace

from labels import blank_named, lay_out, write_pdf
from labels.errors import BadValue, NoGlyph
from labels.fonts import Face, face_from, house_faces
from tests.labels.paper import by_statement
from tests.labels.shop import GYPSUM, SOYBEANS, WATER, cjk_face, firm_tofu

HOUSE = house_faces()


FACES: dict[str, Callable[[], Face]] = {
    "regular": lambda: HOUSE.regular,
    "bold": lambda: HOUSE.bold,
    "Chinese": lambda: face_from(cjk_face()),
}


@pytest.mark.parametrize("name", FACES)
@pytest.mark.parametrize("glyph", ["o", "x", "H", "1", "℮", "国"])
def test_heights_are_those_of_the_outline(name: str, glyph: str) -> None:
    """fontTools reads the same file by other code."""
    face = FACES[name]()
    file = TTFont(face.path)
    found = file.getBestCmap().get(ord(glyph)) or file.getBestCmap().get(ord("国"))
    if found is None:
        with pytest.raises(BadValue, match="has no outline"):
            face.height(glyph)
        return
    outline = file["glyf"][found]
    expected = (outline.yMax - outline.yMin) / file["head"].unitsPerEm
    assert face.height(glyph) == pytest.approx(expected, abs=1e-9)


def test_the_round_o_is_higher_than_the_flat_x() -> None:
    assert HOUSE.regular.height("o") > HOUSE.regular.height("x")


def test_widths_are_those_of_the_font() -> None:
    file = TTFont(HOUSE.regular.path)
    text = "Kräftig geräucherter Tofu, 14 oz"
    advances = sum(file["hmtx"][file.getBestCmap()[ord(c)]][0] for c in text)
    assert HOUSE.regular.width(text, 1000) == pytest.approx(advances, abs=1)


@pytest.mark.parametrize(
    ("character", "why"),
    [
        ("豆", "no face of this label has it"),  # no second face is given
        ("김", "no face of this label has it"),
        ("😀", "no face of this label has it"),
        ("\u0007", "no face of this label has it"),
        ("ט", "scripts written from right to left are not set here"),
        ("ت", "scripts written from right to left are not set here"),
        ("ट", "its script joins or stacks letters, which is not set here"),
        ("ก", "its script joins or stacks letters, which is not set here"),
        ("x\u0323", "a mark that stands on another letter is not set here"),
    ],
)
@pytest.mark.parametrize("field", ["name", "second_name", "handling", "lot"])
def test_a_character_no_face_has_is_named_with_its_code_and_statement(
    field: str, character: str, why: str
) -> None:
    facts = firm_tofu(**{field: f"Tofu {character}", "symbols": ()})
    with pytest.raises(NoGlyph) as refusal:
        lay_out(facts, market="us", blank=blank_named("roll-100x100"))
    sentence = str(refusal.value)
    assert f"(U+{ord(character[-1]):04X}, " in sentence
    assert f"in the {field.replace('_', ' ')}: {why}. " in sentence


def test_the_whole_sentence_of_a_missing_character() -> None:
    with pytest.raises(NoGlyph) as refusal:
        HOUSE.split("Tofu 豆", bold=True, statement="second-name")
    assert str(refusal.value) == (
        "Cannot write '豆' (U+8C46, CJK UNIFIED IDEOGRAPH-8C46) in the second name: no face of this "
        "label has it. Give a TrueType face that has it as second face, or write it otherwise."
    )


def test_a_decomposed_letter_is_written_as_the_one_that_has_the_mark() -> None:
    decomposed = unicodedata.normalize("NFD", "Đậu phụ")
    [(face, text)] = HOUSE.split(decomposed, bold=False, statement="name")
    assert (face, text) == (HOUSE.regular, "Đậu phụ")


def test_nothing_of_a_mixed_text_vanishes_from_the_page(tmp_path: Path) -> None:
    """A drawing library may drop a text whole when one character of it has no glyph."""
    mixed = "豆腐 €9,90 Žižka"
    label = lay_out(
        firm_tofu(second_name=mixed),
        market="us",
        blank=blank_named("roll-60x80"),
        second_face=cjk_face(),
    )
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    found = {key: text for key, text, _ in by_statement(tmp_path / "label.pdf", label)}
    assert found["second-name"] == mixed


def test_a_second_language_wraps_between_its_characters(tmp_path: Path) -> None:
    named = (
        replace(WATER, second="饮用水"),
        replace(SOYBEANS, second="非转基因有机黄大豆"),
        replace(GYPSUM, second="食品添加剂硫酸钙凝固剂"),
    )
    facts = firm_tofu(second_name="老豆腐", second_language="zh", ingredients=named)
    label = lay_out(facts, market="us", blank=blank_named("roll-60x80"), second_face=cjk_face())
    lines = {text.y for text in label.texts if text.statement == "second-ingredients"}
    assert len(lines) >= 2
    firsts = [text.text[0] for text in label.texts if text.statement == "second-ingredients"]
    assert not set(firsts) & set("、。：")  # no line begins with a mark that closes
    write_pdf(tmp_path / "label.pdf", [(label, 1)])
    assert "second-ingredients" in {k for k, _, _ in by_statement(tmp_path / "label.pdf", label)}


def test_a_file_that_is_no_truetype_face_is_refused(tmp_path: Path) -> None:
    broken = tmp_path / "broken.ttf"
    broken.write_bytes(b"OTTO" + bytes(200))
    with pytest.raises(BadValue, match=r"^Cannot use the face broken\.ttf: it cannot be read as"):
        face_from(broken)
    with pytest.raises(BadValue, match=r"^Cannot use the face none\.ttf: there is no such file\."):
        face_from(tmp_path / "none.ttf")
