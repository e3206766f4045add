"""The commands that report and plan, as typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from counter.cli import main
from tests.reports.conftest import LAST


def run(folder: Path, *words: str) -> Result:
    result = CliRunner().invoke(main, ["--shop", str(folder), *words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.mark.parametrize("kind", ["week", "month", "year"])
def test_a_span_is_told_written_and_given_as_json(
    week_folder: Path, tmp_path: Path, kind: str
) -> None:
    told = run(week_folder, kind, str(LAST))
    assert told.exit_code == 0
    assert "Firm Tofu" in told.stdout
    pdf, csv = tmp_path / "a.pdf", tmp_path / "a.csv"
    done = run(week_folder, kind, str(LAST), "--pdf", str(pdf), "--csv", str(csv), "--json")
    assert json.loads(done.stdout)["kind"] == kind
    assert pdf.read_bytes().startswith(b"%PDF")
    assert csv.read_text("utf-8").startswith("section,item,figure,value\n")
    over = run(week_folder, kind, str(LAST), "--csv", str(pdf))
    assert over.stderr.startswith("Cannot write a.pdf: there is such a file")
    assert pdf.read_bytes().startswith(b"%PDF")


def test_a_day_is_written_as_the_report_that_was_kept(week_folder: Path, tmp_path: Path) -> None:
    pdf, csv = tmp_path / "day.pdf", tmp_path / "day.csv"
    done = run(week_folder, "day", str(LAST), "--pdf", str(pdf), "--csv", str(csv))
    assert (done.exit_code, done.stdout) == (0, f"Written: {pdf}\nWritten: {csv}\n")
    assert pdf.read_bytes() == (week_folder / "reports" / f"{LAST}.pdf").read_bytes()


def test_the_plan_is_told_and_given_as_json(week_folder: Path) -> None:
    told = run(week_folder, "plan", "2026-11-24")
    assert told.exit_code == 0
    assert "Plan for Tuesday 2026-11-24" in told.stdout
    assert "of dry beans tonight." in told.stdout
    assert json.loads(run(week_folder, "plan", "2026-11-24", "--json").stdout)["products"]


@pytest.mark.parametrize(
    ("words", "status", "sentence"),
    [
        (("week", "2020-01-01"), 1, "Cannot add up the week: there is no closed day"),
        (("week", "monday"), 2, "Cannot read date 'monday'"),
        (("day", "2020-01-01", "--pdf", "x.pdf"), 1, "there is no day book '2020-01-01'"),
        (("plan", "2026-11-24", "--backtest"), 2, "a replay is of all days"),
        (("plan", "2031-01-01"), 2, "it is more than a year ahead"),
        (("year", str(LAST), "--pdf", "/no/such/folder/x.pdf"), 1, "Cannot write x.pdf in"),
    ],
)
def test_what_cannot_be_reported_is_refused_in_one_sentence(
    week_folder: Path, words: tuple[str, ...], status: int, sentence: str
) -> None:
    result = run(week_folder, *words)
    assert (result.exit_code, result.stdout) == (status, "")
    assert sentence in result.stderr
