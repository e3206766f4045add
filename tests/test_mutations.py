"""The run of random changes sees a rule that is broken, and blames none for a change of nothing."""

from __future__ import annotations

from pathlib import Path

from tests.mutations import ROOT, Copy, mutants_of, near

RULES = "labels/quantity.py"
LAW = (["tests/standards_labels/test_us_law.py", "-k", "gallon", "-n", "0"], 60)
SOURCE = """
def tax(net: int, rate: Decimal = Decimal("0.19")) -> int:
    if net <= 0 or not rate:
        raise ValueError
    return half_up(sum_of(net, rate), [p for p in (1.5, True) if p])
"""


def test_each_kind_of_change_is_made_and_is_still_python() -> None:
    made = mutants_of(SOURCE, "tax.py")
    for one in made:
        compile(SOURCE[: one.start] + one.new + SOURCE[one.end :], "tax.py", "exec")
    assert {(one.line, one.kind, one.new) for one in made} == {
        (2, "constant", "Decimal('0.10')"),
        (3, "constant", "1"), (3, "constant", "(-1)"),
        (3, "operator", "(net < 0)"), (3, "operator", "(rate)"),
        (3, "operator", "(net <= 0 and (not rate))"), (3, "refusal", "False"),
        (4, "refusal", "pass"),
        (5, "rounding", "int"), (5, "order", "sum_of(rate, net)"),
        (5, "order", "half_up([p for p in (1.5, True) if p], sum_of(net, rate))"),
        (5, "constant", "1.6875"), (5, "constant", "False"), (5, "element", "True"),
        (5, "element", "(True,)"), (5, "element", "(1.5,)"),
    }  # fmt: skip


def test_a_gallon_of_129_fluid_ounces_is_seen_and_a_gallon_of_128_is_not(tmp_path: Path) -> None:
    tried = Copy(tmp_path / "copy")
    source = (ROOT / RULES).read_text("utf-8")
    [broken] = [
        one for one in mutants_of(source, RULES) if (one.old, one.new) == ("128", "129")
        and source.splitlines()[one.line - 1].startswith("_FLUID")
    ]  # fmt: skip
    same = broken._replace(new=broken.old)
    assert "gallon" in tried.killer(broken, [LAW])
    assert tried.killer(same, [LAW]) == ""


def test_the_tests_of_a_module_are_its_examples_who_imports_it_and_its_room() -> None:
    found = near("counter/trade/money.py")
    assert found[0] == "counter/trade/money.py"
    assert "tests/trade/test_money.py" in found
    room = ["tests/trade", "tests/standards", "tests/shop", "tests/tricks"]
    assert found[-6:] == [*room, "-n", "0"]
