"""A trading day as it is typed, from the first batch to the sealed day."""

from __future__ import annotations

import json
import re
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner

from counter.cli import main
from counter.trade.production import Batch
from counter.trade.sales import Sale
from labels.say import from_kept
from tests.commands.conftest import CommandLine
from tests.conftest import CATALOGUE, Clock
from tests.lines import lines_of, spoil


def test_a_batch_answers_with_lot_date_reason_and_figures(empty: CommandLine) -> None:
    said = empty.done(
        "batch", "firm", "--made", "96", "--beans", "12kg", "--brix", "11.2",
        "--boiled", "10min", "--cooked-at", "06:30", "--cooled", "08:10,11:30",
    )  # fmt: skip
    assert said.splitlines() == [
        "Lot 26328-01: 96 Firm Tofu",
        "best-by Saturday 2026-11-28: keeps 5 days, the day made is day 1",
        "soybeans 12 kg; water ~84 kg; gypsum ~360 g; 11.2 °Brix; boiled 10 min; "
        "cooled 8:10\xa0AM, 11:30\xa0AM",
    ]


def test_a_sale_prints_its_lines_total_and_change(line: CommandLine) -> None:
    said = line.done("sell", "firm-block*2", "cup-small+ginger", "--cash", "20.00")
    assert "Sale 2026-11-24/0001" in said
    # 6.50 and 3.50, 8.6 % on the cup is 0.301: 10.30; a coin of 0.05 pays it exactly.
    assert re.search(r"Total +\$10\.30$", said, re.MULTILINE)
    assert "Cash $10.30 of $20.00" in said
    assert "Change $9.70: 1 x $5.00, 4 x $1.00, 2 x $0.25, 2 x $0.10" in said


def test_waste_says_what_is_left(line: CommandLine) -> None:
    said = line.done("waste", "26328-02", "3", "--because", "broken")
    assert said == "3 of lot 26328-02 gone, broken; 57 left.\n"


def test_closing_compares_the_cash_and_seals(line: CommandLine) -> None:
    line.done("sell", "firm-block*2", "cup-small+ginger", "--cash", "20.00")
    said = line.done("close", "--cash", "412.35")
    assert "$150.00 at the start, $160.30 expected" in said
    assert "$412.35 counted: $252.05 over" in said
    assert said.endswith("Day 2026-11-24 is sealed.\n")
    assert re.search(r"26328-01 +94 +best-by 2026-11-28", line.done("shelf"))
    assert line.done("drawer").startswith("$150.00 should be in the drawer")
    sentence = line.refused(1, "sell", "firm-block", "--card")
    assert sentence == (
        "Cannot write into day 2026-11-24: days up to 2026-11-24 are closed, and "
        "this computer believes it is Tuesday 2026-11-24. Write it into today's book, or reopen today with a reason."
    )


def test_labels_of_a_lot_go_into_the_file_that_is_named(line: CommandLine) -> None:
    target = line.folder.parent / "labels.pdf"
    result = line.run("labels", "26328-01", "-o", str(target))
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == f"96 labels on 96 pages: {target}\n"
    assert target.read_bytes().startswith(b"%PDF")
    assert line.refused(1, "labels", "26328-01", "-o", str(target), "-n", "1") == (
        "Cannot write labels.pdf: there is such a file, and what was printed before stays."
        " Name another file."
    )
    other = target.with_name("more.pdf")
    picture = line.refused(1, "labels", "26328-01", "-o", str(other), "--png", str(target))
    assert picture.startswith("Cannot write labels.pdf: there is such a file")
    assert not other.exists()
    again = line.run("labels", "26328-01", "-o", str(other), "-n", "1")
    assert again.stderr == "Note: labels of lot 26328-01 had been printed before.\n"


def test_the_shelf_shows_lots_and_the_tub(line: CommandLine) -> None:
    said = line.done("shelf")
    assert "Firm Tofu" in said
    assert "26328-01" in said
    assert re.search(r"Tub 26328-03/1 Soft Tofu Pudding, cold: 8 l, 33 Small cup", said)
    assert "Tub 26328-03/1" in line.done("tub")


def test_a_tub_is_checked_and_taken_away(line: CommandLine) -> None:
    assert line.done("tub", "check", "26328-03/1", "41F") == (
        "Tub 26328-03/1 is good until 4:00\xa0PM.\n"
    )
    failed = line.run("tub", "check", "26328-03/1", "12C")
    assert (failed.exit_code, failed.stdout) == (0, "")
    assert "measured 12 °C, allowed is 5 °C / 41 °F or below" in failed.stderr
    assert line.refused(1, "sell", "cup-small", "--card").startswith("Cannot sell cup-small: tub")
    assert line.done("tub", "end", "26328-03/1", "--left", "7.9l") == (
        "Tub 26328-03/1 is away: scooping loss 100 ml, out of its temperature 7.9 l.\n"
    )


def test_a_refund_by_line_and_the_rest(line: CommandLine) -> None:
    line.done("sell", "firm-block*3", "soft-block", "--cash", "20")
    said = line.done("refund", "2026-11-24/0001", "--line", "1x1", "--because", "sour")
    assert said == (
        "Refund 2026-11-24/R001 of sale 2026-11-24/0001: $3.00 in cash; the goods stay sold.\n"
    )
    said = line.done("refund", "2026-11-24/0001", "--because", "keyed twice", "--restock")
    assert said.endswith("$9.00 in cash; the goods are back on the shelf.\n")


def test_a_refund_says_what_of_it_goes_on_the_card(line: CommandLine) -> None:
    line.done("sell", "firm-block*2", "--cash", "1.50", "--card")
    refused = line.refused(1, "refund", "2026-11-24/0001", "--cash", "--because", "sour")
    assert "only 1.50 of what was paid in cash is left to give back" in refused
    said = line.done("refund", "2026-11-24/0001", "--because", "sour")
    assert said.endswith("$6.50 back, $5.00 by card and $1.50 in cash; the goods stay sold.\n")


def test_the_day_says_what_was_missing_at_its_start(line: CommandLine) -> None:
    line.done("drawer", "float", "140")
    assert "$150.00 was left before: $10.00 missing at the start" in line.done("day")


def test_a_late_count_is_compared_with_what_was_there_when_it_was_counted(
    line: CommandLine,
) -> None:
    line.done("sell", "firm-block@26328-01*2", "--cash", "20")
    line.clock.set("2026-11-24 12:30")
    said = line.done("count", "26328-01", "96", "--at", "11:55")
    assert said == "Lot 26328-01: 96 counted, as expected.\n"


def test_a_lot_that_is_counted_twice_at_once_is_refused(line: CommandLine) -> None:
    assert line.refused(2, "count", "26328-01", "40", "26328-01", "56") == (
        "Cannot count lot 26328-01: it is given twice. Write it once, with all that is left of it."
    )


def test_counts_drawer_and_preview_before_the_seal(line: CommandLine) -> None:
    assert line.done("count", "26328-01", "95", "26328-03", "16l") == (
        "Lot 26328-01: 95 counted, 1 missing.\nLot 26328-03: 16 l counted, as expected.\n"
    )
    assert "$150.00 should be in the drawer now" in line.done("drawer", "float", "150")
    line.done("drawer", "out", "20", "--because", "ice", "--coins", "20x1")
    assert line.done("drawer").startswith("$130.00 should be in the drawer: $150.00 at the start")
    before = line.files()
    assert "missing" in line.done("close", "--preview", "--cash", "130")
    assert line.files() == before
    line.done("close", "--coins", "20x6 1x10")
    assert "1 ?" not in line.done("day")
    assert line.done("close", "--reopen", "--because", "forgot a sale") == (
        "Day 2026-11-24 is open again.\n"
    )
    assert "$130.00 expected" in line.done("day")


def test_stopping_a_lot_stops_what_was_made_from_it_over_generations(line: CommandLine) -> None:
    line.done("batch", "smoked", "--made", "8", "--from", "26328-01:6")
    child = json.loads(line.done("log", "--json"))[-1]["lot"]
    line.done("batch", "smoked", "--made", "2", "--from", f"{child}:2")
    grandchild = json.loads(line.done("log", "--json"))[-1]["lot"]
    said = line.done("stop", "26328-01", "--because", "foreign body", "--by", "Rosa")
    assert [text.split(" is stopped")[0] for text in said.splitlines()] == [
        "Lot 26328-01", f"Lot {child}", f"Lot {grandchild}",
    ]  # fmt: skip


def test_a_lot_is_stopped_traced_and_released(line: CommandLine) -> None:
    line.done("sell", "firm-block@26328-01", "--card", "rest:T-17")
    line.done("stop", "26328-01", "--because", "foreign body", "--by", "Rosa")
    assert line.refused(1, "sell", "26328-01", "--card") == (
        "Cannot sell lot 26328-01: it is stopped: foreign body. Put it aside until it is released."
    )
    said = line.done("trace", "26328-01")
    assert "STOPPED 11/24/26, 12:00\xa0PM by Rosa: foreign body" in said
    assert "2026-11-24/0001" in said
    assert "96 made, 1 sold, 95 left\n1 surely sold, in 1 lines:" in said
    line.done("release", "26328-01", "--because", "it was a seed", "--by", "Rosa")
    line.done("sell", "26328-01", "--card")


def test_the_production_log_of_a_day_is_shown(line: CommandLine) -> None:
    said = line.done("log")
    assert [w for w in said.split() if w.startswith("26328-")] == [
        "26328-01:", "26328-02:", "26328-03:",
    ]  # fmt: skip
    assert line.done("log", "2026-11-23") == "No batch is logged for 2026-11-23.\n"


def test_a_batch_is_completed_later(line: CommandLine) -> None:
    said = line.done(
        "batch", "firm", "--amend", "26328-01", "--because", "read later",
        "--cooled", "11:25,11:45", "--press", "60psi,25min", "--coagulant", "gypsum 360g",
    )  # fmt: skip
    assert "pressed at 414 kPa for 25 min" in said
    assert "corrected 1 time" in line.done("trace", "26328-01")


def test_a_batch_cooled_too_slowly_says_so_and_is_stopped(empty: CommandLine) -> None:
    result = empty.run(
        "batch", "firm", "--made", "48", "--boiled", "10min", "--cooked-at", "05:00",
        "--cooled", "08:10,11:30",
    )  # fmt: skip
    assert result.exit_code == 0
    assert "Lot 26328-01 is STOPPED: cooled too slowly: it took 3 h 10 min" in result.stderr
    assert "only if the local food code allows" in result.stderr


def test_paper_notes_carry_when_it_happened_who_did_it_and_when_it_was_entered(
    empty: CommandLine,
) -> None:
    empty.done(
        "batch", "firm", "--made", "48", "--boiled", "10min",
        "--at", "2026-11-24 04:10", "--by", "Teo",
    )  # fmt: skip
    empty.done("sell", "firm-block", "--cash", "--at", "09:30", "--by", "Ida")
    commits = empty.shop().desk.records_of(empty.shop().desk.today())
    batch, sale = commits[0]["batches"][0], commits[1]["sales"][0]
    assert isinstance(batch, Batch)
    assert isinstance(sale, Sale)
    assert [(f"{r.at:%H:%M}", r.by) for r in (batch, sale)] == [("04:10", "Teo"), ("09:30", "Ida")]
    book = lines_of(empty.folder, "2026-11-24")
    assert all('"entered":"2026-11-24T12:00:00-08:00"' in row for row in book)


def test_a_paper_list_that_is_no_text_is_refused_as_any_other(line: CommandLine) -> None:
    (line.folder.parent / "list.txt").write_bytes(b"\xff09:05 firm-block")
    assert line.refused(2, "sell", "--paper", str(line.folder.parent / "list.txt")) == (
        "Cannot read time '\N{REPLACEMENT CHARACTER}09:05': it is no time of the day. "
        "Write 08:10 or 15:45."
    )


def test_who_did_it_can_be_said_once_for_all_commands(
    line: CommandLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COUNTER_BY", "Ida")
    line.done("waste", "26328-01", "1", "--because", "tasting")
    assert line.shop().desk.ledger().waste[-1].by == "Ida"


def test_a_price_is_shown_and_nothing_is_booked(line: CommandLine) -> None:
    before = line.files()
    said = line.done("sell", "firm-block*3", "--price-only")
    assert "several" in said
    assert line.files() == before


def test_the_same_key_books_once(line: CommandLine) -> None:
    first = line.done("sell", "firm-block", "--cash", "5", "--key", "till-1/7")
    assert line.done("sell", "firm-block", "--cash", "5", "--key", "till-1/7") == first
    line.done("close")
    assert line.done("sell", "firm-block", "--cash", "5", "--key", "till-1/7") == first


def test_another_payment_is_not_answered_with_the_sale_of_its_key(line: CommandLine) -> None:
    key = ("--key", "k" * 80)
    line.done("sell", "firm-block", "--cash", "5", *key)
    for words in (("firm-block*2", "--cash", "10"), ("firm-block", "--card"), ("firm-block",)):
        said = line.refused(1, "sell", *words, *key)
        assert f"its key {key[1]} was booked as sale 2026-11-24/0001 over 3.25 in cash" in said
    said = line.refused(2, "sell", "firm-block", "--cash", "5", "--key", key[1] + "2")
    assert said == "Cannot read the key: it has 81 characters. Expected are 80 at most."


def test_what_is_sold_beyond_the_log_is_sold_and_noted(empty: CommandLine) -> None:
    empty.done("batch", "firm", "--made", "1", "--boiled", "10min")
    result = empty.run("sell", "firm-block*2", "--card")
    assert result.exit_code == 0
    assert result.stderr == (
        "Note: the log has none of lot 26328-01 left; it is flagged as oversold.\n"
    )


def test_a_catalogue_is_loaded_and_shown(line: CommandLine, tmp_path: Path) -> None:
    file = tmp_path / "new.toml"
    file.write_text("\ufeff" + CATALOGUE.replace('"3.25"\nbreaks', '"3.75"\nbreaks', 1), "utf-8")
    said = line.done("catalogue", "load", str(file))
    assert (
        said
        == "portion Firm block: price 3.25 → 3.75\nIn use: 10 products, 12 portions, 3 toppings, 17 ingredients.\n"
    )
    assert re.search(
        r"firm-block +Firm Tofu +Firm block +\$3.75 +3 for \$9.00", line.done("catalogue")
    )


def test_check_reads_every_line_and_names_a_changed_one(line: CommandLine) -> None:
    line.done("sell", "firm-block", "--card")
    assert line.done("check").endswith("lines read, 0 findings.\n")
    spoil(line.folder, "2026-11-24", '"total":325', '"total":125')
    result = line.run("check")
    assert result.exit_code == 1
    assert "Line 5 of book 2026-11-24 is damaged" in result.stderr
    assert result.stdout.endswith(" lines read, 1 findings. Run `counter mend`.\n")
    result = line.run("sell", "firm-block", "--card")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.splitlines()[-1] == (
        "Cannot read book 2026-11-24: line 5 of it is damaged: its link does not follow from the "
        "line before and its own content. Run `counter mend`."
    )
    shown = line.run("shelf")  # nothing is shown that may not be all
    assert (shown.exit_code, shown.stdout) == (1, "")
    assert "line 5" in shown.stderr


def test_new_makes_a_shop_that_can_trade(tmp_path: Path, clock: Clock) -> None:
    folder = tmp_path / "mine"
    result = CliRunner().invoke(main, ["new", str(folder)])
    assert result.exit_code == 0, result.output
    own = CommandLine(folder, clock)
    catalogue = own.shop().desk.catalogue
    product = next(iter(catalogue.products.values()))
    made = "1" if product.unit == "piece" else f"1000{product.unit}"
    own.done("batch", product.key, "--made", made, "--boiled", "10min")
    assert own.done("shelf")
    assert "not empty" in own.refused(1, "new", str(folder))


def test_the_shop_is_named_by_the_environment_or_the_current_folder(
    line: CommandLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COUNTER_SHOP", str(line.folder))
    assert CliRunner().invoke(main, ["shelf"]).exit_code == 0
    monkeypatch.delenv("COUNTER_SHOP")
    monkeypatch.chdir(line.folder)
    assert CliRunner().invoke(main, ["shelf"]).exit_code == 0
    monkeypatch.chdir(line.folder.parent)
    result = CliRunner().invoke(main, ["shelf"])
    assert (result.exit_code, result.stderr) == (
        1,
        "Cannot open shop '.': there is no shop.toml in that folder. "
        "Make one with `counter new DIR`, or name another with --shop DIR.\n",
    )


# What each reading command prints with --json: the fields of the record it prints.
KEYS = {
    ("shelf",): {"day", "throw_away", "products"},
    ("catalogue",): {"products", "portions", "toppings", "ingredients", "staff"},
    ("drawer",): {
        "opening", "start", "moved_in", "moved_out", "cash_sales", "cash_refunds", "expected",
    },
    ("day",): {
        "day", "at", "lots", "portions", "sales", "total", "discounts", "taxes", "payments",
        "refunds", "refunded", "cash", "carried", "tubs", "sold_out_at", "notes", "by",
        "book_lines", "book_link", "batches", "labels", "named", "explained", "hours", "waste",
        "yields", "available", "corrections", "by_rate",
    },
    ("trace", "26328-01"): {
        "lot", "batches", "holds", "printed", "tubs", "sales", "refunds", "waste", "counts",
        "went_into", "came_from", "days", "left",
    },
    ("check",): {"findings", "books", "lines", "size"},
    ("sell", "firm-block", "--price-only"): {
        "lines", "taxes", "subtotal", "discount", "total", "where", "why", "included",
    },
    ("sell", "firm-block", "--cash"): {
        "number", "at", "lines", "taxes", "total", "payments", "where", "rounding", "change",
        "discount", "why", "included", "key", "by",
    },
    ("close", "--preview"): {"day", "at", "lots", "cash"},
}  # fmt: skip


@pytest.mark.parametrize("words", KEYS, ids=" ".join)
def test_json_has_its_documented_keys(line: CommandLine, words: tuple[str, ...]) -> None:
    said = msgspec.json.decode(line.done(*words, "--json"))
    found = set(said)
    assert found >= KEYS[words]  # more may come, what is documented never goes


def test_the_log_as_json_is_a_list_of_batches(line: CommandLine) -> None:
    said = msgspec.json.decode(line.done("log", "--json"), type=list[Batch], dec_hook=from_kept)
    assert [b.lot for b in said] == ["26328-01", "26328-02", "26328-03"]
    tubs = msgspec.json.decode(line.done("tub", "--json"))
    assert [t["tub"] for t in tubs] == ["26328-03/1"]


def test_a_day_without_a_book_is_not_closed_already(line: CommandLine) -> None:
    line.done("close", "--sure", "uncounted=it was late", "--sure", "cooling=it was late")
    assert line.refused(1, "close", "--day", "2026-11-20") == (
        "Cannot close day 2026-11-20: there is no day book '2026-11-20'. Did you mean 2026-11-24?"
    )
