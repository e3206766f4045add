"""A shop folder is its owner's alone: 0700, what lies in it 0600, at every start."""

from __future__ import annotations

import os
import re
import select
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from counter.books import Books
from counter.shop import make_shop
from tests.conftest import CATALOGUE, SETTINGS

pytestmark = pytest.mark.skipif(os.name == "nt", reason="rights of another kind")


def modes(folder: Path) -> dict[str, str]:
    """All that others may open: name -> rights."""
    found = {"": folder, **{str(p.relative_to(folder)): p for p in folder.rglob("*")}}
    return {name: oct(p.stat().st_mode & 0o777) for name, p in found.items() if p.exists()}


def open_to_others(folder: Path) -> dict[str, str]:
    return {name: mode for name, mode in modes(folder).items() if int(mode, 8) & 0o077}


def start(folder: Path, *words: str) -> subprocess.Popen[str]:
    """A command as on a computer where new files are for everybody."""
    return subprocess.Popen(
        [sys.executable, "-m", "counter", "--shop", str(folder), *words],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, umask=0o000,
    )  # fmt: skip


def run(folder: Path, *words: str) -> None:
    with start(folder, *words) as process:
        said, _ = process.communicate(timeout=120)
    assert process.returncode == 0, said


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A shop whose folder was unpacked, or carried here, with rights for everybody."""
    place = tmp_path / "shop"
    shop = make_shop(place, SETTINGS)
    shop.products.load_catalogue(CATALOGUE)
    shop.desk.books.close()
    (place / "labels").mkdir(exist_ok=True)
    for path in (place, *place.rglob("*")):
        path.chmod(0o777 if path.is_dir() else 0o666)
    return place


def test_a_shop_is_made_and_opened_private(tmp_path: Path, folder: Path) -> None:
    Books.open(folder, {}).close()
    assert modes(folder)[""] == modes(folder)["labels"] == "0o700"
    assert {m for n, m in modes(folder).items() if n not in ("", "labels")} == {"0o600"}
    run(tmp_path / "new", "new", str(tmp_path / "new"))
    assert open_to_others(tmp_path / "new") == {}


def test_what_commands_write_is_private_labels_exports_and_copies_too(
    tmp_path: Path, folder: Path
) -> None:
    run(folder, "batch", "firm", "--made", "9", "--boiled", "10min")
    run(folder, "sell", "firm-block", "--cash")
    run(folder, "export", "all", "-o", str(folder / "out"))
    (tmp_path / "stick").mkdir(mode=0o700)
    run(folder, "backup", "--to", str(tmp_path / "stick"))
    [copy] = (tmp_path / "stick").glob("*.zip")
    run(folder, "restore", str(copy), str(tmp_path / "again"))
    assert {"books.sqlite", "books.last", "shop.toml"} <= set(modes(folder))
    for place in (folder, tmp_path / "stick", tmp_path / "again"):
        assert open_to_others(place) == {}


def test_a_server_makes_the_folder_private_and_keeps_it_so(folder: Path) -> None:
    with start(folder, "serve", "--port", "0") as server:
        try:
            assert server.stdout is not None
            assert select.select([server.stdout], [], [], 60)[0]
            said = server.stdout.readline()
            found = re.search(r"http://127\.0\.0\.1:\d+/", said)
            assert found, said
            urllib.request.urlopen(found[0], timeout=60).close()
            run(folder, "batch", "firm", "--made", "9", "--boiled", "10min")
            assert {"books.sqlite-wal", "books.sqlite-shm", ".secret"} <= set(modes(folder))
            assert open_to_others(folder) == {}
        finally:
            server.send_signal(signal.SIGTERM)


def test_rights_are_only_taken_never_given_and_links_are_not_followed(
    tmp_path: Path, folder: Path
) -> None:
    outside = tmp_path / "outside.txt"
    outside.write_text("not the shop's")
    outside.chmod(0o644)
    (folder / "link").symlink_to(outside)
    (folder / "logo.png").write_bytes(b"")
    (folder / "logo.png").chmod(0o444)
    Books.open(folder, {}).close()
    assert oct(outside.stat().st_mode & 0o777) == "0o644"
    assert modes(folder)["logo.png"] == "0o400"


def test_a_folder_that_belongs_to_somebody_else_opens_all_the_same(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "chmod", refuse)
    books = Books.open(folder, {})
    assert books.end()[0] > 0
    books.close()
