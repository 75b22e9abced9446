"""The documents against the contract: every key there, numbers untouched, nothing but JSON."""

import dataclasses
import json
import math

import numpy as np
import pytest

from ridelog.estimate.result import AxleResult, Estimate
from ridelog.report.as_json import advice_json, analysis_json, check_json, dump
from tests.report import examples

# The keys of the public contract, version 1, copied from its examples by hand.
AXLE_KEYS = {
    "body_frequency_hz",
    "spring_frequency_hz",
    "damping_ratio",
    "damping_ratio_bump",
    "damping_ratio_rebound",
    "wheel_hop_hz",
    "wheel_rate_n_per_m",
    "friction_n",
    "method",
}
CORNER_KEYS = {
    "damping_ratio",
    "friction_n",
    "damper_force",
    "travel_mm",
    "bump_stop",
    "top_out",
}
TOP_KEYS = {
    "contract",
    "log",
    "axles",
    "corners",
    "whole_car",
    "comfort",
    "road",
    "problems",
    "notes",
}
RESULTS = {
    "full": examples.full_result(),
    "one sensor": examples.body_only_result(),
    "nothing": examples.empty_result(),
}


@pytest.fixture(params=RESULTS, ids=str)
def document(request):
    return analysis_json(RESULTS[request.param])


def test_analysis_has_every_key(document):
    assert document.keys() == TOP_KEYS
    assert document["contract"] == 1
    assert {"file", "kind", "duration_s", "sample_rate_hz", "gaps"} <= document["log"].keys()
    assert document["axles"].keys() == {"front", "rear"}
    assert document["corners"].keys() == {"fl", "fr", "rl", "rr"}
    for axle in document["axles"].values():
        assert axle.keys() >= AXLE_KEYS | {"weak_corner"}
    for corner in document["corners"].values():
        assert corner.keys() == CORNER_KEYS
    assert document["whole_car"].keys() == {
        "bounce_frequency_hz",
        "bounce_damping_ratio",
        "roll_gradient_deg_per_g",
        "front_roll_stiffness_share",
        "stated_front_roll_stiffness_share",
    }
    assert document["road"].keys() >= {"gd_n0_m3", "iso8608_class"}


def test_unknown_is_null_not_missing_and_not_zero():
    document = analysis_json(examples.empty_result())
    assert document["axles"]["front"]["damping_ratio"] is None
    assert document["corners"]["rl"]["damping_ratio"] is None
    assert document["corners"]["rl"]["travel_mm"] is None
    assert document["corners"]["rl"]["bump_stop"] is None
    assert document["comfort"] is None
    assert document["road"]["gd_n0_m3"] is None
    assert document["notes"] == ["too short: 2 s; drive for at least 20 s."]


def test_nested_keys_of_a_full_log():
    document = analysis_json(examples.full_result())
    corner = document["corners"]["fl"]
    assert corner["travel_mm"] == {
        "min": -38.4,
        "max": 43.9,
        "p01": -27.0,
        "p99": 31.5,
        "rms": 11.2,
    }
    assert {"speed_mps", "force_n"} == corner["damper_force"][0].keys()
    assert corner["damper_force"][0]["force_n"].keys() == {"value", "low", "high"}
    assert corner["bump_stop"].keys() == {"gap_mm", "contacts"}
    assert corner["bump_stop"]["contacts"][0].keys() >= {"start_s", "end_s", "depth_mm"}
    assert corner["top_out"] == {"gap_mm": None, "contacts": []}
    assert document["comfort"].keys() >= {
        "place",
        "weighted_rms_mps2",
        "vdv_mps175",
        "mtvv_mps2",
        "crest_factor",
    }
    assert document["log"]["gaps"] == [{"start_s": 14.2, "end_s": 14.5}]


def test_numbers_keep_full_precision():
    text = dump(analysis_json(examples.full_result()))
    assert json.loads(text)["comfort"]["weighted_rms_mps2"] == 0.5123456789


def test_estimate_carries_what_dominates_it():
    ratio = analysis_json(examples.full_result())["axles"]["front"]["damping_ratio"]
    assert ratio == {
        "value": 0.4083,
        "low": 0.3961,
        "high": 0.4205,
        "random_half_width": 0.0051,
        "systematic_half_width": 0.0108,
        "largest_contributor": "motion ratio",
    }


def test_problems_name_channel_or_pair():
    late, swapped, flat = analysis_json(examples.full_result())["problems"]
    assert (late["code"], late["channel"], late["channels"]) == ("late", "travel_fl", [])
    assert (swapped["code"], swapped["channel"]) == ("swapped", None)
    assert swapped["channels"] == ["body_fl", "body_rl"]
    assert flat["text"] == "does not move after 31.0 s"


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_not_a_number_never_gets_out(bad):
    ratio = Estimate(value=bad, low=0.1, high=0.2)
    result = dataclasses.replace(
        examples.full_result(), axles={"front": AxleResult(method="x", damping_ratio=ratio)}
    )
    with pytest.raises(ValueError, match="JSON compliant"):
        dump(analysis_json(result))


def test_numpy_scalars_become_plain_numbers():
    ratio = Estimate(value=np.float64(0.3), low=np.float32(0.25), high=np.float64(0.35))
    result = dataclasses.replace(
        examples.full_result(), axles={"front": AxleResult(method="x", damping_ratio=ratio)}
    )
    read_back = json.loads(dump(analysis_json(result)))
    assert read_back["axles"]["front"]["damping_ratio"] == {"value": 0.3, "low": 0.25, "high": 0.35}


def test_advice_has_every_key():
    document = advice_json(examples.advice(), examples.car())
    assert document.keys() >= {"contract", "runs", "axles", "done", "next_run", "cautions"}
    assert document["runs"][0].keys() >= {"file", "clicks", "damping_ratio"}
    assert document["runs"][0]["clicks"].keys() == {"fl", "fr", "rl", "rr"}
    for axle in document["axles"].values():
        assert axle.keys() >= {
            "clicks",
            "predicted_damping_ratio",
            "spring_rate_n_per_m",
            "predicted_body_frequency_hz",
            "clicks_with_next_spring",
            "perch_turns",
            "done",
            "reasons",
        }
        assert axle["clicks"].keys() == {"now", "next"}
        assert axle["spring_rate_n_per_m"].keys() == {"now", "next"}


def test_advice_counts_each_axle_the_owners_way():
    # Front counts from stiff with 18 clicks, rear from soft: 6 -> 9 from soft is 12 -> 9.
    document = advice_json(examples.advice(), examples.car(clicks_from="stiff"))
    assert document["axles"]["front"]["clicks"] == {"now": 12, "next": 9}
    assert document["axles"]["rear"]["clicks"] == {"now": 8, "next": 10}
    assert document["axles"]["rear"]["clicks_with_next_spring"] == 9
    assert document["runs"][0]["clicks"] == {"fl": 6, "fr": 6, "rl": 4, "rr": 4}
    law = document["axles"]["front"]["knob_law"]
    assert law["clicks"][0] == 18
    assert law["damping_ratio"][0] == 0.23


def test_check_document():
    document = check_json(examples.check())
    assert document.keys() == {"contract", "log", "problems", "can_tell", "notes"}
    assert document["can_tell"] == {"front_frequency_and_damping": True, "comfort": False}
    assert [problem["code"] for problem in document["problems"]] == ["late", "swapped", "flat"]
