"""The copies of a shop named on the command line."""

from __future__ import annotations

import gc
import json
import re
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from counter.cli import main
from tests.commands.conftest import CommandLine
from tests.shop.test_mending import spoil


def test_the_copies_on_a_stick_are_named_and_none_is_made(
    line: CommandLine, tmp_path: Path
) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    assert line.done("backup", "--list", "--to", str(stick)) == "No copy is there.\n"
    line.done("backup", "--no-wheels", "--to", str(stick))
    [copy] = stick.iterdir()
    said = line.done("backup", "--list", "--to", str(stick))
    assert copy.name in said
    assert f"{copy.stat().st_size} bytes" in said
    [told] = json.loads(line.done("backup", "--list", "--json", "--to", str(stick)))
    assert (told["name"], told["size"]) == (copy.name, copy.stat().st_size)
    assert list(stick.iterdir()) == [copy]


WORDS = "correct horse battery staple"


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    place = tmp_path / "stick"
    place.mkdir()
    return place


def asked(line: CommandLine, typed: str, *words: str) -> tuple[int, str]:
    done = CliRunner().invoke(main, ["--shop", str(line.folder), *words], input=typed)
    return done.exit_code, done.output


def test_a_passphrase_is_asked_twice_and_the_copy_asks_for_it_when_it_comes_back(
    line: CommandLine, stick: Path, tmp_path: Path
) -> None:
    seal = ("backup", "--seal", "--no-wheels", "--to", str(stick))
    status, said = asked(line, f"{WORDS}\n{WORDS}\n", *seal)
    assert status == 0, said
    assert "Without the passphrase nobody can put one back" in said
    assert WORDS not in said
    [copy] = stick.glob("*.zip.sealed")
    back = str(tmp_path / "back")
    status, said = asked(line, "", "restore", str(copy), back)  # nobody is there
    assert (status, "it is sealed with a passphrase" in said) == (1, True)
    status, said = asked(line, "another passphrase\n", "restore", str(copy), back)
    assert (status, "the passphrase does not fit it" in said) == (1, True)
    assert not Path(back).exists()
    status, said = asked(line, f"{WORDS}\n", "restore", str(copy), back)
    assert (status, " 0 findings." in said) == (0, True)


def test_a_passphrase_comes_from_the_environment_or_a_file_never_from_an_argument(
    line: CommandLine, stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "words"
    file.write_text(f"{WORDS}\n")
    there = ("--no-wheels", "--to", str(stick))
    line.done("backup", "--seal", "--passphrase-file", str(file), *there)
    [copy] = stick.glob("*.zip.sealed")
    monkeypatch.setenv("COUNTER_PASSPHRASE", WORDS)
    line.done("restore", str(copy), str(tmp_path / "one"))
    monkeypatch.setenv("COUNTER_PASSPHRASE", "some other words")
    line.refused(1, "restore", str(copy), str(tmp_path / "two"))
    line.done("restore", "--passphrase-file", str(file), str(copy), str(tmp_path / "two"))
    gone = str(tmp_path / "gone")
    said = line.refused(2, "restore", "--passphrase-file", gone, str(copy), str(tmp_path / "three"))
    assert said.startswith(f"Cannot read the passphrase in {gone}: ")
    assert line.run("backup", "--seal", WORDS, *there).exit_code == 2
    line.done("backup", "--no-seal", *there)
    assert [p.suffix for p in stick.iterdir() if p != copy] == [".zip"]


@pytest.fixture
def hurt(line: CommandLine, stick: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A sealed copy on the stick, and behind it a line of the books that is damaged."""
    toml = line.folder / "shop.toml"
    toml.write_text(f"{toml.read_text('utf-8')}\n[backup]\nfolder = '{stick}'\n", "utf-8")
    monkeypatch.setenv("COUNTER_PASSPHRASE", WORDS)
    line.done("backup", "--seal", "--no-wheels")
    monkeypatch.delenv("COUNTER_PASSPHRASE")
    gc.collect()  # the shop of the command, which in life ends with it
    spoil(line.folder, 3)
    [copy] = stick.glob("*.zip.sealed")
    return copy


def test_a_mending_opens_the_sealed_copy_with_the_key_of_the_shop(
    line: CommandLine, hurt: Path
) -> None:
    said = line.done("mend")
    assert "1 of them came from the copy (3); none is lost" in said
    assert " 0 findings." in line.done("check")


def test_a_mending_asks_for_the_passphrase_and_leaves_all_as_it_was_without_one(
    line: CommandLine, hurt: Path
) -> None:
    (line.folder / ".copy-key").unlink()
    before = {p: p.read_bytes() for p in line.folder.iterdir() if p.is_file()}
    status, said = asked(line, "", "mend")  # nobody is there
    assert status == 1
    assert (
        f"Cannot read backup {hurt}: it is sealed with a passphrase. Give the passphrase that it"
        " was sealed with, or mend with --no-copy." in said
    )
    status, said = asked(line, "some other words\n", "mend")
    assert (status, "the passphrase does not fit it" in said) == (1, True)
    assert {p: p.read_bytes() for p in line.folder.iterdir() if p.is_file()} == before
    status, said = asked(line, f"{WORDS}\n", "mend")
    assert (status, f"Passphrase to read backup {hurt}" in said) == (0, True)
    assert "none is lost" in said


def test_a_mending_opens_the_sealed_copy_that_is_named(
    line: CommandLine, hurt: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (line.folder / ".copy-key").unlink()
    named = str(hurt.rename(tmp_path / "elsewhere"))
    status, said = asked(line, "", "mend", "--copy", named)
    assert (status, "it is sealed with a passphrase" in said) == (1, True)
    monkeypatch.setenv("COUNTER_PASSPHRASE", WORDS)
    assert "none is lost" in line.done("mend", "--copy", named)


def test_a_mending_takes_nothing_from_a_copy_where_it_is_told_so(
    line: CommandLine, hurt: Path
) -> None:
    assert hurt.exists()
    assert "1 is lost (3)" in line.done("mend", "--no-copy")


def test_a_sealed_copy_of_another_shop_on_the_stick_is_passed_over(
    line: CommandLine, hurt: Path
) -> None:
    (line.folder / ".copy-key").unlink()
    name = re.sub(r"-[0-9a-f]{6}-", "-abcdef-", hurt.name)
    hurt.rename(hurt.with_name(name))
    assert "1 is lost (3)" in line.done("mend")


def test_a_newest_copy_that_says_otherwise_is_told_with_status_1_and_a_copy_is_made(
    line: CommandLine, stick: Path, tmp_path: Path
) -> None:
    there = ("backup", "--no-wheels", "--to", str(stick))
    line.done(*there)
    [old] = stick.iterdir()
    line.done("restore", str(old), str(tmp_path / "back"))
    line.done("drawer", "float", "150.00")
    line.done(*there)
    other = CommandLine(tmp_path / "back", line.clock)
    done = other.run(*there)
    assert done.exit_code == 1
    assert "Backup written and read back: " in done.stdout
    assert f"{old.name} goes on where the books end: from line " in done.stdout
    assert len(list(stick.glob("*.zip"))) == 2


def test_check_compares_a_sealed_copy_and_takes_one_of_another_passphrase_for_no_fault(
    line: CommandLine, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    toml = line.folder / "shop.toml"
    toml.write_text(f"{toml.read_text('utf-8')}\n[backup]\nfolder = '{stick}'\n", "utf-8")
    monkeypatch.setenv("COUNTER_PASSPHRASE", WORDS)
    line.done("backup", "--seal", "--no-wheels")
    [copy] = stick.glob("*.zip.sealed")
    monkeypatch.setenv("COUNTER_PASSPHRASE", "four other words than those")
    line.done("backup", "--seal", "--no-wheels")
    monkeypatch.delenv("COUNTER_PASSPHRASE")
    said = line.done("check")
    assert f"Cannot read backup {copy}: it is sealed with another passphrase" in said
    assert " 0 findings." in said
    assert "it is sealed with another" in line.refused(1, "check", "--against", str(copy))
    monkeypatch.setenv("COUNTER_PASSPHRASE", WORDS)
    assert "stand in the books as they were." in line.done("check", "--against", str(copy))


def test_a_copy_within_the_shop_folder_is_no_part_of_the_next_one(
    line: CommandLine, stick: Path
) -> None:
    (line.folder / "labels").mkdir(exist_ok=True)
    (line.folder / "labels" / "sheet.pdf").write_bytes(b"%PDF")
    for place in (line.folder, line.folder / "labels", stick, line.folder):
        line.done("backup", "--no-wheels", "--to", str(place))
        [copy] = place.glob("*.zip")
        with zipfile.ZipFile(copy) as archive:
            names = archive.namelist()
        assert [name for name in names if ".zip" in name] == []
        assert "shop/labels/sheet.pdf" in names


def test_an_empty_passphrase_file_is_refused_and_nobody_is_asked(
    line: CommandLine, stick: Path
) -> None:
    empty = stick / "words"
    empty.write_text("")
    seal = ("backup", "--seal", "--to", str(stick), "--passphrase-file", str(empty))
    assert "the passphrase has not 12 letters that differ" in line.refused(2, *seal)
