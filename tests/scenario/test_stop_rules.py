import pytest

from support import truck
from ullage.errors import ScenarioError
from ullage.scenario.race import race_pieces
from ullage.scenario.timed_events import timed_events

LAPS = {"duty.laps": 2}  # of 10 min


def stop(name="pit", **others):
    """Return a stop of 5 min as data."""
    return {"name": name, "duration": "5 min", **others}


EARLY, FIRST, LAST = stop("early", after_lap=0), stop("first", after_lap=1), stop("last", after_lap=2)
END = "is not before the end of the race at"

# the rule, its bad case, which stop, which key, what it says, and the nearest good case
CASES = [
    ("no place", [stop()], "0", "give either after_lap or time", [stop(time="0 s")]),
    ("two places", [EARLY, stop(after_lap=1, time="0 s")], "1", "give either after_lap or time", [EARLY, FIRST]),
    ("at the end", [stop(time="20 min")], "0.time", f'"20 min" {END} 0:20:00: give an', [stop(time="1199.9 s")]),
    ("after it", [LAST, stop(time="1 h")], "1.time", f'"1 h" {END} 0:25:00', [LAST, stop(time="20 min")]),
    (
        "after an end that another stop puts off",
        [stop(time="25 min"), stop("other", time="1 min")],
        "0.time",
        f"{END} 0:25:00",
        [stop(time="24.9 min"), stop("other", time="1 min")],
    ),
    (
        "in a stop after a lap",
        [FIRST, stop(time="12 min")],
        "1.time",
        "\"12 min\" falls into the stop 'first', which lasts from 0:10:00 to 0:15:00: give a time outside it, or make",
        [FIRST, stop(time="15 min")],
    ),
    ("in the last stop", [LAST, stop(time="24 min")], "1.time", "falls into the stop 'last'", [LAST]),
    (
        "in a stop by time",
        [stop(time="4 min"), stop("other", time="2 min")],
        "0.time",
        "falls into the stop 'other', which lasts from 0:02:00 to 0:07:00",
        [stop(time="7 min"), stop("other", time="2 min")],
    ),
    (
        "two at one time",
        [stop(time="2 min"), stop("other", time="2 min")],
        "1.time",
        "falls into the stop 'pit'",
        [stop(time="2 min")],
    ),
]


@pytest.mark.parametrize(("stops", "place", "words"), [pytest.param(*case[1:4], id=case[0]) for case in CASES])
def test_rule_fires_alone_on_its_bad_case(stops, place, words):
    with pytest.raises(ScenarioError) as caught:
        truck({**LAPS, "duty.stop": stops})
    (fault,) = caught.value.faults
    assert fault.key == f"duty.stop.{place}"
    assert words in fault.text


@pytest.mark.parametrize("stops", [pytest.param(case[4], id=case[0]) for case in CASES])
def test_rule_is_silent_on_the_nearest_good_case(stops):
    scenario = truck({**LAPS, "duty.stop": stops})
    begins = {stop.name: stop.start for stop in race_pieces(scenario.spec)[1]}
    times = {stop.name: stop.time for stop in scenario.spec.duty.stop if stop.time is not None}
    assert {name: begins[name] for name in times} == pytest.approx(times, rel=1e-12)


def test_stop_that_cannot_be_has_no_events_out_of_order():
    events = [{"action": "cap off", "stop": "pit"}, {"action": "cap on", "stop": "other"}]
    with pytest.raises(ScenarioError) as caught:
        truck({**LAPS, "duty.stop": [stop(time="1 h"), stop("other", time="2 min")], "event": events})
    assert [fault.key for fault in caught.value.faults] == ["duty.stop.0.time"]


def test_event_counts_from_a_stop_by_time():
    stops = [stop(time="17 min"), stop("other", time="2 min")]
    events = [{"action": "cap off", "stop": "pit", "after": "90 s"}, {"action": "cap on", "time": "19 min"}]
    timed = timed_events(truck({**LAPS, "duty.stop": stops, "event": events}).spec)
    assert [event.time for event in timed] == [1110.0, 1140.0]
    with pytest.raises(ScenarioError, match=r"event\.0\.after: .* is longer than the stop, 0:05:00"):
        truck({**LAPS, "duty.stop": stops, "event": [{**events[0], "after": "6 min"}]})
