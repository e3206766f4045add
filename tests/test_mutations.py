"""The run of random changes sees a rule that is broken, and blames none for a change of nothing."""

from __future__ import annotations

from pathlib import Path

from tests.mutations import EQUIVALENT, ROOT, Copy, Mutant, mutants_of

RULES = "labels/quantity.py"
LAW = "tests/standards_labels/test_us_law.py"
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


def changed(file: str, line: str, new: str) -> Mutant:
    """The change of the first line that begins so."""
    many = mutants_of((ROOT / file).read_text("utf-8"), file)
    return next(one for one in many if one.within.startswith(line) and one.new == new)


def test_a_gallon_of_129_fluid_ounces_is_seen_and_a_gallon_of_128_is_not(tmp_path: Path) -> None:
    """By the tests that execute the line, or that read what it makes when it is imported."""
    tried = Copy(tmp_path / "copy")
    record = tried.record(tmp_path / "told", "-n1", LAW, "tests/labels/test_boxes.py")
    broken = changed(RULES, "_FLUID", "129")
    assert {test.split("::")[0] for test in record.tests_of(broken)} == {LAW}
    assert tried.killer(broken, record).startswith(LAW)
    assert tried.killer(broken._replace(new=broken.old), record) == ""
    rounded = changed(RULES, "return digits_down(value, 3)", "4")  # within a function
    assert 0 < len(record.tests_of(rounded)) < len(record.tests_of(broken))
    assert record.tests_of(changed("counter/trade/drawer.py", "self.coins[value]", "min")) == []


def test_each_change_that_is_judged_equivalent_is_still_one_of_the_rules() -> None:
    for line in EQUIVALENT.read_text("utf-8").splitlines():
        change, why = line.split("  # ")
        file = change.split()[0]
        assert why
        assert change in {one.change for one in mutants_of((ROOT / file).read_text("utf-8"), file)}
