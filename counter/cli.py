"""The command line. Each command translates, calls one method of Shop, and prints.

Only click is imported here; what a command needs is imported when it runs, so that
``counter --help`` answers at once.
"""

from __future__ import annotations

import atexit
import gc
import sys
from collections.abc import Callable
from importlib import import_module
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from datetime import datetime

    from counter.shop import Shop
    from labels.say import Said

_F = TypeVar("_F", bound=Callable[..., Any])

# Each command, in the order of a day, and the module of ``counter.commands`` it stands in.
DAY: dict[str, dict[str, str]] = {
    "Set up": {**dict.fromkeys(("new", "demo", "catalogue", "keys"), "morning"), "pin": "serving"},
    "Before the door opens": {
        **dict.fromkeys(("batch", "log", "void", "labels"), "morning"),
        **dict.fromkeys(("stop", "release"), "safety"),
    },
    "At the counter": {
        **dict.fromkeys(("shelf", "tub"), "selling"),
        "move": "safety",
        **dict.fromkeys(("sell", "refund", "waste", "scan", "allergens"), "selling"),
        "serve": "serving",
    },
    "After the door shuts": {
        **dict.fromkeys(("count", "drawer", "close", "day"), "evening"),
        **dict.fromkeys(("week", "month", "year", "plan"), "reporting"),
    },
    "Any time": {
        "temperature": "safety",
        "trace": "records",
        **dict.fromkeys(("recall", "correct", "inspect"), "safety"),
        **dict.fromkeys(("check", "mend", "export"), "records"),
        **dict.fromkeys(("backup", "restore"), "copying"),
    },
}
_MODULES = {name: module for names in DAY.values() for name, module in names.items()}


class DayGroup(click.Group):
    """Commands in the order of a day, with every error as one sentence."""

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """Run as a process of its own. It makes much that stays and hardly a ring: looking for
        rings, as a rule each 700 objects and three times at its end, is a quarter of its time."""
        gc.set_threshold(50_000)
        atexit.register(gc.freeze)
        return super().__call__(*args, **kwargs)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_MODULES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """A command, its module loaded when it is asked for."""
        if cmd_name not in _MODULES:
            return None
        module = import_module(f"counter.commands.{_MODULES[cmd_name]}")
        command: click.Command = getattr(module, cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for title, names in DAY.items():
            found = [(name, self.get_command(ctx, name)) for name in names]
            with formatter.section(title):
                formatter.write_dl([(n, c.get_short_help_str(limit=92)) for n, c in found if c])

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        return super().parse_args(ctx, [seen(word) for word in args])

    def invoke(self, ctx: click.Context) -> Any:
        try:
            said = super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except Exception as error:
            status = exit_status(error)
            if status is None:
                raise
            say_once(ctx, told(error))
            if getattr(error, "filename", error) is not None:  # else the answer did not get out
                ctx.meta.get("answered", bool)()
            sys.exit(status)
        ctx.meta.get("answered", bool)()
        return said


def seen(word: str) -> str:
    """What was typed, without what nobody can see; the name of a file that is there as it is, and
    what separates the parts of a scan."""
    if word.isascii() and word.isprintable():
        return word
    from labels.plain import plain_text

    try:
        if Path(word).exists():
            return word
    except OSError:  # too long for a name
        pass
    return "\x1d".join(map(plain_text, word.split("\x1d")))


def told(error: Exception) -> Said:
    """The sentence of an error; the system's own words where a file or folder is at fault."""
    from labels.say import bare, join, say, sentence, typed

    if isinstance(error, OSError):
        from labels.errors import answer_of

        why = answer_of(error)
        if error.filename is None:
            return sentence(
                say("write what was asked for"),
                why,
                say("Make room, and look before you do it again"),
            )
        return sentence(
            say("use '{path}'", path=error.filename), why, say("Name another file or folder")
        )
    said: Said = getattr(error, "said", typed(str(error)))
    questions = getattr(error, "questions", ())
    if questions:
        sure = join(" ", (say("--sure {about}='a word why'", about=q.about) for q in questions))
        return say("{sentence}: add {sure}.", sentence=bare(said), sure=sure)
    return said


def speak(locale: str) -> None:
    """From now on what the command says is in the language of ``locale``, that of the shop."""
    if not locale.startswith("en"):
        from counter.languages import language_of

        click.get_current_context().meta["language"] = language_of(locale)


def speak_of(folder: Path) -> None:
    """As :func:`speak`, of a shop that is not open; English where its settings cannot be read."""
    from counter.errors import CounterError
    from counter.trade.settings import parse_settings

    try:
        speak(parse_settings((folder / "shop.toml").read_text("utf-8")).shop.language)
    except (CounterError, OSError, ValueError):
        return


def shown(said: str) -> str:
    """A text as the command shows it: in the language of the shop, English where none is open."""
    ctx = click.get_current_context(silent=True)
    language = ctx.meta.get("language") if ctx else None
    return language.shown(said) if language else said


def echo(*lines: Said, err: bool = False) -> None:
    """Print lines; all that a command says to people goes through here."""
    click.echo("\n".join(map(shown, lines)), err=err)


def say_once(ctx: click.Context, sentence: Said) -> None:
    """To standard error, what has not been said of this command yet."""
    if sentence not in ctx.meta.setdefault("said", []):
        ctx.meta["said"].append(sentence)
        echo(sentence, err=True)


def exit_status(error: Exception) -> int | None:
    """1 for a refusal, 2 for input that means nothing, None for a fault of the program."""
    from errno import ENOSPC

    from counter.errors import CounterError
    from labels.errors import BadValue, LabelError

    if isinstance(error, CounterError):
        return error.exit_status
    if isinstance(error, LabelError):
        return 2 if isinstance(error, BadValue) else 1
    if isinstance(error, OSError) and (error.filename is not None or error.errno == ENOSPC):
        return 1
    return None


@click.group(
    cls=DayGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    no_args_is_help=True,
)
@click.option(
    "--shop",
    "folder",
    type=click.Path(path_type=Path),
    envvar="COUNTER_SHOP",
    default=Path(),
    metavar="DIR",
    help="The shop's folder [COUNTER_SHOP, else the current folder].",
)
@click.version_option(package_name="tofu-counter", message="%(version)s")
@click.pass_context
def main(ctx: click.Context, folder: Path) -> None:
    """Follow the day of a tofu workshop: log batches, print labels, sell, count, close.

    Exit status: 0 done, 1 refused by a rule, 2 wrong usage.
    """
    import os

    ctx.obj = folder
    os.umask(0o077)  # what is written is for its owner: takings, notes, copies, what a server keeps
    for stream in (sys.stdout, sys.stderr):
        # A console that cannot write 豆 writes ?; what was booked must not end in an error.
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")


def open_shop(ctx: click.Context) -> Shop:
    """The shop named by ``--shop``; what it has to say about its books goes to standard error."""
    from counter.commands.cut_off import follow
    from counter.shop import Shop
    from labels.say import say, typed

    folder = ctx.find_root().obj
    try:
        shop = Shop.open(folder)
    except Exception:
        speak_of(folder)
        raise
    speak(shop.desk.settings.shop.language)
    shop.desk.questions.given = ctx.meta.get("sure", {})

    def tell() -> None:
        if day := shop.desk.begun:
            from counter.present import Presenter

            today = Presenter(shop.desk.settings).date(day, "full")
            echo(say("It is {day}.", day=today), err=True)
        for notice in shop.desk.books.notices:
            say_once(ctx, typed(notice))

    ctx.meta["answered"] = follow(shop)
    tell()
    ctx.call_on_close(shop.desk.books.close)
    ctx.call_on_close(tell)  # of the books that the command went on to read
    return shop


def keep_sure(ctx: click.Context, _: click.Parameter, texts: tuple[str, ...]) -> None:
    """What ``--sure ABOUT=WORDS`` answers, for :func:`open_shop`."""
    ctx.meta["sure"] = {about: words for about, _, words in (t.partition("=") for t in texts)}


sure_option = click.option(
    "--sure",
    metavar="ABOUT=WORDS",
    multiple=True,
    expose_value=False,
    callback=keep_sure,
    help="Answer what the program asked, with a word why.",
)


def recording(command: _F) -> _F:
    """``--at``, ``--by`` and ``--sure`` of the commands that write something down."""
    command = sure_option(command)
    command = click.option(
        "--at", metavar="WHEN", default="", help="When it happened: '2026-11-24 04:10'."
    )(command)
    return click.option(
        "--by", metavar="NAME", default="", envvar="COUNTER_BY", help="Who did it [COUNTER_BY]."
    )(command)


def moment(shop: Shop, at: str) -> datetime | None:
    """``--at`` on the shop's clock; a time alone is today."""
    from counter.trade.units import clock_on, parse_clock, parse_moment

    if not at:
        return None
    zone = shop.desk.settings.zone
    if len(at.strip()) <= 5 and ":" in at:
        return clock_on(
            shop.desk.today(), parse_clock(at), shop.desk.settings.shop.day_starts, zone
        )
    return parse_moment(at, zone)


def login_name() -> str:
    """Who is at the computer, for records that must name somebody."""
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return ""


def as_json(value: Any) -> None:
    """Print a record as JSON, keys as in the record's own documentation."""
    import msgspec

    click.echo(msgspec.json.format(msgspec.json.encode(value, enc_hook=str), indent=2).decode())


json_option = click.option("--json", "json", is_flag=True, help="Print as JSON.")
