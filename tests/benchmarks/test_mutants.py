"""The list of mutants follows the code: one whose place is gone stops the whole run, and was seen only months later."""

from tests.benchmarks.mutants.by_hand import CHANGES, of_the_rest
from tests.benchmarks.mutants.equivalent import EQUIVALENT
from tests.benchmarks.mutants.operators import KINDS, of_guards


def test_every_mutant_still_has_its_place():
    made = [*of_guards(), *of_the_rest()]
    names = [mutant.name for mutant in made]
    assert len(names) == len(set(names))
    assert {mutant.kind for mutant in made} == {*KINDS, "by_hand"}
    assert sum(mutant.kind == "by_hand" for mutant in made) == len(CHANGES)


def test_what_is_listed_as_equivalent_is_a_mutant():
    assert set(EQUIVALENT) <= {mutant.name for mutant in (*of_guards(), *of_the_rest())}
