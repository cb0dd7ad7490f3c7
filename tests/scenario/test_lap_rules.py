import pytest

from support import truck
from ullage.errors import ScenarioError

SEGMENT = "duty.segment.0"
TWO = {"duty.laps": 2}
PLAIN = {"duration": "10 min", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm"}
BAND = {f"{SEGMENT}.vehicle_speed": None, f"{SEGMENT}.vehicle_speed_low": "40 km/h", "duty.seed": 1}
SHIFT = {f"{SEGMENT}.engine_speed": None, f"{SEGMENT}.engine_speed_low": "3000 rpm"}
GEARS = {
    "duty.gear": [
        {"vehicle_speed": "40 km/h", "engine_speed": "6000 rpm"},
        {"vehicle_speed": "80 km/h", "engine_speed": "6000 rpm"},
    ]
}
BOXED = {**SHIFT, f"{SEGMENT}.engine_speed_high": "6100 rpm", **GEARS}
NAMED = {f"{SEGMENT}.name": "whoops"}
SECOND = {**TWO, "duty.segment": [{**PLAIN, "first_lap": 1}, {**PLAIN, "name": "extra", "first_lap": 2}]}


def changed(**keys):
    """Return a change of laps."""
    return {**NAMED, "duty.change": [keys]}


CASES = [
    ("first after end", {**TWO, f"{SEGMENT}.first_lap": 3}, f"{SEGMENT}.first_lap", "the race has 2 laps", TWO),
    ("last after end", {**TWO, f"{SEGMENT}.last_lap": 3}, f"{SEGMENT}.last_lap", "3 is after the end", TWO),
    ("reversed laps",
     {**SECOND, "duty.segment.1.last_lap": 1}, "duty.segment.1.last_lap", "is before first_lap, 2",
     {**SECOND, "duty.segment.1.last_lap": 2}),
    ("empty lap", {**TWO, f"{SEGMENT}.last_lap": 1}, "duty.segment", "lap 2 has no segment", SECOND),
    ("half a band", BAND, f"{SEGMENT}.vehicle_speed_high", "a band of vehicle_speed has two ends",
     {**BAND, f"{SEGMENT}.vehicle_speed_high": "70 km/h"}),
    ("upper half of a band",
     {f"{SEGMENT}.vehicle_speed": None, f"{SEGMENT}.vehicle_speed_high": "70 km/h"},
     f"{SEGMENT}.vehicle_speed_low", "missing", {**BAND, f"{SEGMENT}.vehicle_speed_high": "70 km/h"}),
    ("reversed band", {**BAND, f"{SEGMENT}.vehicle_speed_high": "40 km/h"},
     f"{SEGMENT}.vehicle_speed_high", "is not above vehicle_speed_low, 40 km/h",
     {**BAND, f"{SEGMENT}.vehicle_speed_high": "41 km/h"}),
    ("band and mean",
     {**BAND, f"{SEGMENT}.vehicle_speed_high": "70 km/h", f"{SEGMENT}.vehicle_speed": "60 km/h"},
     f"{SEGMENT}.vehicle_speed", "stands beside a band", {**BAND, f"{SEGMENT}.vehicle_speed_high": "70 km/h"}),
    ("band and spread",
     {**SHIFT, "duty.seed": 1, f"{SEGMENT}.engine_speed_high": "5000 rpm", f"{SEGMENT}.engine_speed_spread": "9 rpm"},
     f"{SEGMENT}.engine_speed_spread", "stands beside a band",
     {**SHIFT, "duty.seed": 1, f"{SEGMENT}.engine_speed_high": "5000 rpm"}),
    ("no engine speed", {f"{SEGMENT}.engine_speed": None}, f"{SEGMENT}.engine_speed", "missing: engine speed, ", {}),
    ("no shift", {f"{SEGMENT}.engine_speed": None, **GEARS}, f"{SEGMENT}.engine_speed",
     "where gears are changed, engine_speed_low and engine_speed_high", BOXED),
    ("gears fall", {"duty.gear": GEARS["duty.gear"][::-1]}, "duty.gear.1", "lowest gear first", GEARS),
    # a change up at 5999 rpm turns the engine at half of that, below the 3000 rpm where it would change down again
    ("hunting", {**BOXED, f"{SEGMENT}.engine_speed_high": "5999 rpm"}, f"{SEGMENT}.engine_speed_high",
     "change down again; take 6006 rpm or more", {**BOXED, f"{SEGMENT}.engine_speed_high": "6006 rpm"}),
    # the second gear turns the engine at 10050 rpm at 134 km/h
    ("top gear", {**BOXED, f"{SEGMENT}.vehicle_speed": "134 km/h"}, f"{SEGMENT}.vehicle_speed",
     "lets engine_speed reach 10050 rpm, and 10000 rpm is the limit",
     {**BOXED, f"{SEGMENT}.vehicle_speed": "133 km/h"}),
    ("top gear in a change", {**BOXED, **changed(vehicle_speed_factor=2.3)}, "duty.change.0.vehicle_speed_factor",
     "lets engine_speed of 'whoops' reach 10350 rpm", {**BOXED, **changed(vehicle_speed_factor=2.2)}),
    ("shift in a change", {**BOXED, **changed(engine_speed_factor=1.7)}, "duty.change.0.engine_speed_factor",
     "lets engine_speed of 'whoops' reach 10370 rpm", {**BOXED, **changed(engine_speed_factor=1.6)}),
    # the widest step counts: from the second gear to the third the engine falls to a third
    ("hunting in a higher gear",
     {**BOXED, "duty.gear": [*GEARS["duty.gear"], {"vehicle_speed": "240 km/h", "engine_speed": "6000 rpm"}]},
     f"{SEGMENT}.engine_speed_high", "take 9009 rpm or more",
     {**BOXED, "duty.gear": [*GEARS["duty.gear"], {"vehicle_speed": "160 km/h", "engine_speed": "6000 rpm"}]}),
    ("unknown segment", changed(segment="sand", vehicle_speed_factor=0.8), "duty.change.0.segment",
     "is no segment; there are: whoops", changed(segment="whoops", vehicle_speed_factor=0.8)),
    (
        "change of other laps",
        {**SECOND, "duty.change": [{"segment": "extra", "last_lap": 1, "steering_load_factor": 1.2}]},
        "duty.change.0",
        "'extra' is not driven in these laps",
        {**SECOND, "duty.change": [{"segment": "extra", "last_lap": 2, "steering_load_factor": 1.2}]},
    ),
    ("no change", changed(segment="whoops"), "duty.change.0", "changes nothing", changed(steering_load_factor=1.2)),
    ("change after end", changed(first_lap=2, engine_speed_factor=0.9), "duty.change.0.first_lap",
     "the race has 1 lap", changed(first_lap=1, engine_speed_factor=0.9)),
    ("reversed change", {**TWO, **changed(first_lap=2, last_lap=1, engine_speed_factor=0.9)},
     "duty.change.0.last_lap", "is before first_lap, 2",
     {**TWO, **changed(first_lap=2, last_lap=2, engine_speed_factor=0.9)}),
    # 4000 rpm times 2.6
    ("too fast a change", changed(engine_speed_factor=2.6), "duty.change.0.engine_speed_factor",
     "lets engine_speed of 'whoops' reach 10400 rpm", changed(engine_speed_factor=2.5)),
    ("spread of a length",
     {"duty.seed": 1, f"{SEGMENT}.duration": None, f"{SEGMENT}.length": "9 km", f"{SEGMENT}.duration_spread": "1 s"},
     f"{SEGMENT}.duration_spread", "needs a duration", {"duty.seed": 1, f"{SEGMENT}.duration_spread": "1 s"}),
    ("wide duration", {"duty.seed": 1, f"{SEGMENT}.duration_spread": "301 s"}, f"{SEGMENT}.duration_spread",
     "more than half", {"duty.seed": 1, f"{SEGMENT}.duration_spread": "300 s"}),
    ("wide stop",
     {"duty.seed": 1, "duty.stop": [{"name": "p", "after_lap": 1, "duration": "9 s", "duration_spread": "5 s"}]},
     "duty.stop.0.duration_spread", "more than half",
     {"duty.seed": 1, "duty.stop": [{"name": "p", "after_lap": 1, "duration": "9 s", "duration_spread": "4 s"}]}),
    # 200 times 2 s, each up to half as much more, are 10 min
    ("holds too long", {"duty.seed": 1, f"{SEGMENT}.lock_holds": 200}, f"{SEGMENT}.lock_holds",
     "holds can take 0:10:00 in all, and the segment may last 0:10:00",
     {"duty.seed": 1, f"{SEGMENT}.lock_holds": 199}),
    ("no seed for holds", {f"{SEGMENT}.lock_holds": 1}, "duty.seed", "lock holds",
     {"duty.seed": 1, f"{SEGMENT}.lock_holds": 1}),
    ("no seed for words", {f"{SEGMENT}.surface": "sand"}, "duty.seed", "a word for ground",
     {"duty.seed": 1, f"{SEGMENT}.surface": "sand"}),
    ("no seed for a pit stop",
     {"duty.stop": [{"name": "p", "after_lap": 1, "duration": "9 s", "duration_spread": "1 s"}]},
     "duty.seed", "durations with a spread",
     {"duty.stop": [{"name": "p", "after_lap": 1, "duration": "9 s", "duration_spread": "0 s"}]}),
    ("peak below what a word says",
     {"duty.seed": 1, f"{SEGMENT}.steering": "heavy", f"{SEGMENT}.steering_load_peak": "14 bar"},
     f"{SEGMENT}.steering_load_peak", "is not above the steering load",
     {"duty.seed": 1, f"{SEGMENT}.steering": "heavy", f"{SEGMENT}.steering_load_peak": "30 bar"}),
    ("unknown word", {f"{SEGMENT}.surface": "wopps"}, f"{SEGMENT}.surface", "did you mean 'whoops'?",
     {"duty.seed": 1, f"{SEGMENT}.surface": "whoops"}),
]  # fmt: skip


@pytest.mark.parametrize(("bad", "place", "words"), [pytest.param(*case[1:4], id=case[0]) for case in CASES])
def test_rule_fires_alone_on_its_bad_case(bad, place, words):
    with pytest.raises(ScenarioError) as caught:
        truck(bad)
    (fault,) = caught.value.faults
    assert fault.key == place
    assert words in fault.text


@pytest.mark.parametrize("good", [pytest.param(case[4], id=case[0]) for case in CASES])
def test_rule_is_silent_on_the_nearest_good_case(good):
    assert truck(good).spec.format == 1


def test_faults_of_a_plan_come_all_at_once():
    with pytest.raises(ScenarioError) as caught:
        truck(
            {
                **TWO,
                f"{SEGMENT}.first_lap": 3,
                f"{SEGMENT}.vehicle_speed_low": "5 km/h",
                "duty.gear": GEARS["duty.gear"][::-1],
                "duty.change": [{"segment": "sand"}],
                "weather.point": [{"temperature": "20 degC"}],
            }
        )
    assert sorted(fault.key for fault in caught.value.faults) == [
        "duty.change.0",
        "duty.change.0.segment",
        "duty.gear.1",
        "duty.segment.0.first_lap",
        "duty.segment.0.vehicle_speed",
        "duty.segment.0.vehicle_speed_high",
        "weather.point.0",
    ]
