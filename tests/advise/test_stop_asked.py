"""What is asked for at a stop is written into the scenario, so that it is checked like everything else."""

import pytest

from support import truck
from ullage.advise.stop_asked import settled
from ullage.errors import ScenarioError

STOPS = {
    "duty.laps": 2,
    "duty.stop": [
        {"name": "late", "after_lap": 2, "duration": "2 min"},
        {"name": "early", "after_lap": 1, "duration": "3 min"},
    ],
}


@pytest.fixture(scope="module")
def race():
    return truck(STOPS)


def test_first_stop_of_the_race_is_meant_unless_the_scenario_names_another(race):
    assert settled(race, None, None, ())[1] == "early"
    assert settled(race.replace({"pit.stop": "late"}), None, None, ())[1] == "late"
    assert settled(race.replace({"pit.stop": "late"}), "early", None, ())[1] == "early"


@pytest.mark.parametrize("time", ["11 min", 660.0, 660])
def test_time_within_a_stop_is_that_stop(race, time):
    scenario, name = settled(race, time, None, ())
    assert name == "early"
    assert scenario.stops == ("early", "late")


def test_time_elsewhere_puts_a_stop_in(race):
    scenario, name = settled(race, "4 min", None, ())
    assert scenario.stops == (name, "early", "late")
    stop = scenario.spec.duty.stop[-1]
    assert (stop.time, stop.duration, stop.engine) == (240.0, 300.0, "on")


def test_wishes_are_kept_in_the_table_of_the_stop(race):
    own = {"name": "look", "event": [{"action": "cap off", "after": "10 s"}]}
    pit = settled(race, "late", 90.0, [own])[0].spec.pit
    assert (pit.stop, pit.open_for, pit.choice[0].name, pit.choice[0].event[0].after) == ("late", 90.0, "look", 10.0)


def test_own_choices_stand_beside_those_of_the_scenario(race):
    first, second = ({"name": name, "event": [{"action": "cap off", "after": "10 s"}]} for name in ("a", "b"))
    scenario = settled(race.replace({"pit.choice": [first]}), None, None, [second])[0]
    assert [choice.name for choice in scenario.spec.pit.choice] == ["a", "b"]


@pytest.mark.parametrize("stop", ["erly", "-1 min", "", "30 h", -5.0])
def test_no_such_stop_or_time_is_a_fault(race, stop):
    with pytest.raises(ScenarioError):
        settled(race, stop, None, ())
