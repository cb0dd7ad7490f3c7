"""Oil cools as long as it takes, in steps of ten seconds, or it is said how far it gets."""

import math

import pytest

from support import truck
from ullage.advise.choices import left_shut, planned_stop, waiting, with_stand
from ullage.advise.cooling import cool_down
from ullage.kernel.state import RESERVOIR
from ullage.results.trace import trace_on, trace_until
from ullage.scenario.compile import compile_problem

RACE = {
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "3 min"}],
    "start.temperature": "90 degC",
    "weather.temperature": "20 degC",
    "cooler.fan_air_speed": "4 m/s",
}


@pytest.fixture(scope="module")
def place():
    scenario = truck(RACE)
    stop = planned_stop(scenario, "pit")
    shut = scenario.replace(left_shut(scenario, stop))
    return shut, stop, trace_until(compile_problem(shut.spec), stop.start)


def test_the_time_is_that_of_a_race_which_stands_that_way(place):
    shut, stop, before = place
    stand = waiting("on", 90.0, fan=True)
    found = cool_down(shut, stop, stand, before, 330.0, 3600.0)
    changes = with_stand(shut, stop, stand._replace(duration=3600.0))
    rows = trace_on(compile_problem(shut.replace(changes).spec), before).rows
    since, oil = rows.time - stop.start, rows.oil_temperature[:, RESERVOIR]
    assert found.time == 10.0 * math.ceil(float(since[oil <= 330.0][0]) / 10.0)
    assert found.coolest == 330.0
    assert found.settled < found.time


def test_oil_that_does_not_get_there_says_how_far_it_gets_and_when(place):
    shut, stop, before = place
    found = cool_down(shut, stop, waiting("off", None, fan=False), before, 300.0, 600.0)
    assert math.isnan(found.time)
    assert 300.0 < found.coolest < float(before.state.temperature[RESERVOIR])
    assert 0.0 < found.settled <= 600.0


def test_cool_oil_needs_no_wait(place):
    shut, stop, before = place
    found = cool_down(shut, stop, waiting("off", None, fan=False), before, 400.0, 600.0)
    assert found.time == 0.0
    assert found.coolest == float(before.state.temperature[RESERVOIR])
