import pytest

from support import truck
from ullage.errors import ScenarioError

SEGMENT = "duty.segment.0"
SEED = {"duty.seed": 1}
LOAD = {f"{SEGMENT}.steering_load_spread": "9 bar", f"{SEGMENT}.steering_load_peak": "80 bar"}

# The test truck drives 60 km/h at 4000 rpm and 15 bar. Speeds reach sqrt(13) and 1.4 sqrt(13) standard deviations:
# 16.64 km/h and 792.4 rpm. With the peak at 80 bar the base load is zero at a spread of sqrt(15 (65 - 15) / 2) bar,
# 19.36 bar.
CASES = [
    ("no seed", {f"{SEGMENT}.vehicle_speed_spread": "5 km/h"}, "duty.seed", "missing: segments with a spread", SEED),
    (
        "vehicle",
        {**SEED, f"{SEGMENT}.vehicle_speed_spread": "16.7 km/h"},
        f"{SEGMENT}.vehicle_speed_spread",
        "leads out of 0 km/h to 250 km/h; take 16.47 km/h (10.24 mph) or less",
        {**SEED, f"{SEGMENT}.vehicle_speed_spread": "16.6 km/h"},
    ),
    (
        "fast vehicle",
        {**SEED, f"{SEGMENT}.vehicle_speed": "240 km/h", f"{SEGMENT}.vehicle_speed_spread": "3 km/h"},
        f"{SEGMENT}.vehicle_speed_spread",
        "leads out of",
        {**SEED, f"{SEGMENT}.vehicle_speed": "240 km/h", f"{SEGMENT}.vehicle_speed_spread": "2.7 km/h"},
    ),
    (
        "engine",
        {**SEED, f"{SEGMENT}.engine_speed_spread": "793 rpm"},
        f"{SEGMENT}.engine_speed_spread",
        "leads out of 0 rpm to 10000 rpm; take 784.5 rpm or less",
        {**SEED, f"{SEGMENT}.engine_speed_spread": "792 rpm"},
    ),
    (
        "no peak",
        {**SEED, f"{SEGMENT}.steering_load_spread": "9 bar"},
        f"{SEGMENT}.steering_load_peak",
        "missing: steering_load_spread needs it",
        {**SEED, **LOAD},
    ),
    (
        "peak alone",
        {f"{SEGMENT}.steering_load_peak": "80 bar"},
        f"{SEGMENT}.steering_load_peak",
        "needs a steering_load_spread",
        {**SEED, **LOAD},
    ),
    (
        "wide load",
        {**SEED, **LOAD, f"{SEGMENT}.steering_load_spread": "19.4 bar"},
        f"{SEGMENT}.steering_load_spread",
        "take 1917 kPa (278.1 psi) or less, or a higher peak",
        {**SEED, **LOAD, f"{SEGMENT}.steering_load_spread": "19.3 bar"},
    ),
    (
        "peak below the mean",
        {**SEED, **LOAD, f"{SEGMENT}.steering_load_peak": "14 bar"},
        f"{SEGMENT}.steering_load_spread",
        "or a higher peak",
        {**SEED, **LOAD},
    ),
]


@pytest.mark.parametrize(("bad", "place", "words"), [pytest.param(*case[1:4], id=case[0]) for case in CASES])
def test_rule_fires_alone_on_its_bad_case(bad, place, words):
    with pytest.raises(ScenarioError) as caught:
        truck(bad)
    (fault,) = caught.value.faults
    found, sentence = fault.key, fault.text
    assert found == place
    assert words in sentence


@pytest.mark.parametrize("good", [pytest.param(case[4], id=case[0]) for case in CASES])
def test_rule_is_silent_on_the_nearest_good_case(good):
    assert truck(good).spec.format == 1


@pytest.mark.parametrize("speed", ["0 km/h", "250 km/h"])
def test_constant_speed_at_the_end_of_its_range_needs_no_room(speed):
    assert truck({f"{SEGMENT}.vehicle_speed": speed}).spec.duty.seed is None


@pytest.mark.parametrize("seed", [-1, 1.5, "7", True])
def test_seed_is_a_whole_number_from_zero(seed):
    with pytest.raises(ScenarioError, match=r"duty\.seed: "):
        truck({"duty.seed": seed})
