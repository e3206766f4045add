"""The command in processes of its own: statuses, streams, and the real clock."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from counter.shop import make_shop
from tests.conftest import CATALOGUE, SETTINGS
from tests.lines import lines_of


def counter(folder: Path, *words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [sys.executable, "-m", "counter", "--shop", str(folder), *words],
        capture_output=True, text=True, encoding="utf-8", errors="replace", check=False,
        env={**os.environ, **environment},
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    return done


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "shop"
    make_shop(made, SETTINGS).products.load_catalogue(
        CATALOGUE.replace("Firm Tofu", "豆腐 Firm Tofu")
    )
    return made


def test_statuses_and_streams_of_real_processes(folder: Path) -> None:
    logged = counter(folder, "batch", "firm", "--made", "96", "--boiled", "10min")
    assert (logged.returncode, logged.stdout[:4]) == (0, "Lot ")
    lot = logged.stdout.split()[1].rstrip(":")
    sold = counter(folder, "sell", f"firm-block@{lot}*2", "--cash", "10")
    assert (sold.returncode, sold.stderr) == (0, "")
    refused = counter(folder, "sell", "firm-blok", "--cash")
    assert (refused.returncode, refused.stdout) == (1, "")
    assert refused.stderr.startswith("Cannot sell firm-blok")
    assert counter(folder, "log", "2026-02-30").returncode == 2
    assert counter(folder, "sell", "--cahs").returncode == 2
    assert counter(folder.parent, "shelf").returncode == 1
    assert f"{lot}" in counter(folder, "shelf").stdout
    sure = ("--sure", "uncounted=nobody had time", "--sure", "cooling=it is")
    closed = counter(folder, "close", "--cash", "156.50", *sure)
    assert closed.stdout.endswith("is sealed.\n")
    assert counter(folder, "check").returncode == 0


def test_a_console_that_cannot_write_a_name_loses_no_sale(folder: Path) -> None:
    counter(folder, "batch", "firm", "--made", "9", "--boiled", "10min", PYTHONIOENCODING="cp1252")
    shelf = counter(folder, "shelf", PYTHONIOENCODING="cp1252")
    assert shelf.returncode == 0
    assert "?? Firm Tofu" in shelf.stdout


@pytest.mark.skipif(os.name == "nt", reason="no such bytes are passed there")
def test_words_that_are_no_text_are_refused(folder: Path) -> None:
    before = lines_of(folder)
    for words in (["sell", b"\xff\xfe", "--cash"], ["stop", b"\xff", "--because", b"\xff"],
                  ["batch", "firm", "--made", "9", "--boiled", "9", "--by", b"\xc3("]):  # fmt: skip
        command = [sys.executable, "-m", "counter", "--shop", str(folder), *words]
        done = subprocess.run(command, capture_output=True, check=False)
        assert done.returncode in (1, 2)
        assert b"Traceback" not in done.stderr
        assert done.stderr.startswith(b"Cannot ")
    assert lines_of(folder) == before
