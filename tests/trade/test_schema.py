"""Keys of a file, declared once: what comes of a declaration, whatever the file."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Annotated, Any, Literal

import msgspec
import pytest

from counter.trade.catalogue import Catalogue
from counter.trade.catalogue_file import CatalogueFormat, tables_of
from counter.trade.schema import BadEntry, Format, Writer, explained, key
from counter.trade.settings import Settings, SettingsFormat, SettingsWriter, parse_settings
from tests.conftest import CATALOGUE, SETTINGS


class Wheel(msgspec.Struct, frozen=True):
    spokes: Annotated[int, key("how many")]


class Cart(msgspec.Struct, frozen=True):
    key: str
    price: Annotated[int, key("of one", "money")]
    colour: Annotated[Literal["red", "blue"], key("of its box", file="box")] = "red"
    wheels: Annotated[tuple[Wheel, ...], key("each of them")] = ()
    bell: Annotated[Wheel | None, key("false for none")] = Wheel(1)
    least: Annotated[int, msgspec.Meta(ge=1), key("how many go")] = 2
    secret: str = "not in the file"


class Carts(msgspec.Struct, frozen=True):
    carts: Annotated[dict[str, Cart], key("by name")] = {}


class CartFormat(Format):
    def faults(self, made: Any, path: str) -> Iterator[tuple[str, str]]:
        yield path, ""
        if isinstance(made, Cart) and len(made.wheels) == 3:
            yield f"{path}.wheels", "a cart on three wheels falls"


def read(text: str) -> Any:
    return CartFormat(2, text, "carts.toml").made(Carts, tomllib.loads(text))


GOOD = """
[carts.small]
price = "3.50"
box = "blue"
wheels = [{ spokes = 4 }, { spokes = 6 }]
bell = false
"""


def test_a_table_becomes_a_record_and_is_written_back_as_it_was() -> None:
    made = read(GOOD)
    assert made.carts["small"] == Cart("small", 350, "blue", (Wheel(4), Wheel(6)), None)
    assert Writer(2).told(made) == tomllib.loads(GOOD)


@pytest.mark.parametrize(("old", "new", "said"), [
    ('box = "blue"', 'box = "green"', "'carts.small.box' (line 4): 'green' is none of red, blue"),
    ("box", "bocks", "'carts.small.bocks' (line 4): there is no key 'bocks': there are price, box, wheels, bell, least"),
    ("box", "secret", "'carts.small.secret' (line 4): there is no key 'secret': there are price, box, wheels, bell, least"),
    ('price = "3.50"', "", "'carts.small' (line 2): the key 'price' is missing"),
    ('"3.50"', "3.5", "'carts.small.price' (line 3): expected is a text, not 3.5"),
    ('"3.50"', '"3.505"', "'carts.small.price' (line 3): '3.505': it has parts of the smallest coin"),
    ("spokes = 6", "spokes = '6'", "'carts.small.wheels[1].spokes' (line 5): expected is a whole number, not \"6\""),
    ("bell = false", "bell = true", "'carts.small.bell' (line 6): expected is a table, not true"),
    ("bell = false", "least = 0", "'carts.small.least' (line 6): 0 is less than 1"),
    ("[{ spokes = 4 }, ", "[{ spokes = 4 }, { spokes = 5 }, ", "'carts.small.wheels' (line 5): a cart on three wheels falls"),
])  # fmt: skip
def test_what_cannot_be_is_named_with_its_key_its_line_and_what_is_allowed(
    old: str, new: str, said: str
) -> None:
    assert old in GOOD
    with pytest.raises(BadEntry) as caught:
        read(GOOD.replace(old, new, 1))
    assert str(caught.value) == f"Cannot read carts.toml: {said}. Mend it and try again."


def test_the_keys_of_a_declaration_are_told_with_what_may_stand_there() -> None:
    assert [*explained(Carts, CartFormat.forms)] == [
        ("carts", "a table", "by name."),
        ("carts.KEY.price", 'money, as "3.50"; needed', "of one."),
        ("carts.KEY.box", '"red" or "blue"; red where none is written', "of its box."),
        ("carts.KEY.wheels", "a list, each a table", "each of them."),
        ("carts.KEY.wheels[].spokes", "a whole number; needed", "how many."),
        ("carts.KEY.bell", "a table", "false for none."),
        ("carts.KEY.bell.spokes", "a whole number; needed", "how many."),
        ("carts.KEY.least", "a whole number; 2 where none is written", "how many go."),
    ]


def test_all_of_the_settings_are_written_back_equal() -> None:
    made = parse_settings(SETTINGS)
    assert parse_settings("", tables=SettingsWriter(made.places).told(made)) == made


@pytest.mark.parametrize("record", [Settings, Catalogue])
def test_every_key_of_the_two_files_says_what_it_means(record: Any) -> None:
    forms = (SettingsFormat if record is Settings else CatalogueFormat).forms
    told = [*explained(record, forms)]
    assert len(told) > 50
    assert all(len(says) > 3 and allowed for _, allowed, says in told)
    assert len({path for path, _, _ in told}) == len(told)
    assert not [path for path, *_ in told if path.endswith(".pin")]


def test_the_tables_of_a_catalogue_are_those_of_its_file() -> None:
    form = CatalogueFormat(2, {"grocery", "prepared"}, text=CATALOGUE, file="catalogue.toml")
    made = form.made(Catalogue, form.tables)
    told = tables_of(made, 2)
    assert list(told) == ["ingredients", "products", "portions", "toppings", "staff"]
    assert told["products"]["firm"]["recipe"] == form.tables["products"]["firm"]["recipe"]
