"""The real server as a program of its own: started, killed in the middle, started again."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from counter.shop import Shop, make_shop
from counter.shop.production import BatchNote
from tests.conftest import CATALOGUE, SETTINGS

PROGRAM = [sys.executable, "-c", "from counter.cli import main; main()"]


class Served:
    """``counter serve`` over a shop of today."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, 0
        self.process: subprocess.Popen[str] | None = None

    def start(self, *options: str) -> str:
        command = [*PROGRAM, "--shop", str(self.folder), "serve"]
        self.process = subprocess.Popen(
            [*command, "--port", str(self.port), *options],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
            # Tests that are run in the background ignore the key, and so would their programs.
            preexec_fn=partial(signal.signal, signal.SIGINT, signal.SIG_DFL),
        )  # fmt: skip
        assert self.process.stdout
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        assert found, line
        self.port = int(found[1])
        return line

    def kill(self, how: int = signal.SIGKILL) -> str:
        assert self.process
        self.process.send_signal(how)
        said, _ = self.process.communicate(timeout=60)
        self.process = None
        return said

    def ask(
        self, method: str, path: str, body: object = None, **headers: str
    ) -> tuple[int, str, str]:
        wire = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        sent = None if body is None else json.dumps(body)
        wire.request(
            method,
            path,
            sent,
            headers={"Content-Type": "application/json", "Accept": "text/html", **headers},
        )
        answer = wire.getresponse()
        text = answer.read().decode()
        cookie = (answer.getheader("Set-Cookie") or "").split(";")[0]
        wire.close()
        return answer.status, text, cookie


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    shop = make_shop(tmp_path / "shop", SETTINGS)
    shop.products.load_catalogue(CATALOGUE)
    shop.production.log_batch("firm", BatchNote(made=20, boiled_minutes=10))
    shop.desk.books.close()
    made = Served(tmp_path / "shop")
    yield made
    if made.process:
        made.kill()


def test_a_server_killed_and_started_again_books_a_payment_once(served: Served) -> None:
    served.start()
    _, page, cookie = served.ask("GET", "/shelf/")
    token = re.search(r'name="token" content="([^"]+)"', page)
    assert token
    mine = {"X-Token": token[1], "Cookie": cookie}
    payment = {
        "slip": {"items": [{"portion": "firm-block", "quantity": 2}], "key": "kept-by-the-tablet"},
        "tenders": [{"kind": "card"}], "seen": 650,
    }  # fmt: skip
    first = served.ask("POST", "/slip/pay", payment, **mine)
    assert first[0] == 200
    served.kill()
    served.start()
    # The session lives on: its key lies in the shop folder.
    again = served.ask("POST", "/slip/pay", {**payment, "again": True}, **mine)
    assert again[:2] == first[:2]
    assert "The counter is shut." in served.kill(signal.SIGINT)
    shop = Shop.open(served.folder)
    assert [s.key for s in shop.desk.ledger().sales.values()] == ["kept-by-the-tablet"]
    assert (served.folder / ".secret").stat().st_mode & 0o777 == 0o600
    shop.desk.books.close()


def test_the_shops_network_wants_an_owners_pin_first(served: Served) -> None:
    command = [*PROGRAM, "--shop", str(served.folder)]
    refused = subprocess.run(
        [*command, "serve", "--lan", "--port", "0"],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (refused.returncode, refused.stderr) == (1, (
        "Cannot serve to the shop's network: no owner has a PIN yet, so anybody could sell and "
        "close. Set one with `counter pin PERSON`.\n"
    ))  # fmt: skip
    from click.testing import CliRunner

    from counter.cli import main

    runner = CliRunner()
    where = ["--shop", str(served.folder), "pin", "rosa"]
    assert "Rosa, owner, has a new PIN." in runner.invoke(main, where, input="2580\n2580\n").output
    served.start("--lan")
    assert served.ask("GET", "/shelf/")[0] == 302
    assert served.ask("GET", "/shelf/", Host="evil.example")[0] == 403
    # The PIN taken away while it serves: the network stays shut.
    assert runner.invoke(main, [*where, "--remove"]).exit_code == 0
    assert served.ask("GET", "/shelf/")[0] == 302
    assert served.ask("GET", "/who/pins")[0] == 302
