"""Commands for copies: made, sealed, put back."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from counter.cli import as_json, echo, json_option, open_shop, shown, speak_of
from counter.commands.safety import progress
from labels.say import say

if TYPE_CHECKING:
    from collections.abc import Callable

    from counter.shop.restoring import Restored

Made = TypeVar("Made")

ASKED_FROM = "COUNTER_PASSPHRASE"
passphrase_option = click.option(
    "--passphrase-file",
    "file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help=f"Read the passphrase from FILE; else from {ASKED_FROM}, else it is asked.",
)


def passphrase_in(file: Path | None) -> str:
    """The passphrase that a file or the environment gives; "" for none."""
    from counter.errors import BadInput
    from labels.errors import answer_of

    if file is None:
        return os.environ.get(ASKED_FROM, "").strip()
    try:
        return file.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        why = answer_of(error) if isinstance(error, OSError) else say("it is no text")
        do = say("Name a text file with nothing else in it")
        raise BadInput(say("read the passphrase in {file}", file=file), why, do) from None


def with_passphrase(work: Callable[[str], Made], given: str) -> Made:
    """Do what opens a copy with the passphrase ``given``; ask for it where it needs one."""
    from counter.errors import SealedCopy

    try:
        return work(given)
    except SealedCopy as error:
        if given:
            raise
        try:
            given = click.prompt(
                shown(say("Passphrase to {tried}", tried=error.tried)), hide_input=True, err=True
            )
        except click.Abort:  # nobody is there to type
            given = ""
        if not given:
            raise
    return work(given)


@click.command()
@click.option(
    "--to",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="The folder to copy into; else the one shop.toml names.",
)
@click.option("--list", "listed", is_flag=True, help="Name the copies there are; make none.")
@click.option("--seal", is_flag=True, help="Seal copies with a passphrase from now on; ask for it.")
@click.option("--no-seal", "unsealed", is_flag=True, help="Seal no copies from now on.")
@click.option(
    "--wheels/--no-wheels", default=True, help="Put the program itself beside the copies, once."
)
@passphrase_option
@json_option
@click.pass_context
def backup(
    ctx: click.Context,
    to: Path | None,
    listed: bool,
    seal: bool,
    unsealed: bool,
    wheels: bool,
    file: Path | None,
    json: bool,
) -> None:
    """Copy the whole shop into one file on a stick, and read it back.

    Exit status 1 where a copy there says what is not so any more; the copy is made."""
    shop = open_shop(ctx)
    if listed:
        found = shop.copies.listed(to)
        if json:
            as_json(found)
            return
        for copy in found:
            at, size = f"{copy.made:%Y-%m-%d %H:%M}", f"{copy.size:>12}"
            echo(say("{moment}  {size} bytes  {name}", moment=at, size=size, name=copy.name))
        if not found:
            echo(say("No copy is there."))
        return
    if unsealed:
        shop.copies.leave_copies_open()
    elif seal:
        given = passphrase_in(file)
        if not given and file is None:
            ask, again = say("Passphrase, four words or more"), say("Repeat for confirmation")
            given = click.prompt(shown(ask), hide_input=True, confirmation_prompt=shown(again))
        shop.copies.seal_copies(given)
        echo(
            say(
                "Copies are sealed from now on. Without the passphrase nobody can put one back:"
                " keep it written down, away from shop and stick. Older copies are as they were:"
                " throw away those that are not sealed."
            ),
            err=True,
        )
    with progress(say("Copying and reading back")) as tell:
        saved = shop.copies.back_up(to, progress=tell, program=wheels)
    if json:
        as_json(saved)
    else:
        echo(saved.said)
        for name in saved.removed:
            echo(say("Let go by the rule: {name}", name=name))
    if not saved.good:
        sys.exit(1)


@click.command()
@click.argument("archive", type=click.Path(path_type=Path))
@click.argument("folder", type=click.Path(path_type=Path), metavar="DIR")
@click.option(
    "--lines",
    is_flag=True,
    help="The last resort: build the books up from the lines of text alone.",
)
@passphrase_option
@json_option
def restore(archive: Path, folder: Path, lines: bool, file: Path | None, json: bool) -> None:
    """Put the backup ARCHIVE back into DIR, a new or an empty folder.

    ARCHIVE may be a folder that one was unpacked into."""
    from counter.shop.restoring import restore as put_back

    def work(given: str) -> Restored:
        with progress(say("Putting back")) as tell:
            return put_back(archive, folder, tell, given, lines=lines)

    made = with_passphrase(work, passphrase_in(file))
    speak_of(folder)
    if json:
        as_json(made)
    else:
        checked = made.checked
        for finding in checked.findings:
            echo(finding.sentence, err=True)
        echo(
            say(
                "{files} files are in {path}; {books} books, {lines} lines read, {n} findings.",
                files=made.files,
                path=made.path,
                books=checked.books,
                lines=checked.lines,
                n=len(checked.findings),
            ),
            made.said,
            say("What is written down first asks which numbers are out on packs and receipts."),
        )
    if made.checked.findings:
        sys.exit(1)
