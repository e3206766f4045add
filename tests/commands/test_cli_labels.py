"""Labels as they are asked for on the command line: by weight, and as dots."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from tests.commands.conftest import CommandLine
from tests.conftest import CATALOGUE
from tests.shop.printer import Cups, cups, dots_of, running_cups

__all__ = ["cups", "running_cups"]

LOT = "26328-04"


@pytest.fixture
def pressed(line: CommandLine) -> CommandLine:
    line.done("batch", "pressed", "--made", "4 kg", "--boiled", "10min")
    return line


def texts_on(path: Path) -> set[str]:
    with Image.open(path) as picture:
        found = zxingcpp.read_barcodes(picture.convert("L"), text_mode=zxingcpp.TextMode.Plain)
    return {code.text for code in found}


def test_a_label_for_each_weight_is_printed_and_recorded(pressed: CommandLine) -> None:
    said = pressed.done("labels", LOT, "--weight", "0.42lb", "--weight", "0.38lb")
    assert said == f"2 labels on 2 pages: {pressed.folder / 'labels' / f'{LOT}-203dpi.pdf'}\n"
    assert "2 labels printed in 1 run\n" in pressed.done("trace", LOT)


def test_a_pack_is_sold_by_the_number_on_its_picture(pressed: CommandLine, tmp_path: Path) -> None:
    file = tmp_path / "pack.png"
    said = pressed.done("labels", LOT, "--weight", "0.42lb", "--png", str(file), "--dpi", "300")
    assert said.endswith(f"First page as dots, 300 an inch: {file}\n")
    with Image.open(file) as picture:
        assert (picture.mode, picture.size) == ("1", (1182, 886))
    (number,) = texts_on(file) - {LOT}
    told = json.loads(pressed.done("sell", number, "--card", "--json"))
    assert (told["total"], told["lines"][0]["weight"]) == (374, "0.42 lb")


@pytest.mark.parametrize(("dpi", "width"), [("203", 800), ("300", 1182), ("600", 2363)])
def test_the_picture_has_the_dots_of_the_printer(
    line: CommandLine, tmp_path: Path, dpi: str, width: int
) -> None:
    file = tmp_path / "label.png"
    told = json.loads(
        line.done("labels", "26328-01", "-n", "1", "--png", str(file), "--dpi", dpi, "--json")
    )
    assert told["dpi"] == int(dpi)
    with Image.open(file) as picture:
        assert (picture.mode, picture.width) == ("1", width)
    assert texts_on(file) == {"26328-01", "9521234000013"}


def test_explain_says_what_a_weighed_pack_costs(pressed: CommandLine) -> None:
    said = pressed.done("labels", LOT, "--weight", "0.42lb", "--weight", "0.38lb", "--explain")
    assert "$8.90/lb · Total $3.74" in said
    assert "$8.90/lb · Total $3.38" in said
    assert pressed.done("trace", LOT).count("0 labels printed in 0 runs") == 1


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            ["--weight", "0.42 stone"],
            "Cannot read mass '0.42 stone': the unit 'stone' is not known",
        ),
        (["--weight", "heavy"], "Cannot read mass 'heavy': it is not a number with a unit"),
        (["--weight", "0.4l"], "Cannot read mass '0.4l': the unit 'l' is not known here"),
        (["--weight", "0.42lb", "-n", "2"], "Cannot print labels by weight: there is one for each"),
        (["--weight", "250lb"], "that weighs 250 lb: that is no weight of a pack. Weigh it again."),
        (["--weight", "12lb"], "its number has no room for price. Sell it in smaller packs"),
        (["--png", "/no/such/folder/a.png"], "Cannot write a.png in /no/such/folder: "),
    ],
)
def test_what_cannot_be_printed_by_weight_is_refused(
    pressed: CommandLine, words: list[str], sentence: str
) -> None:
    result = pressed.run("labels", LOT, *words)
    assert result.exit_code != 0
    assert sentence in result.stderr
    assert result.stderr.startswith("Cannot ")


def test_a_block_is_not_labelled_by_weight(line: CommandLine) -> None:
    sentence = line.refused(1, "labels", "26328-01", "--weight", "0.42lb")
    assert "Cannot label a pack of Firm Tofu that weighs 0.42 lb: it is not sold by" in sentence


def test_labels_and_a_recall_sheet_printed_again_say_their_new_names(line: CommandLine) -> None:
    assert "26328-01-203dpi.pdf" in line.done("labels", "26328-01")
    assert "26328-01-203dpi-2.pdf" in line.done("labels", "26328-01")
    assert "recall-26328-01.pdf" in line.done("recall", "26328-01")
    assert "recall-26328-01-2.pdf" in line.done("recall", "26328-01")


def test_a_frozen_product_is_labelled_as_frozen_and_half_a_language_is_refused(
    line: CommandLine, tmp_path: Path
) -> None:
    """Food Code 3-501.11; 21 CFR 101.15(c)(2)."""
    file = tmp_path / "catalogue.toml"
    frozen = CATALOGUE.replace("[products.firm]\n", '[products.firm]\nheld = "frozen"\n')
    file.write_text(frozen, "utf-8")
    line.done("catalogue", "load", str(file))
    settings = line.folder / "shop.toml"
    chest = '\n[holding]\nfridge = "cold"\nchest = "freezer"\n'
    settings.write_text(settings.read_text("utf-8") + chest, "utf-8")
    line.done("batch", "firm", "--made", "48", "--boiled", "10min")
    line.done("move", "26328-04", "chest")
    said = line.done("labels", "26328-04", "--explain")
    assert "Frozen on Nov 24, 2026" in said
    assert "Keep frozen at 0 °F (−18 °C) or below." in said
    assert "refrigerated" not in said
    assert "PESO NETO" in said
    file.write_text(frozen.replace('second_name = "Soya"\n', ""), "utf-8")
    line.done("catalogue", "load", str(file))
    assert line.refused(1, "labels", "26328-04").startswith(
        "Cannot print the second name 'Tofu firme' of 'Firm Tofu': half a language does not stand"
    )


def test_a_label_goes_to_a_printer_with_its_size_and_a_stopped_one_is_said(
    line: CommandLine, cups: Cups
) -> None:
    out = cups.queue("roll")
    said = line.done("labels", "26328-01", "-n", "1", "--print", "roll")
    assert "26328-01-203dpi.pdf\n" in said
    assert "request id is roll-" in said
    assert texts_on_dots(out) == {"26328-01", "9521234000013"}
    cups.run("cupsdisable", "-r", "out of labels", "roll")
    result = line.run("labels", "26328-01", "-n", "1", "--print", "roll")
    assert result.exit_code == 1
    assert "on 'roll': it is stopped (out of labels). The PDF is kept: print " in result.stderr
    assert "request id" not in result.output


def texts_on_dots(file: Path) -> set[str]:
    found = zxingcpp.read_barcodes(dots_of(file), text_mode=zxingcpp.TextMode.Plain)
    return {code.text for code in found}
