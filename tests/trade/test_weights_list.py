"""Weights of packs out of a list, as the shop's market writes them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counter.errors import BadInput
from counter.trade.weighed import MOST_WEIGHED, parse_weights
from labels.errors import BadValue


@pytest.mark.parametrize(
    ("text", "per", "comma", "weights"),
    [
        ("0.42", "lb", False, ["0.42 lb"]),
        ("0.42\n0.38\r\n\n.5", "lb", False, ["0.42 lb", "0.38 lb", "0.5 lb"]),
        ("0.42, 0.38;0.4\t1", "lb", False, ["0.42 lb", "0.38 lb", "0.4 lb", "1 lb"]),
        ("0.42,0.38", "lb", False, ["0.42 lb", "0.38 lb"]),  # a point is decimal here
        ("0,415 0,38; 1,2 kg", "kg", True, ["0.415 kg", "0.38 kg", "1.2 kg"]),
        ("0.42 lb 190g 6.7 oz .2kg", "lb", False, ["0.42 lb", "190 g", "6.7 oz", "0.2 kg"]),
        ("0.42 lbs, 2 pounds", "kg", False, ["0.42 lb", "2 lb"]),
        (" , ;\n ", "lb", False, []),
    ],
)
def test_a_list_of_weights_is_read_in_its_order(
    text: str, per: str, comma: bool, weights: list[str]
) -> None:
    assert [str(one) for one in parse_weights(text, per, comma)] == weights


@pytest.mark.parametrize(
    ("text", "comma", "sentence"),
    [
        ("0.42 =1+1", False, "Cannot read weight '=1+1': it is no weight (number 2 of the list). "
         "Write each as 0.42 or 0.42 lb."),
        ("-0.4", False, "Cannot read weight '-0.4': it is no weight (number 1 of the list)."),
        ("1.2.3", False, "Cannot read weight '1.2.3'"),
        ("0,42,0,38", True, "Cannot read weight '0,42,0,38'"),
        ("0.42lb0.38", False, "Cannot read weight '0.42lb0.38'"),
        ("$3.20", False, "Cannot read weight '$3.20'"),
        ("0.4; heavy, 0.38", False, "Cannot read weight 'heavy,': "),
        ("٣", False, "Cannot read weight '٣'"),
        ("1e3", False, "Cannot read weight '1e3'"),
        ("0.4 stone", False, "Cannot read mass '0.4 stone': the unit 'stone' is not known here."),
        ("0.4 l", False, "Cannot read mass '0.4 l': the unit 'l' is not known here."),
    ],
)  # fmt: skip
def test_what_is_no_weight_is_named(text: str, comma: bool, sentence: str) -> None:
    with pytest.raises((BadInput, BadValue)) as refusal:
        parse_weights(text, "lb", comma)
    assert sentence in str(refusal.value)


def test_more_packs_than_one_run_takes_are_refused() -> None:
    assert len(parse_weights("0.4\n" * MOST_WEIGHED, "lb")) == MOST_WEIGHED
    with pytest.raises(BadInput, match="more than 500 are too many for one run"):
        parse_weights("0.4\n" * (MOST_WEIGHED + 1), "lb")


@given(
    st.lists(st.decimals(0, 99, places=3), max_size=20), st.sampled_from(["\n", "; ", " ", "\t"])
)
def test_every_list_that_is_written_is_read_again(weights: list[object], gap: str) -> None:
    text = gap.join(f"{one:f}" for one in weights)
    assert [one.amount for one in parse_weights(text, "lb")] == weights


def refused(text: str) -> str:
    """The sentence that refuses a list, "" for one that is read."""
    try:
        parse_weights(text, "kg", True)
    except (BadInput, BadValue) as refusal:
        return str(refusal)
    return ""


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused_in_a_sentence(text: str) -> None:
    said = refused(text)
    assert not said or said.startswith("Cannot read ")
