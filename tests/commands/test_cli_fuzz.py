"""Whatever is typed: a status of 0, 1 or 2, and never a traceback."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from counter.shop import make_shop
from tests.commands.conftest import COLD, COMMANDS, CommandLine
from tests.conftest import CATALOGUE, SETTINGS, Clock
from tests.often import examples

NAMES = sorted(set(COMMANDS) - {"serve", "demo", "new", "labels"})
TYPED = st.sampled_from([
    "firm", "soft", "pudding", "smoked", "firm-block", "firm-block*2", "cup-small+ginger",
    "cup-small*9", "pressed:0.4kg", "26328-01", "26328-02", "26328-03/1", "26328-99", "26366-01",
    "2026-11-24", "2026-11-24/0001", "2026-11-24/0001/2", "0001-01-01", "9999-12-31", "2026-02-29",
    "12:00", "2026-11-24 03:00", "2026-11-01 01:30", "0001-01-01 00:00", "5", "0", "-1", "1e9",
    "96", "10min", "95C,15min", "40C", "08:10,11:30", "60psi,25min", "12kg", "8l", "1.005", "20.00",
    "1000000", "rest", "10%", "100%", "NaN", "inf", "broken", "9521234000013", "]C126328-01",
    "]E09521234000013", "(01)09521234000013(10)26328-01", "\x1d10AB", "open", "check", "end",
    "load", "float", "in", "out", "20x1 5x4", "gypsum 3g", "ginger=2g", "26328-01:4", "soybeans=B",
])  # fmt: skip
OPTIONS = sorted(
    {o for c in COMMANDS.values() for p in c.params for o in p.opts if o.startswith("-")}
    | {"--hot", "--cold", "--by-time", "--left", "--keep", "--holds", "--temp"}
    - {"--help", "-h", "--replace", "--lan"}
)
JUNK = st.text(st.characters(blacklist_categories=("Cs",), blacklist_characters="\0"), max_size=12)
WORD = st.one_of(TYPED, TYPED, st.sampled_from(OPTIONS), JUNK)


@examples(100, shared=True)
@given(st.lists(st.tuples(st.sampled_from(NAMES), st.lists(WORD, max_size=7)), max_size=3))
def test_no_command_line_ends_in_a_traceback(
    clock: Clock, commands: list[tuple[str, list[str]]]
) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "shop"
        make_shop(folder, SETTINGS).products.load_catalogue(CATALOGUE)
        line = CommandLine(folder, clock)
        line.done("batch", "firm", "--made", "9", "--boiled", "10min")
        line.done("batch", "pudding", "--made", "8l", *COLD)
        line.done("tub", "open", "26328-02", "--cold", "--temp", "4C")
        line.done("sell", "firm-block*2", "cup-small", "--cash")
        for command, words in commands:
            result = line.run(command, *words)
            assert result.exit_code in (0, 1, 2)
            assert result.exit_code == 0 or result.stderr
        # Whatever was written can be read again.
        assert line.shop().audit.check().sound
        assert line.run("shelf").exit_code == 0
        assert line.run("day").exit_code == 0


@examples(40, shared=True)
@given(st.data())
def test_no_settings_or_catalogue_text_ends_in_a_traceback(
    clock: Clock, data: st.DataObject
) -> None:
    which = data.draw(st.sampled_from(["settings", "catalogue"]))
    text = SETTINGS if which == "settings" else CATALOGUE
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(text)))
        length = data.draw(st.integers(0, 30))
        piece = data.draw(st.one_of(
            st.text(max_size=6),
            st.sampled_from(['"', "nan", "inf", "[", "]", "=", "true", "-1", "1e400", '"NaN"', "{}", "\n\n"]),
        ))  # fmt: skip
        text = text[:place] + piece + text[place + length :]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "shop"
        make_shop(folder, SETTINGS).products.load_catalogue(CATALOGUE)
        line = CommandLine(folder, clock)
        file = folder / "shop.toml" if which == "settings" else folder / "new.toml"
        file.write_bytes(text.encode("utf-8", "replace"))
        words = ("shelf",) if which == "settings" else ("catalogue", "load", str(file))
        result = line.run(*words)
        assert result.exit_code in (0, 1, 2)
        if result.exit_code == 0:
            assert line.run("batch", "firm", "--made", "9", "--boiled", "10min").exit_code in (
                0,
                1,
                2,
            )
            assert line.run("sell", "firm-block", "--cash").exit_code in (0, 1, 2)
            assert line.run("close", "--json").exit_code in (0, 1, 2)
