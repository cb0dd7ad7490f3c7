import pytest

from support import truck
from ullage.errors import ScenarioError
from ullage.scenario.circuit import weather_of

TWO = {"duty.laps": 2, "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "5 min"}]}  # the second lap at 15 min
FIRST = {"lap": 1, "temperature": "15 degC"}


def points(*others):
    """Return changes that give the truck two laps of 10 min, a stop between them, and points of the weather."""
    return {**TWO, "weather.point": [FIRST, *({"temperature": "30 degC", **other} for other in others)]}


CASES = [
    ("neither", points({}), "weather.point.1", "give either time or lap", points({"lap": 2})),
    ("both", points({"lap": 2, "time": "1 h"}), "weather.point.1", "give either", points({"time": "1 h"})),
    ("lap after the end", points({"lap": 3}), "weather.point.1.lap", "the race has 2 laps", points({"lap": 2})),
    ("lap twice", points({"lap": 1}), "weather.point.1.lap", "in order of time", points({"lap": 2})),
    (
        "lap before a time",
        points({"time": "15 min"}, {"lap": 2}),
        "weather.point.2.lap",
        "begins at 0:15:00, is not after the point before, at 0:15:00",
        points({"time": "14 min"}, {"lap": 2}),
    ),
    (
        "time before a lap",
        points({"lap": 2}, {"time": "15 min"}),
        "weather.point.2.time",
        '"15 min" is not after the point before, at 0:15:00',
        points({"lap": 2}, {"time": "16 min"}),
    ),
]


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


def test_lap_of_a_point_is_the_moment_at_which_its_first_segment_begins():
    assert weather_of(truck(points({"lap": 2})).spec).times == (0.0, 900.0)
    first = {"name": "start", "after_lap": 0, "duration": "2 min"}
    late = truck({**points({"lap": 2}), "duty.stop": [first, *TWO["duty.stop"]]})
    assert weather_of(late.spec).times == (120.0, 1020.0)
