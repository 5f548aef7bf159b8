"""The registry: codes, words, ranges, and that every guard says what it does."""

import ast
import inspect
import string
import sys
from dataclasses import dataclass, fields, replace

import pytest

from dosectl.core.interlocks import guards as guards_package
from dosectl.core.interlocks.guard import GuardKind, memory_key
from dosectl.core.interlocks.guards import cell_power
from dosectl.core.interlocks.registry import KINDS, build, default_params, unable
from dosectl.model.ranges import check_ranges
from dosectl.model.reasons import Code, ReasonKind
from dosectl.model.signals import SignalId, SignalKind
from tests.builders import CELL, a_cell, a_chlorine_pump, a_signal, a_site, an_acid_pump

FULL = a_site(
    feeders=(a_chlorine_pump(), an_acid_pump(level=SignalId("level"))),
    more_signals=(
        *(
            a_signal(kind)
            for kind in (
                SignalKind.SAMPLE_FLOW,
                SignalKind.FREE_CHLORINE,
                SignalKind.LEVEL,
                SignalKind.COVER,
                SignalKind.SALT,
                SignalKind.WATER_PATH,
                SignalKind.STOP_INPUT,
            )
        ),
        a_signal(SignalKind.PH, "ph2", partner=SignalId("ph")),
        a_signal(SignalKind.ORP, "orp2", partner=SignalId("orp")),
        a_signal(SignalKind.CELL_CURRENT, feeder=CELL),
    ),
)


LEVELS = (a_signal(SignalKind.LEVEL, "acid_level"), a_signal(SignalKind.CELL_VOLTAGE, feeder=CELL))
UNFITTED = ("water.path", "probe.sample", "probe.agreement", "high.chlorine", "salt.level", "cover.closed")


def knowing(site, *names):
    """The site, its owner having said that it does without these."""
    return replace(site, pool=replace(site.pool, without=names))


ABLE = knowing(a_site(feeders=(a_cell(), an_acid_pump(level=SignalId("acid_level"))), more_signals=LEVELS), *UNFITTED)
VOLTS = {cell_power.CODE: cell_power.CellPowerParams(volts_max=28.0)}
AMPERES = {cell_power.CODE: cell_power.CellPowerParams(expected_a=5.0)}


def test_a_plant_that_has_what_any_such_plant_can_have_leaves_no_guard_unable():
    assert unable(ABLE, VOLTS) == ()
    assert unable(knowing(a_site(feeders=(a_chlorine_pump(level=SignalId("level")),)), *UNFITTED)) == ()


def test_a_guard_that_lacks_a_signal_or_a_figure_is_named():
    cell, acid = ABLE.feeders
    assert unable(replace(ABLE, feeders=(replace(cell, feedback=None), acid)), VOLTS) == ("feeder.runs",)
    assert unable(replace(ABLE, feeders=(cell, replace(acid, level=None))), VOLTS) == ("change.unfed",)
    covered = replace(ABLE, pool=replace(ABLE.pool, covered=True))
    assert unable(covered, VOLTS) == ("cover.closed",)  # a cover that no signal tells of
    assert unable(ABLE) == ("cell.power",)
    assert unable(ABLE, AMPERES) == ("cell.power",)  # what a voltage is worth is not told by a current
    measured = replace(ABLE, signals=(*ABLE.signals, a_signal(SignalKind.CELL_CURRENT, feeder=CELL)))
    assert unable(measured, AMPERES) == ()
    assert unable(replace(ABLE, signals=ABLE.signals[:-1]), VOLTS) == ("cell.power",)


def test_a_guard_that_is_off_is_named_unless_the_owner_has_said_that_the_pool_does_without_it():
    assert set(unable(knowing(ABLE), VOLTS)) == set(UNFITTED)
    for name in UNFITTED:
        others = tuple(other for other in UNFITTED if other != name)
        assert unable(knowing(ABLE, *others), VOLTS) == (name,)


def test_a_guard_that_is_fitted_or_has_nothing_to_do_here_is_not_called_off():
    assert not set(unable(FULL, VOLTS)) & set(UNFITTED)
    acid_alone = a_site(feeders=(an_acid_pump(level=SignalId("acid_level")),))
    assert set(unable(acid_alone)) == {"water.path", "probe.sample", "probe.agreement"}


def test_plain_relays_have_no_node_whose_guards_could_run_and_that_is_told():
    relays = replace(ABLE, feeders=tuple(replace(feeder, node=None) for feeder in ABLE.feeders))
    assert unable(relays, VOLTS) == ("record.gap", "node.online")


def test_what_no_pool_may_do_without_is_named_whatever_the_owner_says():
    cell, acid = ABLE.feeders
    unseen = replace(ABLE, feeders=(replace(cell, feedback=None), acid))
    assert unable(knowing(unseen, *UNFITTED, "feeder.runs"), VOLTS) == ("feeder.runs",)


def reason_kinds_given():
    """(module, constant, keywords) of every `NAME.because(...)` in the guards' files; None: keywords spread from a dict."""
    found = []
    for module in sys.modules.values():
        name = getattr(module, "__name__", "")
        if not name.startswith(guards_package.__name__ + "."):
            continue
        for node in ast.walk(ast.parse(inspect.getsource(module))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "because"):
                continue
            constants = [n.id for n in ast.walk(node.func.value) if isinstance(n, ast.Name) and n.id.isupper()]
            keywords = {keyword.arg for keyword in node.keywords}
            found.extend((module, constant, keywords) for constant in constants)
    return found


def places(kind: ReasonKind) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(kind.words) if name}


def test_every_place_in_the_words_of_a_reason_is_a_fact_that_is_given():
    given = reason_kinds_given()
    assert len(given) > 50
    for module, constant, keywords in given:
        kind = getattr(module, constant)
        if None in keywords:  # facts from a dict: its keys are checked where the reason is rendered in the guard's own tests
            assert "since" in places(kind)
            continue
        assert places(kind) - {"since"} <= keywords, f"{kind.code}: {places(kind)} of {keywords}"


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.code)
def test_a_kind_declares_its_reasons_with_words_and_its_row_of_the_table(kind: GuardKind):
    for reason in kind.reasons:
        assert len(reason.words) > 40
        assert reason.words.endswith(".")
        assert reason.words.startswith("pH") or not reason.words[0].islower()
    assert kind.stops
    assert kind.clears
    assert len(kind.why) > 20


def test_every_reason_that_a_guard_declares_belongs_to_exactly_one_kind():
    declared = [id(reason) for kind in KINDS for reason in kind.reasons]
    modules = {module for module, _, _ in reason_kinds_given()}
    constants = {id(value) for module in modules for value in vars(module).values() if isinstance(value, ReasonKind)}
    assert constants <= set(declared)
    codes = {reason.code: id(reason) for kind in KINDS for reason in kind.reasons}
    assert len(codes) == len(set(declared))


def test_codes_of_kinds_are_unique_and_keys_of_memories_too():
    assert len({kind.code for kind in KINDS}) == len(KINDS)
    for site in (a_site(), FULL):
        keys = [memory_key(guard) for guard in build(site)]
        assert len(set(keys)) == len(keys)


def test_every_kind_builds_a_guard_for_a_site_that_has_everything():
    with_cell = a_site(more_signals=FULL.signals[7:])
    codes = {str(guard.code) for site in (FULL, with_cell) for guard in build(site)}
    for kind in KINDS:
        assert any(code == kind.code or code.startswith(f"{kind.code}.") for code in codes), kind.code


def test_guards_stand_before_every_feeder_and_bind_only_those_of_the_site():
    ids = {feeder.id for feeder in FULL.feeders}
    for guard in build(FULL):
        assert guard.feeders
        assert set(guard.feeders) <= ids


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.params is not None], ids=lambda kind: kind.code)
def test_defaults_lie_in_their_ranges_and_every_setting_has_unit_and_reason(kind: GuardKind):
    params = kind.params()
    assert check_ranges(params) == ()
    for field in fields(params):
        limits = field.metadata["range"]
        assert limits.ge < limits.le
        assert limits.unit
        assert limits.why.startswith(("derived", "common practice", "engineering judgement", "0: not known"))


def test_missing_params_take_the_defaults():
    assert [memory_key(g) for g in build(FULL, {})] == [memory_key(g) for g in build(FULL, default_params())]


def test_params_of_a_guard_that_does_not_exist_or_of_another_guard_are_refused():
    with pytest.raises(ValueError, match=r"no guard of that name: flow\.prooven"):
        build(FULL, {Code("flow.prooven"): None})

    @dataclass(frozen=True)
    class Other:
        proving_s: float = 1.0

    with pytest.raises(ValueError, match="expected FlowProvenParams, found Other"):
        build(FULL, {Code("flow.proven"): Other()})
