import pytest

from support import truck
from ullage.scenario.event_spec import Event
from ullage.scenario.fields import Level
from ullage.scenario.pit_spec import ChoiceEvent
from ullage.scenario.race import pit_stop

STOPS = [{"name": "late", "after_lap": 1, "duration": "5 min"}, {"name": "early", "time": "2 min", "duration": "4 min"}]


def test_study_starts_from_these_values_if_it_is_told_nothing():
    pit = truck().spec.pit
    assert (pit.open_for, pit.longest_wait, pit.overnight) == (60.0, 6 * 3600.0, 12 * 3600.0)
    assert pit.open_below == pytest.approx(323.15, rel=1e-15)
    assert (pit.stop, pit.top_up_volume, pit.recharge_pressure, pit.overnight_temperature) == (None,) * 4
    assert pit.choice == ()


def test_values_of_the_study_are_read():
    changes = {"pit.recharge_pressure": "6 psig", "pit.open_for": "2 min", "duty.stop": STOPS, "pit.stop": "late"}
    pit = truck(changes).spec.pit
    assert pit.recharge_pressure == Level(pytest.approx(6 * 6894.757, rel=1e-6), gauge=True)
    assert (pit.open_for, pit.stop) == (120.0, "late")


def test_study_is_of_the_first_stop_of_the_race_unless_it_names_one():
    assert pit_stop(truck().spec) is None
    assert pit_stop(truck({"duty.stop": STOPS}).spec).name == "early"
    stop = pit_stop(truck({"duty.stop": STOPS, "pit.stop": "late"}).spec)
    assert (stop.name, stop.start, stop.end) == ("late", 840.0, 1140.0)


def test_event_of_a_choice_becomes_the_event_of_a_race_with_what_was_given():
    found = ChoiceEvent.model_validate({"action": "top-up", "after": "1 min", "volume": "0.2 L"}).at("pit")
    assert found == Event.model_validate({"action": "top-up", "stop": "pit", "after": 60.0, "volume": 0.0002})
    assert found.model_fields_set == {"action", "stop", "after", "volume"}


def test_keys_of_a_choice_are_those_of_an_event_without_its_moment():
    assert {*Event.model_fields} - {*ChoiceEvent.model_fields} == {"time", "stop"}
    assert {*ChoiceEvent.model_fields} <= {*Event.model_fields}
