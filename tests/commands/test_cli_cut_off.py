"""A command that is killed after its write: the next one says what was booked and not answered."""

from __future__ import annotations

import fcntl
import os
import re
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

from counter.shop import Shop, make_shop
from counter.trade.sales import Sale
from tests.conftest import CATALOGUE, SETTINGS

pytestmark = pytest.mark.skipif(
    not Path("/proc/self/stat").exists(), reason="needs a system that says which programs run"
)
PAST_S = 60.0


def command(folder: Path, *words: str) -> list[str]:
    return [sys.executable, "-m", "counter", "--shop", str(folder), *words]


def type_in(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command(folder, *words), capture_output=True, text=True, timeout=PAST_S, check=False
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("cut") / "shop"
    make_shop(place, SETTINGS).products.load_catalogue(CATALOGUE)
    assert type_in(place, "batch", "firm", "--made", "96", "--boiled", "10min").returncode == 0
    return place


def unread(folder: Path, *words: str) -> tuple[subprocess.Popen[bytes], int]:
    """A command whose answer does not go through: its pipe is full, and nobody reads."""
    reading, writing = os.pipe()
    fcntl.fcntl(writing, fcntl.F_SETPIPE_SZ, 4096)
    os.set_blocking(writing, False)
    with suppress(BlockingIOError):
        while os.write(writing, b"." * 4096):
            pass
    os.set_blocking(writing, True)
    typed = subprocess.Popen(command(folder, *words), stdout=writing, stderr=subprocess.DEVNULL)
    os.close(writing)
    return typed, reading


def sales(folder: Path) -> int:
    shop = Shop.open(folder)
    found = len(shop.desk.recorded(Sale, shop.desk.today()))
    shop.desk.books.close()
    return found


def sell_unread(folder: Path) -> tuple[subprocess.Popen[bytes], int]:
    """Sell, up to where it is booked and the answer waits to be written."""
    before, end = sales(folder), time.monotonic() + PAST_S
    typed, reading = unread(folder, "sell", "firm-block", "--cash")
    while sales(folder) == before:
        assert typed.poll() is None
        assert time.monotonic() < end
        time.sleep(0.02)
    return typed, reading


def test_what_was_booked_and_not_answered_is_told_by_the_next_command_once(folder: Path) -> None:
    typed, reading = sell_unread(folder)
    typed.send_signal(signal.SIGKILL)
    typed.wait(PAST_S)
    os.close(reading)
    said = type_in(folder, "shelf")
    assert said.returncode == 0
    assert re.fullmatch(
        r"The command before this one was cut off after it booked: sale \d{4}-\d\d-\d\d/0001 over"
        r" \$3\.25 at \d\d?:\d\d\xa0[AP]M\. Nobody was told\. Look before you enter it again\.\n",
        said.stderr,
    ), said.stderr
    assert "cut off" not in type_in(folder, "shelf").stderr


def test_a_command_that_is_still_at_it_is_not_taken_for_one_that_was_cut_off(folder: Path) -> None:
    typed, reading = sell_unread(folder)
    try:
        assert "cut off" not in type_in(folder, "shelf").stderr
    finally:
        while os.read(reading, 65536):  # now somebody reads
            pass
        os.close(reading)
    assert typed.wait(PAST_S) == 0
    assert "cut off" not in type_in(folder, "shelf").stderr


def test_a_command_whose_answer_nobody_could_read_is_told_of(folder: Path) -> None:
    typed, reading = sell_unread(folder)
    os.close(reading)  # a pipe that breaks
    assert typed.wait(PAST_S) != 0
    assert "was cut off after it booked: sale " in type_in(folder, "shelf").stderr


def test_what_was_answered_or_refused_leaves_nothing_to_tell(folder: Path) -> None:
    assert type_in(folder, "sell", "firm-block", "--cash").returncode == 0
    assert type_in(folder, "sell", "firm-block", "--cash", "0.01").returncode == 1
    shop = Shop.open(folder)
    assert shop.desk.books.unanswered() == {}
    shop.desk.books.close()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a file that is always full")
def test_a_command_whose_answer_finds_no_room_says_so_and_is_told_of(folder: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        typed = subprocess.run(
            command(folder, "sell", "firm-block", "--cash"), stdout=full, stderr=subprocess.PIPE,
            text=True, timeout=PAST_S, check=False,
        )  # fmt: skip
    assert (typed.returncode, typed.stderr) == (
        1, "Cannot write what was asked for: no space left on device. Make room, and look before"
        " you do it again.\n",
    )  # fmt: skip
    assert "was cut off after it booked: sale " in type_in(folder, "shelf").stderr
