"""Changing ``shop.toml`` entry by entry: what nobody touched stays, what comes out is checked."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import BadInput
from counter.trade.schema import BadEntry
from counter.trade.settings import parse_settings
from counter.trade.settings_text import change_settings, merged, said_changes
from labels.plain import plain_text
from tests.conftest import SETTINGS


def comments(text: str) -> list[str]:
    """Every comment of a text in which no value holds a number sign."""
    return [line.partition("#")[2] for line in text.splitlines() if "#" in line]


def test_every_line_that_is_not_changed_stays_as_it_was() -> None:
    made = change_settings(SETTINGS, {("shop", "city"): "Lower Ferry", ("shop", "opens"): "07:30"})
    before, after = SETTINGS.splitlines(), made.splitlines()
    assert [line for line in after if line not in before] == [
        'city = "Lower Ferry"',
        'opens = "07:30"',
    ]
    assert [line for line in before if line not in after] == ['city = "Alder Ferry"']
    assert comments(made) == comments(SETTINGS)


def test_the_comment_behind_a_changed_value_stays() -> None:
    made = change_settings(SETTINGS, {("cash", "smallest_coin"): "0.01"})
    assert 'smallest_coin = "0.01"              # cash totals are rounded to it' in made


def test_a_tax_class_is_added_and_taken_away() -> None:
    made = change_settings(SETTINGS, {
        ("tax", "classes", "grocery"): None, ("tax", "classes", "drinks"): {"here": "0.1", "away": "0"},
    })  # fmt: skip
    classes = parse_settings(made).tax.classes
    assert set(classes) == {"prepared", "drinks"}
    assert str(classes["drinks"].here) == "0.1"
    assert '"0"\n\n[labels]' in made  # tables stay apart


WAYS = [  # the same entries, as different people write them
    "[shop]\nname = 'A'\nstreet='B'\ncity='C'\nzip='1'\n",
    "shop.name = 'A'\nshop.street='B'\nshop.city='C'\nshop.zip='1'\n",
    "shop = {name = 'A', street = 'B', city = 'C', zip = '1'}\n",
    "[shop]\r\nname = 'A' # us\r\nstreet='B'\r\ncity='C'\r\nzip='1'\r\n",
    "\ufeff[shop]\nname = 'A'\nstreet='B'\ncity='C'\nzip='1'",
    "[shop]\nname = '''A'''\nstreet=\"\"\"B\"\"\"\ncity='C'\nzip='1'\n[holding]\n",
]


@pytest.mark.parametrize("text", WAYS)
def test_a_file_is_changed_however_it_is_laid_out(text: str) -> None:
    made = change_settings(text, {
        ("shop", "city"): "Ñ \"x\" \\ y", ("holding",): {"hot well": "hot"}, ("backup", "keep_days"): 3,
    })  # fmt: skip
    found = parse_settings(made)
    assert (found.shop.city, found.shop.name) == ('Ñ "x" \\ y', "A")
    assert dict(found.holding) == {"hot well": "hot"}
    assert found.backup.keep_days == 3
    assert made.startswith("\ufeff") == text.startswith("\ufeff")
    assert made.count("\r\n") == (made.count("\n") if "\r\n" in text else 0)


TEXT = st.text(
    st.characters(exclude_categories=["Cs"]) | st.sampled_from("\"\\'\n\t\x7f#=[]{}"), max_size=12
).map(plain_text)  # what nobody sees is taken out where a file is read
CHANGES = st.dictionaries(
    st.sampled_from(
        [
            ("shop", "name"),
            ("shop", "phone"),
            ("labels", "storage"),
            ("labels", "printer"),
            ("backup", "folder"),
        ]
    ),
    st.none() | TEXT,
    max_size=4,
).filter(lambda c: c.get(("shop", "name"), "") is not None)


@given(CHANGES, st.dictionaries(TEXT.filter(bool), st.sampled_from(["cold", "hot"]), max_size=3))
def test_whatever_is_typed_is_read_back_as_it_was_typed(changes: Any, places: Any) -> None:
    wanted = {**changes, **{("holding", name): how for name, how in places.items()}}
    made = change_settings(SETTINGS, wanted)
    assert tomllib.loads(made) == merged(tomllib.loads(SETTINGS), wanted)
    assert comments(SETTINGS)[0] in made


@pytest.mark.parametrize(("path", "value", "why"), [
    (("shop", "timezone"), "Mars/Base", "there is no time zone 'Mars/Base'"),
    (("shop", "day_starts"), "25:00", "it is no time of the day"),
    (("shop", "opens"), "", "it is no time of the day"),
    (("shop", "language"), "xx_YY", "there is no language 'xx_YY'"),
    (("cash", "currency"), "XXQ", "there is no currency 'XXQ'"),
    (("cash", "smallest_coin"), "0", "a coin is worth more than nothing"),
    (("cash", "float"), "1.005", ""),
    (("tax", "classes", "prepared", "here"), "1.2", "a rate is a part of one"),
    (("tax", "classes", "prepared", "here"), "NaN", "a rate is a part of one"),
    (("tax", "mode"), "both", ""),
    (("labels", "restricted"), ["mars"], ""),
    (("backup", "keep_days"), 0, ""),
    (("holding", "fridge"), "warm", ""),
    (("blanks", "mine"), {"name": "mine", "width": 1.0, "height": 50.0}, "1 x 50 mm is no size of a label"),
    (("shop", "market"), "mars", ""),
    (("shop", "nonsense"), "x", ""),
])  # fmt: skip
def test_what_cannot_be_is_refused_with_its_key(path: Any, value: Any, why: str) -> None:
    with pytest.raises(BadEntry) as caught:
        change_settings(SETTINGS, {path: value})
    # A key that the file may not have at all is blamed on its table.
    blamed = caught.value.path
    assert ".".join(path).startswith(blamed)
    assert blamed
    assert why in caught.value.fault
    assert str(caught.value).startswith("Cannot read shop.toml: ")


def test_a_file_that_is_no_toml_is_refused_with_its_line() -> None:
    with pytest.raises(BadInput, match=r"Cannot read shop\.toml: .*line 2"):
        change_settings("[shop]\nname = \n", {("shop", "name"): "x"})


def test_the_log_tells_what_was_and_what_is() -> None:
    table = tomllib.loads(SETTINGS)
    assert said_changes(table, {
        ("shop", "city"): "Alder Ferry", ("shop", "zip"): "1", ("tax", "classes", "new"): None,
        ("shop", "closes"): "17:00",
    }) == ["shop.zip: '98799' -> '1'", "shop.closes: None -> '17:00'"]  # fmt: skip
