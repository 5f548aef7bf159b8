"""The digest holds a feeder for every safety-relevant change that concerns it, and for nothing else."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.model.feeds import FeederId
from dosectl.settings.differences import before_after, confirms_itself
from dosectl.settings.digest import digest_of, feeder_fields
from tests.settings.example_data import example, loaded

SALT = "salt_and_acid"


def digests(data: dict[str, Any]) -> dict[str, str]:
    site = loaded(data).site
    return {"site": site.digest} | {str(feeder.id): feeder.digest for feeder in site.feeders}


def changed(**changes: Any) -> set[str]:
    before, after = digests(example(SALT)), digests(example(SALT, **changes))
    return {name for name in before if before[name] != after[name]}


@pytest.mark.parametrize(
    ("changes", "concerned"),
    [
        ({"pool__volume_m3": 49.0}, {"site", "cell", "acid"}),
        ({"pool__alkalinity_mg_l": 90}, {"site", "acid"}),
        ({"pool__stabiliser_mg_l": 60}, {"site", "cell"}),
        ({"feeders__acid__rate_ml_min": 20}, {"site", "acid"}),
        ({"feeders__cell__output_g_h": 14}, {"site", "cell"}),
        ({"signals__flow__topic": "plant/other"}, {"site", "cell", "acid"}),
        ({"signals__acid_load__on_above_w": 3}, {"site", "cell", "acid"}),  # the lockout judges by both feedbacks
        ({"signals__acid_level__topic": "plant/x"}, {"site", "acid"}),
        ({"signals__orp__sigma_mv": 8}, {"site", "cell"}),
        ({"timing__expires_s": 12}, {"site", "cell", "acid"}),
        ({"guards": {"flow": {"proven": {"proving_s": 90}}}}, {"site", "cell", "acid"}),
        ({"probes": {"prove_s": 400}}, {"site", "cell", "acid"}),
        ({"pool__simulated": True}, {"site", "cell", "acid"}),
        ({"pool__name": "Other", "broker__host": "10.0.0.1", "journal": {"file": "x"}}, set()),
        ({"control": {"ph_target": 7.4}, "estimate": {"period_s": 90}}, set()),
        ({"feeders__cell__full_from_c": 12}, set()),
        ({"pool__depth_m": 2, "pool__latitude_deg": 48}, set()),
    ],
)
def test_a_change_holds_the_feeders_it_concerns(changes: dict[str, Any], concerned: set[str]) -> None:
    assert changed(**changes) == concerned


def test_the_order_of_keys_and_the_way_a_number_is_written_change_nothing() -> None:
    data = example(SALT, pool__volume_m3=50, signals__flow__period_s=3.0)
    data = {name: dict(reversed(list(table.items()))) if name == "pool" else table for name, table in data.items()}
    assert digests(data) == digests(example(SALT))


@given(
    st.dictionaries(st.text(max_size=8), st.one_of(st.floats(allow_nan=False, allow_infinity=False), st.text(), st.booleans()))
)
def test_a_digest_is_that_of_the_content(fields: dict[str, Any]) -> None:
    assert digest_of(fields) == digest_of(dict(reversed(list(fields.items()))))
    assert digest_of(fields) != digest_of({**fields, "one more": 1})


def sheet(name: str = SALT, feeder: str = "acid", **changes: Any) -> tuple[Any, ...]:
    old, new = loaded(example(name)), loaded(example(name, **changes))
    one = FeederId(feeder)
    return before_after(
        feeder_fields(old.fields, old.site, old.site.feeder(one)), feeder_fields(new.fields, new.site, new.site.feeder(one))
    )


def test_nothing_changed_is_an_empty_sheet_that_confirms_itself() -> None:
    assert sheet() == ()
    assert confirms_itself(())


def test_a_smaller_cap_confirms_itself_and_a_larger_one_does_not() -> None:
    assert confirms_itself(sheet(feeders__acid__node_cap_s_per_h=1000))
    assert not confirms_itself(sheet(feeders__acid__node_cap_s_per_h=2500))


def test_a_change_of_output_is_told_in_mg_l_and_ph() -> None:
    (difference,) = sheet(feeders__acid__node_cap_s_per_h=1000)
    assert difference.field == "feeders.acid.hourly_cap_g"
    assert "at most 3.69 -> 1.84 mg/L an hour of alkalinity" in difference.effect
    assert "pH 7.5 -> 7.2" in difference.effect


def test_a_wrong_volume_is_told_as_what_it_does_and_needs_a_person() -> None:
    differences = {
        difference.field: difference
        for difference in sheet(feeder="cell", pool__volume_m3=25.0, feeders__acid__node_cap_s_per_h=1000)
    }
    volume = differences["pool.volume_m3"]
    assert volume.raises
    assert "2 times as many mg/L" in volume.effect
    assert "cell at its hourly bound 0.30 -> 0.60 mg/L" in volume.effect


@pytest.mark.parametrize(
    ("changes", "raises"),
    [
        ({"guards": {"flow": {"proven": {"proving_s": 90}}}}, False),
        ({"guards": {"flow": {"proven": {"proving_s": 50}}}}, True),
        ({"guards": {"mass": {"hour": {"acid_mg_l": 2}}}}, False),
        ({"guards": {"mass": {"hour": {"acid_mg_l": 3}}}}, True),
        ({"guards": {"mixing": {"wait": {"acid_s": 3600}}}}, False),
        ({"guards": {"mixing": {"wait": {"acid_s": 1000}}}}, True),
        ({"guards": {"low": {"ph": {"ph": 7.1}}}}, False),
        ({"guards": {"low": {"ph": {"ph": 6.9}}}}, True),
        ({"guards": {"flow": {"settle": {"sample_flow_l_min": 0.5}}}}, False),  # L/min, no minimum: slower flow, longer wait
        ({"guards": {"flow": {"settle": {"sample_flow_l_min": 2}}}}, True),
        ({"probes": {"future_s_max": 2}}, False),
        ({"probes": {"future_s_max": 20}}, True),
        ({"signals__flow__age_s_max": 6}, False),
        ({"signals__sample_flow__edges": True}, False),
        ({"timing__expires_s": 14}, True),
        ({"timing__renew_s": 4}, False),
        ({"pool__alkalinity_mg_l": 90}, True),
        ({"feeders__acid__strength_hcl_weight_percent": 12}, True),  # weaker on paper: it would run longer
        ({"signals__flow__topic": "plant/other"}, True),
        ({"signals__sample_flow": None}, True),
    ],
)
def test_only_what_plainly_feeds_less_confirms_itself(changes: dict[str, Any], raises: bool) -> None:
    differences = sheet(**changes)
    assert differences
    assert confirms_itself(differences) is not raises


def test_every_setting_that_is_named_for_its_direction_exists() -> None:
    from dosectl.settings import differences

    fields = loaded(example(SALT)).fields
    assert not {name for name in differences._MORE_RAISES_AT | differences._LESS_RAISES_AT if name not in fields}


def test_a_limit_of_a_guard_is_told_in_its_unit() -> None:
    (difference,) = sheet(guards={"mass": {"hour": {"acid_mg_l": 3}}})
    assert difference.effect == "limit 2.5 -> 3 mg/L"


def test_what_raises_is_shown_first() -> None:
    differences = sheet(pool__alkalinity_mg_l=90, feeders__acid__node_cap_s_per_h=1000)
    assert [difference.raises for difference in differences] == sorted((d.raises for d in differences), reverse=True)
    assert len(differences) == 2


def test_a_guard_that_is_new_confirms_itself_and_one_that_is_gone_does_not() -> None:
    old, new = {"guards.a.b": 1.0}, {"guards.a.b": 1.0, "guards.c.limit": 2.0}
    assert confirms_itself(before_after(old, new))
    assert not confirms_itself(before_after(new, old))
    assert not confirms_itself(before_after(old, {**old, "guards.a.c": 2.0}))
