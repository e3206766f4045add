"""``python -m labels FACTS.toml -o FILE.pdf``: labels without the shop."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from labels import Blank, Facts, blank_named, explain, lay_out, write_pdf
from labels.card import write_card
from labels.errors import LabelError
from labels.facts_file import read_facts, refuse_unsaid
from labels.files import write_whole
from labels.picture import png
from labels.reasons import Explained
from labels.rules import MARKETS
from labels.scale import write_scale_check


@click.command()
@click.argument("facts", required=False, type=click.Path(path_type=Path))
@click.option("-o", "--output", type=click.Path(path_type=Path), help="The PDF to write.")
@click.option("--market", type=click.Choice(MARKETS), default="us", show_default=True)
@click.option("--blank", "blank_name", default="roll-60x80", show_default=True)
@click.option("--dpi", type=int, help="Dots per inch of the printer, if not those of the blank.")
@click.option("--language", default="en", show_default=True)
@click.option("--second-face", type=click.Path(), help="TrueType file for the second language.")
@click.option("-n", "--count", default=1, show_default=True, help="Labels of each food.")
@click.option("--start", default=1, show_default=True, help="First free position on the sheet.")
@click.option("--used", default="", help="Positions of the first sheet to skip: 3,4,7.")
@click.option("--png", "png_path", type=click.Path(path_type=Path), help="First page as dots.")
@click.option("--explain", "explained", is_flag=True, help="Say which rule asks for what.")
@click.option("--card", is_flag=True, help="A counter card of all foods instead of labels.")
@click.option("--scale-check", is_flag=True, help="A test page with a ruler instead of labels.")
def main(facts: Path | None, blank_name: str, dpi: int | None, **wish: Any) -> None:
    """Print what the law asks of the food in FACTS on a blank label."""
    try:
        blank = blank_named(blank_name, dpi)
        if wish["scale_check"]:
            output = _needed(wish["output"])
            click.echo(f"{output}: the line is {write_scale_check(output, blank):g} mm long.")
            return
        if facts is None:
            raise click.UsageError("Name the file with the facts.")
        foods = read_facts(facts)
        if wish["explained"]:
            _explain(foods, blank, wish)
            return
        for food in foods if wish["market"] in ("us", "eu") else ():
            refuse_unsaid(food, wish["market"])
        if wish["card"]:
            _card(foods, wish)
        else:
            _print(foods, blank, wish)
    except LabelError as error:
        raise click.ClickException(str(error)) from error


def _how(wish: dict[str, Any]) -> dict[str, Any]:
    return {name: wish[name] for name in ("market", "language", "second_face")}


def _explain(foods: list[Facts], blank: Blank, wish: dict[str, Any]) -> None:
    for food in foods:
        for row in explain(food, blank=blank, **_how(wish)):
            click.echo(_row(row))


def _card(foods: list[Facts], wish: dict[str, Any]) -> None:
    output = _needed(wish["output"])
    pages = write_card(output, foods, **_how(wish))
    click.echo(f"{output}: {pages} page{'s' * (pages > 1)}.")


def _print(foods: list[Facts], blank: Blank, wish: dict[str, Any]) -> None:
    output = _needed(wish["output"])
    labels = [lay_out(food, blank=blank, **_how(wish)) for food in foods]
    runs = [(label, wish["count"]) for label in labels]
    printed = write_pdf(output, runs, start=wish["start"], used=_positions(wish["used"]))
    if wish["png_path"]:
        write_whole(wish["png_path"], png(output, blank.dpi))
    click.echo(f"{output}: labels {printed.labels}, pages {printed.pages}.")


def _positions(text: str) -> list[int]:
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if not all(part.isascii() and part.isdigit() for part in parts):
        raise click.UsageError(f"Positions are numbers with commas between, not '{text}'.")
    return [int(part) for part in parts]


def _needed(output: Path | None) -> Path:
    if output is None:
        raise click.UsageError("Say with -o which PDF to write.")
    return output


def _row(row: Explained) -> str:
    if row.why_absent:
        return f"{row.key}: absent, {row.why_absent}. [{row.clause}]"
    height = "" if row.height_mm is None else f", {row.height_mm:.2f} mm here"
    least = f"least {row.least_mm:.2f} mm on '{row.glyph}'" if row.least_mm else "no least height"
    return f"{row.key}: {row.text} [{row.clause}; {least}{height}]"


if __name__ == "__main__":
    main(prog_name="python -m labels")
