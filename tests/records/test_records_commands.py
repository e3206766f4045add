"""The commands of an evening: backup, restore, export, recall, temperature, inspect, correct."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pdfplumber
import pytest
from click.testing import CliRunner, Result

from counter.cli import main
from counter.commands.safety import signed
from counter.shop import Shop
from tests.conftest import ShopInHand
from tests.lines import spoil


class Typed:
    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self, *words: str, status: int = 0) -> Result:
        done = CliRunner().invoke(main, ["--shop", str(self.folder), *words])
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        assert done.exit_code == status, done.output
        return done


@pytest.fixture
def typed(hand: ShopInHand, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Typed:
    open_shop = Shop.open.__func__  # type: ignore[attr-defined]
    opened = classmethod(
        lambda cls, folder, clock=None: open_shop(cls, folder, clock or hand.clock)
    )
    monkeypatch.setattr(Shop, "open", opened)
    for name in ("COUNTER_SHOP", "COUNTER_BY"):
        monkeypatch.delenv(name, raising=False)
    return Typed(tmp_path / "shop")


def test_backup_and_restore(typed: Typed, stick: Path, tmp_path: Path) -> None:
    said = typed("backup", "--no-wheels", "--to", str(stick)).stdout
    (archive,) = stick.iterdir()
    assert said.startswith(f"Backup written and read back: {archive}, ")
    back = typed("restore", str(archive), str(tmp_path / "back")).stdout
    assert " lines read, 0 findings.\nIt is of 2026-11-26" in back
    assert "; what was sold since is not in it.\n" in back
    assert "What is written down first asks which numbers are out" in back
    refused = typed("restore", str(archive), str(tmp_path / "back"), status=1).stderr
    assert refused == (
        f"Cannot restore {archive.name} into '{tmp_path / 'back'}': it is not an empty folder."
        " Name a new or an empty folder.\n"
    )
    made = json.loads(typed("backup", "--no-wheels", "--to", str(stick), "--json").stdout)
    assert made["path"] == str(archive)


def test_restoring_a_damaged_shop_names_the_line_and_ends_with_1(
    typed: Typed, stick: Path, tmp_path: Path
) -> None:
    spoil(typed.folder, "2026-11-25", "AF-47", "AF-48")
    typed("backup", "--no-wheels", "--to", str(stick), status=1)  # made, and said to be damaged
    (archive,) = stick.iterdir()
    done = typed("restore", str(archive), str(tmp_path / "back"), status=1)
    assert "Line 1 of book 2026-11-25 is damaged" in done.stderr


def test_the_last_resort_is_one_command(typed: Typed, stick: Path, tmp_path: Path) -> None:
    typed("backup", "--no-wheels", "--to", str(stick))
    (archive,) = stick.iterdir()
    archive.write_bytes(archive.read_bytes()[:-1] + b"?")
    into = str(tmp_path / "back")
    assert (
        "its bytes are not those that were" in typed("restore", str(archive), into, status=1).stderr
    )
    done = typed("restore", "--lines", str(archive), into)
    assert "0 findings" in done.stdout
    assert "Its books are built up from" in done.stdout
    assert typed("restore", "--lines", str(stick), f"{into}2", status=1).stderr.startswith(
        f"Cannot restore stick into '{into}2': there are no lines of a shop's books in it"
    )


def test_closing_says_in_one_sentence_whether_a_copy_was_made(typed: Typed, stick: Path) -> None:
    toml = typed.folder / "shop.toml"
    toml.write_text(f"{toml.read_text('utf-8')}\n[backup]\nfolder = '{stick}'\n", "utf-8")
    typed("drawer", "float", "150.00")
    done = typed("close", "--cash", "150.00")
    assert "Day 2026-11-26 is sealed." in done.stdout
    assert done.stderr.startswith("Backup written and read back: ")
    (page,) = (p.name for p in stick.iterdir() if p.suffix != ".zip")
    (copy,) = stick.glob("*.zip")
    assert copy.name.startswith(page.removesuffix(" READ ME.txt") + "-2026-")


def test_closing_stands_when_the_stick_is_not_in(typed: Typed, stick: Path) -> None:
    toml = typed.folder / "shop.toml"
    toml.write_text(f"{toml.read_text('utf-8')}\n[backup]\nfolder = '{stick / 'no'}'\n", "utf-8")
    typed("drawer", "float", "150.00")
    done = typed("close", "--cash", "150.00", "--json")
    assert json.loads(done.stdout)["day"] == "2026-11-26"
    assert done.stderr.startswith("The day is closed, but no backup was made. Cannot back up into")


@pytest.mark.parametrize(
    "command", [("export", "sales"), ("export", "closings"), ("inspect",)], ids=" ".join
)
def test_days_that_end_before_they_begin_are_refused_with_nothing_printed(
    typed: Typed, command: tuple[str, ...]
) -> None:
    refused = typed(*command, "--from", "2026-11-25", "--to", "2026-11-24", status=2)
    assert (refused.stdout, refused.stderr) == ("", (
        "Cannot read days: the range from 2026-11-25 to 2026-11-24 ends before it begins. "
        "Write the earlier day first.\n"
    ))  # fmt: skip


def test_export_prints_csv_or_writes_files(typed: Typed, tmp_path: Path) -> None:
    done = typed("export", "waste", "--from", "2026-11-24", "--to", "2026-11-24")
    rows = list(csv.DictReader(io.StringIO(done.stdout_bytes.decode(), newline="")))
    assert [r["amount"] for r in rows if r["lot"] == "26328-01"] == ["2", "1"]
    assert done.stdout_bytes.endswith(b"\r\n")
    typed("export", "all", "-o", str(tmp_path / "out"))
    assert (tmp_path / "out" / "columns.md").read_text("utf-8") == typed(
        "export", "--columns"
    ).stdout
    typed("export", "waste", "-o", str(tmp_path / "w.parquet"))
    assert (tmp_path / "w.parquet").read_bytes()[:4] == b"PAR1"
    assert "no kind is named" in typed("export", status=2).stderr
    assert "Name a file or folder with -o" in typed("export", "all", status=2).stderr
    assert "Did you mean waste?" in typed("export", "wast", "-o", "x", status=1).stderr


def test_a_lake_is_added_to_and_says_which_days(typed: Typed, tmp_path: Path) -> None:
    lake = str(tmp_path / "lake")
    first, second = typed("export", "--lake", lake).stdout.splitlines()
    assert first == "Days added: 2, 2026-11-24 to 2026-11-25."
    assert re.fullmatch(rf"Rows: [0-9]+, in [0-9]+ files of {lake}\.", second)
    said = typed("export", "all", "--lake", lake).stdout
    assert said == "Nothing is new: every closed day is in it.\n"
    typed("sell", "firm-block", "--card")
    typed("close")
    assert typed("export", "--lake", lake).stdout.startswith("Days added: 1, 2026-11-26 to 2026-")
    typed("close", "--reopen", "--because", "one more came")
    gone = typed("export", "--lake", lake).stdout
    assert gone == "2026-11-26 is open again; it is taken out until it is closed.\n"
    typed("close")
    assert typed("export", "--lake", lake).stdout.startswith("Days added: 1, 2026-11-26 to 2026-")
    typed("close", "--reopen", "--because", "one more came")
    typed("close")
    again = typed("export", "--lake", lake).stdout
    assert again.startswith("2026-11-26 was closed again since; its file is written anew.\nRows: ")
    refused = typed("export", "sales", "--lake", lake, status=2).stderr
    assert refused == (
        f"Cannot add to the lake {lake}: all kinds of all closed days go there. Leave kind, days "
        "and -o out.\n"
    )


def test_recall_draws_a_sheet_and_a_drill_draws_none(typed: Typed, tmp_path: Path) -> None:
    done = typed("recall", "26328-01", "--drill").stdout
    assert "Accounted for in number: 95 of 96 Firm Tofu, 9 of it by assumption; 8 of 8" in done
    assert "Drill: traced in " in done
    assert not list(typed.folder.glob("reports/recall*"))
    typed("recall", "26328-01")
    assert (typed.folder / "reports" / "recall-26328-01.pdf").read_bytes()[:5] == b"%PDF-"
    typed("recall", "--code", "AF-46", "--csv", str(tmp_path / "r.csv"))
    assert b"26328-03" in (tmp_path / "r.csv").read_bytes()
    both = (
        "recall",
        "26328-01",
        "--pdf",
        str(tmp_path / "r.pdf"),
        "--csv",
        str(tmp_path / "r.csv"),
    )
    assert "Cannot write r.csv: there is such a file" in typed(*both, status=1).stderr
    assert not (tmp_path / "r.pdf").exists()
    assert json.loads(typed("recall", "26328-01", "--json").stdout)["asked"] == ["26328-01"]
    assert "no lot is named" in typed("recall", status=1).stderr


def test_trace_takes_several_lots(typed: Typed) -> None:
    said = typed("trace", "26328-01", "26328-03").stdout
    assert "Lot 26328-01: 96" in said
    assert "Lot 26328-03: 8" in said
    assert json.loads(typed("trace", "26328-01", "--json").stdout)["lot"] == "26328-01"
    both = json.loads(typed("trace", "26328-01", "26328-03", "--json").stdout)
    assert [t["lot"] for t in both] == ["26328-01", "26328-03"]


def test_a_temperature_out_of_limits_says_what_to_do(typed: Typed) -> None:
    assert typed("temperature", "fridge", "4C").stdout == "fridge: 39.2 °F, as it must be.\n"
    done = typed("temperature", "fridge", "48F", "--by", "Ida", "--note", "door was open")
    assert done.stdout == "fridge: 48 °F, OUT OF LIMITS.\n"
    assert done.stderr.startswith("fridge must keep 5 °C / 41 °F or below. Measure the food itself")
    listed = typed("temperature").stdout.splitlines()
    assert [line.split()[2:5] for line in listed] == [
        ["fridge", "39.2", "°F"],
        ["fridge", "48", "°F"],
    ]
    assert listed[1].endswith("OUT OF LIMITS  door was open  Ida")
    assert "no temperature is given" in typed("temperature", "fridge", status=2).stderr
    typed("temperature", "fridge", "warm", status=2)


def test_a_thermometer_is_checked_in_ice_water(typed: Typed) -> None:
    said = typed("temperature", "probe 1", "33F", "--calibration", "ice", "--by", "Ida").stdout
    assert said.endswith("Thermometer probe 1 in ice water: 33 °F, right\n")
    wrong = typed("temperature", "probe 2", "97C", "--calibration", "boiling")
    assert "NOT RIGHT" in wrong.stdout
    assert wrong.stderr.startswith("probe 2 is more than 1 °C off. Set it right")
    assert len(typed("temperature").stdout.splitlines()) == 3
    typed("temperature", "probe 1", "33F", "--calibration", "tea", status=2)


def test_correct_says_what_follows_and_what_does_not(typed: Typed) -> None:
    said = typed(
        "correct", "2026-11-25", "--lot", "26329-01", "--amount", "-2", "--because", "two fell"
    ).stdout
    assert said == (
        "Correction 2026-11-26/C01 of day 2026-11-25: two fell\n"
        "Lot 26329-01: 2 less on hand from now on; today's closing shows it as variance.\n"
        "Closed day 2026-11-25 itself is not changed; reports of both show it.\n"
    )
    said = typed("correct", "2026-11-25", "--cash", "-20", "--because", "paid the ice man").stdout
    assert "On record: drawer -$20.00.\nToday's drawer stays as it is." in said
    refused = typed(
        "correct", "2026-11-25", "--money", "-5.00", "--because", "under the tray", status=2
    ).stderr
    assert "what was taken changes only with the sale it was taken in. Name it, with --sale" in (
        refused
    )
    assert "no reason is given" in typed("correct", "2026-11-25", status=2).stderr
    said = typed(
        "correct", "2026-11-25", "--sold", "firm-block@26329-01*2", "--when", "15:10",
        "--because", "on the slip",
    ).stdout  # fmt: skip
    assert "On record: sold 2 x Firm block, at 15:10, -2, +$6.50 taken, drawer +$6.50." in said
    said = typed(
        "correct", "2026-11-25", "--temperature", "fridge", "9C", "--when", "16:00",
        "--because", "on the door",
    ).stdout  # fmt: skip
    assert "On record: fridge 48.2 °F OUT OF LIMITS, at 16:00.\nfridge must keep" in said
    assert "the time is missing" in typed(
        "correct", "2026-11-25", "--temperature", "fridge", "9C", "--because", "x", status=2
    ).stderr  # fmt: skip
    for day, title in (("2026-11-25", "Corrected since:"), ("2026-11-26", "Corrections of earl")):
        shown = typed("day", day).stdout
        assert title in shown
        assert "drawer -$20.00; paid the ice man" in shown
        assert "fridge 48.2 °F OUT OF LIMITS, at 16:00; on the door" in shown
    assert "in all since: $6.50 taken, -$13.50 in the drawer" in typed("day", "2026-11-25").stdout


def test_a_batch_gets_the_number_on_its_packs_and_one_that_never_was_is_voided(
    typed: Typed,
) -> None:
    batch = ("batch", "firm", "--made", "48", "--boiled", "10min")
    assert typed(*batch, "--lot", "26330-07").stdout.startswith("Lot 26330-07: 48 Firm")
    assert typed(*batch).stdout.startswith("Lot 26330-08: 48 Firm")
    refused = typed(*batch, "--lot", "26330-07", status=1).stderr
    assert "lot 26330-07 is logged already. Look at the number on the packs." in refused
    typed("sell", "firm-block@26330-08*2", "--card")
    done = typed("void", "26330-08", "--because", "logged twice", "--by", "Ida")
    assert done.stdout == (
        "Lot 26330-08 is void. Its record stays, and its number is not given again.\n"
    )
    assert done.stderr == "Note: 2 of it are gone by the log: say at closing what they were.\n"
    assert "VOID, it never was: logged twice" in typed("trace", "26330-08").stdout
    assert "it never was: logged twice" in typed("labels", "26330-08", status=1).stderr
    rows = list(csv.DictReader(io.StringIO(typed("export", "batches").stdout)))
    assert [r["void"] for r in rows if r["lot"] == "26330-08"] == ["", "logged twice"]
    day = " ".join(typed("day").stdout.split())
    assert "26330-08 Firm Tofu - - 2 - - - -2 ? oversold; never was: logged twice" in day
    assert "no reason is given" in typed("void", "26330-07", status=2).stderr


def test_inspect_draws_one_pdf(typed: Typed, tmp_path: Path) -> None:
    out = tmp_path / "i.pdf"
    said = typed("inspect", "--from", "2026-11-24", "--to", "2026-11-25", "-o", str(out)).stdout
    assert said == f"Records for inspection: {out}\n"
    with pdfplumber.open(out) as pdf:
        head, _, verdict = pdf.pages[1].extract_text().partition("\n")
    assert head == "Records for inspection Nov 24, 2026 to Nov 25, 2026"
    assert verdict.startswith("Verdict\nNot written down: ")
    assert "NO TEMPERATURE OF fridge ON Nov 25, 2026" in verdict
    assert out.read_bytes()[:5] == b"%PDF-"


@pytest.mark.parametrize(
    ("text", "read"),
    [("3", (1, "3")), ("+3", (1, "3")), ("-3", (-1, "3")), ("−3", (-1, "3")), ("", (1, "")),
     (" -0.5kg ", (-1, "0.5kg"))],
)  # fmt: skip
def test_signs_of_amounts_are_read(text: str, read: tuple[int, str]) -> None:
    assert signed(text) == read


def test_signs_beyond_the_first_are_no_amount(typed: Typed) -> None:
    typed("correct", "2026-11-25", "--money", "--5", "--because", "x", status=2)
