"""What a label refuses is whole in another language: no piece of it stays English."""

from __future__ import annotations

import errno
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pdfplumber
import pytest

from counter.errors import NotFound
from counter.languages import language
from labels import Blank, blank_named, lay_out
from labels.elements import build_elements
from labels.errors import LabelError, answer_of
from labels.facts import Ingredient, Panel
from labels.facts_file import facts_from
from labels.pdf import build_pdf
from labels.rules.statement import title_of
from labels.say import say
from labels.scale import write_scale_check
from labels.scan import parse_scan
from labels.symbols import ean13
from tests.labels.shop import firm_tofu

SPANISH, GERMAN = language("es", "es_ES"), language("de", "de_DE")
SMALL = Blank(name="small", width=25.5, height=15)


def two_blanks() -> None:
    label, other = (
        lay_out(firm_tofu(), market="us", blank=blank_named(name))
        for name in ("roll-100x75", "roll-100x100")
    )
    build_pdf([(label, 1), (other, 1)])


@pytest.mark.parametrize(
    ("refused", "said"),
    [
        (
            lambda: lay_out(firm_tofu(), market="us", blank=blank_named("roll-60x40")),
            "No se puede hacer caber la etiqueta de «Firm Tofu» en roll-60x40: no hay sitio para "
            "«segundo nombre» con la altura que pide 21 CFR 101.15(c)(2), faltan ",
        ),
        (
            lambda: lay_out(firm_tofu(name="Firm ☃"), market="us", blank=SMALL),
            "No se puede escribir '☃' (U+2603, SNOWMAN) en «nombre»: ",
        ),
        (two_blanks, "No se puede imprimir «Firm Tofu 26328-01» en roll-100x100 y «Firm Tofu "),
        (lambda: ean13("12a"), "No se puede usar EAN-13 «12a»: no lleva solo cifras del 0 al 9."),
        (
            lambda: build_elements([("37", "12")]),
            "No se puede escribir (37) COUNT: por sí solo no dice nada. Ponga con él uno de estos: "
            "(00) y (02), o (00) y (8026).",
        ),
        (
            lambda: Panel("tapered", (Decimal(1),)),
            "No se puede medir una cara «tapered» con 1 números: se necesitan 3: alto, contorno "
            "mayor, contorno menor.",
        ),
        (
            lambda: Ingredient(name="salt", grams=Decimal("-0.5")),
            "No se puede pesar el ingrediente «salt» con -0,5 g: ",
        ),
        (
            lambda: facts_from({"name": "Tofu", "symbols": [{"kind": "code39"}]}),
            "No se puede hacer un código de tipo «code39»: no se conoce. Use uno de code128, ",
        ),
    ],
)
def test_a_refusal_of_a_label_is_spanish_in_all_its_parts(
    refused: Callable[[], object], said: str
) -> None:
    with pytest.raises(LabelError) as error:
        refused()
    assert SPANISH.shown(error.value).startswith(said)


def test_a_scan_is_described_in_the_language_of_who_reads_it() -> None:
    scan = parse_scan("]C1010952123400001315261129" + "1026328-01", year=2026)
    assert SPANISH.shown(scan.describe()) == (
        "Artículo GS1 09521234000013, lote 26328-01, consumir preferentemente antes del 29 nov 2026."
    )
    assert GERMAN.shown(scan.describe()).startswith("GS1-Artikel 09521234000013, Los 26328-01, ")


def test_the_test_page_says_its_measures_in_the_language_of_the_shop(tmp_path: Path) -> None:
    write_scale_check(tmp_path / "a.pdf", blank_named("roll-60x80"), "es", SPANISH.shown)
    with pdfplumber.open(tmp_path / "a.pdf") as pdf:
        text = pdf.pages[0].extract_text()
    assert "Esta línea mide 50 mm" in text
    assert "y la vertical 70 mm." in text


def test_near_names_are_offered_in_the_language_of_who_reads_them() -> None:
    error = NotFound(say("read a copy back"), "lot", "26328-09", ["26328-01", "26328-02"])
    assert SPANISH.shown(error).endswith(
        "no hay lote «26328-09». ¿Quiso decir 26328-02 o 26328-01?"
    )


def test_a_statement_has_a_title_of_its_own_and_not_that_of_a_role() -> None:
    assert SPANISH.shown(title_of("maker")) == "quién lo elabora"
    assert GERMAN.shown(title_of("net-quantity")) == "Nettofüllmenge"


def test_the_usual_answers_of_a_disk_are_translated_and_others_stand_as_they_are() -> None:
    assert SPANISH.shown(
        answer_of(FileNotFoundError(errno.ENOENT, "No such file or directory"))
    ) == ("no existe ese archivo ni esa carpeta")
    assert SPANISH.shown(answer_of(OSError(errno.EMLINK, "Too many links"))) == "too many links"
