"""CUPS with a configuration of its own, label printers that write into files, and their dots.

The driver is CUPS' own sample for label printers. What it writes is the language of such printers:
a picture as hexadecimal digits, with letters for how often one stands there.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image, ImageOps

from tests.needs import lacking

DRIVER = "drv:///sample.drv/zebra.ppd"
_PATH = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
_CONFIG = """
Listen 127.0.0.1:{port}
LogLevel warn
Browsing No
DefaultAuthType None
WebInterface No
JobRetryLimit 1
<Location />
  Order allow,deny
  Allow all
</Location>
<Location /admin>
  Order allow,deny
  Allow all
</Location>
<Policy default>
  <Limit All>
    Order allow,deny
    Allow all
  </Limit>
</Policy>
"""
_FILES = """
ServerRoot {root}
RequestRoot {root}/spool
TempDir {root}/tmp
CacheDir {root}/cache
StateDir {root}/state
AccessLog {root}/log/access
ErrorLog {root}/log/error
PageLog {root}/log/page
FileDevice Yes
"""


class Cups:
    """A running scheduler at ``server``, and where its printers write."""

    def __init__(self, root: Path, server: str) -> None:
        self.root, self.server = root, server

    def run(self, *command: str) -> str:
        program = shutil.which(command[0], path=_PATH) or command[0]
        done = subprocess.run(
            [program, *command[1:]], capture_output=True, text=True, check=True, timeout=30,
            env={**os.environ, "CUPS_SERVER": self.server, "LC_ALL": "C"},
        )  # fmt: skip
        return done.stdout

    def queue(self, name: str, device: str = "") -> Path:
        """A label printer; without a ``device`` it writes into the file that is answered."""
        out = self.root / "out" / f"{name}.zpl"
        out.touch()
        out.chmod(0o666)
        self.run("lpadmin", "-p", name, "-E", "-v", device or f"file://{out}", "-m", DRIVER)
        return out


def dots_of(file: Path) -> Image.Image:
    """The picture that arrived at a label printer, black on white."""
    found = re.search(rb"~DGR:CUPS\.GRF,[0-9]+,([0-9]+),\n?(.*?)\^XA", file.read_bytes(), re.DOTALL)
    assert found, "no picture arrived"
    digits, rows, row, times = 2 * int(found[1]), [], "", 0
    for letter in found[2].decode("ascii"):
        if letter == ":":
            rows.append(rows[-1])
        elif letter in ",!":
            row = row.ljust(digits, "0" if letter == "," else "F")
        elif "g" <= letter <= "z":
            times += 20 * (ord(letter) - ord("f"))
        elif "G" <= letter <= "Y":
            times += ord(letter) - ord("F")
        elif letter in "0123456789ABCDEF":
            row, times = row + letter * (times or 1), 0
        if len(row) >= digits:
            rows.append(row[:digits])
            row = row[digits:]
    size = (4 * digits, len(rows))
    return ImageOps.invert(Image.frombytes("1", size, bytes.fromhex("".join(rows))).convert("L"))


@pytest.fixture(scope="module")
def running_cups() -> Iterator[Cups]:
    """One scheduler for all tests of a module; loudly skipped where there is none."""
    scheduler = shutil.which("cupsd", path=_PATH)
    if scheduler is None or shutil.which("lpadmin", path=_PATH) is None:
        lacking("CUPS", "Install it (Debian: cups, cups-client)")
    root = Path(tempfile.mkdtemp(prefix="cups-"))  # its filters run as another user
    root.chmod(0o755)
    for name in ("spool", "tmp", "cache", "state", "log", "out"):
        (root / name).mkdir()
        (root / name).chmod(0o1777 if name in ("out", "tmp") else 0o755)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    (root / "cupsd.conf").write_text(_CONFIG.format(port=port))
    (root / "cups-files.conf").write_text(_FILES.format(root=root))
    files = ("-c", root / "cupsd.conf", "-s", root / "cups-files.conf")
    command = [scheduler, "-f", *map(str, files)]
    with (root / "said").open("wb") as said:
        process = subprocess.Popen(command, stdout=said, stderr=said)
    try:
        cups = Cups(root, f"127.0.0.1:{port}")
        until = time.monotonic() + 20
        while "is running" not in cups.run("lpstat", "-r"):
            assert process.poll() is None, (root / "said").read_text()
            assert time.monotonic() < until, "cupsd does not answer"
            time.sleep(0.1)
        yield cups
    finally:
        process.terminate()
        process.wait(20)
        shutil.rmtree(root, ignore_errors=True)


@pytest.fixture
def cups(running_cups: Cups, monkeypatch: pytest.MonkeyPatch) -> Cups:
    """The programs of the printing system ask this scheduler, and no other."""
    monkeypatch.setenv("CUPS_SERVER", running_cups.server)
    return running_cups
