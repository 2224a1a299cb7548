"""The list of mutants keeps up with the house; `mutation.py` itself is a long run."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path

import planopt
from benchmarks.mutants import MUTANTS, read_mutants

HOUSE = Path(planopt.__file__).parent
TESTS = Path(__file__).resolve().parents[1]


def test_every_mutant_has_its_place_and_its_tests() -> None:
    """Text that stands once, a change that is still Python, and tests that exist.

    Whoever changes such a line mends `mutants.txt` with it, or takes the mutant out.
    """
    wrong = []
    for mutant in MUTANTS:
        text = (HOUSE / mutant.file).read_text(encoding="utf-8")
        planted = mutant.planted(text)
        if planted is None:
            wrong.append(f"{mutant.file}: {mutant.name}: {text.count(mutant.old)} places")
            continue
        assert ast.dump(ast.parse(planted)) != ast.dump(ast.parse(text)), mutant.name
        for test in mutant.tests:
            file, _, name = test.removeprefix("tests/").partition("::")
            assert (TESTS / file).is_file(), test
            assert f"def {name}(" in (TESTS / file).read_text(encoding="utf-8") or not name, test
    assert wrong == []


def test_there_are_enough_of_each_kind_with_names_of_their_own() -> None:
    """A hundred were asked for; no two of one file share a name."""
    kinds = Counter(mutant.part for mutant in MUTANTS)
    assert set(kinds) == {"Safety", "Money", "Bounds"}
    assert sum(kinds.values()) >= 200
    assert min(kinds.values()) >= 30
    names = Counter((mutant.file, mutant.name) for mutant in MUTANTS)
    assert {key for key, count in names.items() if count > 1} == set()


def test_a_list_is_read_as_it_is_meant() -> None:
    """Signs begin rows; what stands before the first part is for the reader alone."""
    text = (
        "words\n@ no: no\n=== Money\n@ a.py: one.py two.py\n"
        "# b\n- x\n-  y\n+ z\n& three.py\n# c\n- u\n"
    )
    first, second = read_mutants(text)
    assert (first.part, first.file, first.name) == ("Money", "a.py", "b")
    assert (first.old, first.new) == ("x\n y", "z")
    assert first.tests == ("tests/one.py", "tests/two.py", "tests/three.py")
    assert (second.old, second.new, second.tests) == ("u", "", ("tests/one.py", "tests/two.py"))
    assert first.planted("a x\n y") == "a z"
    assert first.planted("a x\n y x\n y") is None
