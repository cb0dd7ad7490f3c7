import re
import typing

import pytest

from support import truck
from ullage.duty.events import FAULTS
from ullage.errors import ScenarioError
from ullage.scenario.event_spec import FAULT_SIZES, Event, Fault
from ullage.scenario.fields import quantity_of

PIT = {"name": "pit", "after_lap": 1, "duration": "1 min"}
SMALL = {"reservoir.volume": "1.5 L", "steering_gear.oil_volume": "1 L", "cooler.oil_volume": "0.5 L"}


def event(action, time=None, **others):
    """Return an event as data."""
    return {"action": action, **({} if time is None else {"time": time}), **others}


def on(fault, time="1 min", **others):
    """Return the beginning of a fault as data."""
    return event("fault on", time, fault=fault, **others)


def off(fault, time="2 min", **others):
    """Return the end of a fault as data."""
    return event("fault off", time, fault=fault, **others)


OPEN, SHUT = event("cap off", "1 min"), event("cap on", "5 min")
POUR = event("top-up", "2 min", volume="0.1 L")
AIR = event("recharge", "2 min", pressure="8 psig")
FORCED, GIVEN_BACK = event("fan on", "1 min"), event("fan auto", "2 min")

# the rule, its bad case, where it points, what it says, and the nearest good case
CASES = [
    ("no time", [event("cap off")], "event.0", "either time or stop", [OPEN]),
    ("both times", [event("cap off", "1 s", stop="pit")], "event.0", "time or stop", [event("cap off", stop="pit")]),
    ("misspelt stop", [event("cap off", stop="pti")], "event.0.stop", "there are: pit", [event("cap off", stop="pit")]),
    ("after a time", [{**OPEN, "after": "3 s"}], "event.0.after", "belongs to a stop", [OPEN]),
    ("top-up of nothing", [OPEN, event("top-up", "2 min")], "event.1.volume", "needs a volume", [OPEN, POUR]),
    (
        "volume of a cap",
        [{**OPEN, "volume": "1 L"}],
        "event.0.volume",
        "belongs to a top-up, 'lost oil' or 'water got in'; 'cap off' has none",
        [OPEN],
    ),
    (
        "warm loss",
        [on("lost oil", temperature="20 degC")],
        "event.0.temperature",
        "belongs to a top-up; 'lost oil' has none",
        [on("lost oil", volume="0.2 L", duration="3 s")],
    ),
    ("no name", [event("fault on", "1 s")], "event.0.fault", "say which fault", [on("seal leak")]),
    ("fault of a cap", [{**OPEN, "fault": "seal leak"}], "event.0.fault", "'cap off' has none", [OPEN]),
    (
        "foreign size",
        [on("seal leak", share=0.5)],
        "event.0.share",
        "0.5 belongs to 'blocked cooler' or 'collapsed hose'; 'seal leak' has none",
        [on("seal leak", diameter="1 mm")],
    ),
    (
        "size of the end",
        [on("seal leak"), off("seal leak", diameter="1 mm")],
        "event.1.diameter",
        "belongs to 'seal leak'; 'fault off' has none",
        [on("seal leak"), off("seal leak")],
    ),
    (
        "duration of a leak",
        [on("seal leak", duration="3 s")],
        "event.0.duration",
        "belongs to a top-up, a recharge or 'lost oil'; 'seal leak' has none",
        [on("seal leak")],
    ),
    (
        "blocked whole",
        [on("blocked cooler", share="150 %")],
        "event.0.share",
        '"150 %" is outside 0 % to 99 %',
        [on("blocked cooler")],
    ),
    (
        "flat hose",
        [on("collapsed hose", share="9 %")],
        "event.0.share",
        '"9 %" is outside 10 % to 100 %',
        [on("collapsed hose", share="10 %")],
    ),
    (
        "little oil",
        [on("lost oil", volume="9 mL")],
        "event.0.volume",
        '"9 mL" is outside 10 mL to 10000 mL',
        [on("lost oil", volume="10 mL")],
    ),
    (
        "drowned",
        [on("water got in", volume="0.3 L")],
        "event.0.volume",
        '"0.3 L" is outside 0.001 L to 0.2 L',
        [on("water got in", volume="0.2 L")],
    ),
    (
        "off twice",
        [on("seal leak"), off("seal leak", "3 min"), off("seal leak")],
        "event.1.action",
        "\"fault off\" at 0:03:00: 'seal leak' is already off; put its 'fault on' before, or leave this out",
        [],
    ),
    (
        "off before on",
        [on("lost oil"), off("seal leak")],
        "event.1.action",
        "at 0:02:00: 'seal leak' is already off",
        [],
    ),
    (
        "on twice",
        [on("seal leak"), on("seal leak", "3 min")],
        "event.1.action",
        "\"fault on\" at 0:03:00: 'seal leak' is already on; put its 'fault off' before, or leave this out",
        [on("seal leak"), off("seal leak"), on("seal leak", "3 min")],
    ),
    (
        "open and shut",
        [on("relief stuck open"), on("relief stuck shut", "2 min")],
        "event.1.action",
        "at 0:02:00: 'relief stuck shut' while there is 'relief stuck open': no valve is open and shut; put the",
        [on("relief stuck open"), off("relief stuck open"), on("relief stuck shut", "2 min")],
    ),
    (
        "mark through the cap",
        [on("filled hot to the cold mark")],
        "event.0.action",
        "at 0:01:00: 'filled hot to the cold mark' needs the cap off; put 'cap off' before",
        [OPEN, on("filled hot to the cold mark", "2 min"), SHUT],
    ),
    (
        "two losses",
        [on("lost oil", duration="10 s"), on("lost oil", "65 s")],
        "event.1.action",
        "at 0:01:05: oil is still being lost from 0:01:00 to 0:01:10; make it one loss, or wait",
        [on("lost oil", duration="10 s"), on("lost oil", "71 s")],
    ),
    (
        "no regulator",
        [event("recharge", "1 min")],
        "event.0.pressure",
        "missing: a recharge needs what its regulator is set to, over ambient",
        [AIR],
    ),
    (
        "absolute air",
        [{**AIR, "pressure": "22 psia"}],
        "event.0.pressure",
        '"22 psia" is absolute, and a regulator is set over ambient: write it as gauge',
        [AIR],
    ),
    (
        "over the cap",
        [{**AIR, "pressure": "16.1 psig"}],
        "event.0.pressure",
        '"16.1 psig" is above the relief pressure of the cap, 110.3 kPa (16 psi): set the regulator below that',
        [{**AIR, "pressure": "16 psig"}],
    ),
    (
        "oil by the regulator",
        [{**AIR, "volume": "1 L"}],
        "event.0.volume",
        "belongs to a top-up, 'lost oil' or 'water got in'; 'recharge' has none",
        [{**AIR, "duration": "1 min"}],
    ),
    (
        "air of a top-up",
        [OPEN, {**POUR, "pressure": "8 psig"}],
        "event.1.pressure",
        "belongs to a recharge; 'top-up' has none",
        [OPEN, POUR],
    ),
    (
        "air through the neck",
        [OPEN, AIR],
        "event.1.action",
        "at 0:02:00: a recharge needs the cap on; put 'cap on' before",
        [OPEN, event("cap on", "2 min"), AIR],
    ),
    (
        "opened under the regulator",
        [AIR, event("cap off", "149 s")],
        "event.0.action",
        "lasts from 0:02:00 to 0:02:30, the cap goes off at 0:02:29; begin earlier or make it shorter",
        [AIR, event("cap off", "150 s")],
    ),
    (
        "two regulators",
        [AIR, {**AIR, "time": "149 s"}],
        "event.0.action",
        "lasts from 0:02:00 to 0:02:30, the next begins at 0:02:29",
        [AIR, {**AIR, "time": "150 s"}],
    ),
    (
        "air past the finish",
        [{**AIR, "time": "10 min 45 s"}],
        "event.0.action",
        "lasts from 0:10:45 to 0:11:15, the race ends at 0:11:00",
        [{**AIR, "time": "10 min 30 s"}],
    ),
    (
        "lost too much",
        [on("lost oil", volume="3 L"), on("lost oil", "3 min", volume="2.5 L")],
        "event.1.volume",
        '"2.5 L" is too much oil to lose',
        [on("lost oil", volume="2 L"), on("lost oil", "3 min", volume="2 L")],
    ),
]


@pytest.mark.parametrize(("events", "place", "words"), [pytest.param(*case[1:4], id=case[0]) for case in CASES])
def test_rule_fires_alone_on_its_bad_case(events, place, words):
    with pytest.raises(ScenarioError) as caught:
        truck({"duty.stop": [PIT], "event": events})
    (fault,) = caught.value.faults
    assert fault.key == place
    assert words in fault.text


@pytest.mark.parametrize(("events", "place"), [pytest.param(*case[1:3], id=case[0]) for case in CASES])
def test_rule_fires_though_a_value_elsewhere_is_wrong(events, place):
    with pytest.raises(ScenarioError) as caught:
        truck({"duty.stop": [PIT], "event": events, "surroundings.bay_offset": "900 K"})
    assert sorted(fault.key for fault in caught.value.faults) == sorted([place, "surroundings.bay_offset"])


@pytest.mark.parametrize("events", [pytest.param(case[4], id=case[0]) for case in CASES if case[4]])
def test_rule_is_silent_on_the_nearest_good_case(events):
    assert truck({"duty.stop": [PIT], "event": events}).spec.event


def test_unknown_stop_is_told_that_there_are_none():
    with pytest.raises(ScenarioError, match=r"event\.0\.stop: .* is no stop; there are: none"):
        truck({"event": [event("cap off", stop="pit")]})


@pytest.mark.parametrize("name", [name for name, effect in FAULTS.items() if not effect.curable])
def test_what_is_done_is_not_switched_off(name):
    with pytest.raises(ScenarioError) as caught:
        truck({"event": [OPEN, on(name, "2 min"), off(name, "3 min")]})
    (fault,) = caught.value.faults
    assert (fault.key, fault.text) == ("event.2.fault", f'"{name}" cannot be switched off: what is done is done')


@pytest.mark.parametrize("name", [name for name, effect in FAULTS.items() if "stuck" in effect.channel])
def test_vented_cap_has_no_valves_that_stick_but_a_seal_that_leaks(name):
    assert truck({"cap.kind": "vented", "event": [on("seal leak")]}).spec.event
    with pytest.raises(ScenarioError) as caught:
        truck({"cap.kind": "vented", "event": [on(name), off(name)]})
    (fault,) = caught.value.faults
    assert (fault.key, fault.text) == ("event.0.fault", f'"{name}" needs a sealed cap: a vented one has no valves')


@pytest.mark.parametrize(
    ("key", "name"), [("reservoir.rating", "rating of the tank"), ("pump.seal_rating", "shaft-seal")]
)
def test_recharge_stays_below_what_tank_and_shaft_seal_are_rated_for(key, name):
    assert truck({key: "8 psig", "event": [AIR]}).spec.event
    with pytest.raises(ScenarioError) as caught:
        truck({key: "7.9 psig", "event": [AIR]})
    (fault,) = caught.value.faults
    assert fault.key == "event.0.pressure"
    assert fault.text.startswith(f'"8 psig" is above the {name}')
    assert fault.text.endswith(", 54.47 kPa (7.9 psi): set the regulator below that")


def test_recharge_of_a_vented_tank_is_refused():
    with pytest.raises(ScenarioError) as caught:
        truck({"cap.kind": "vented", "event": [AIR]})
    (fault,) = caught.value.faults
    assert fault.key == "event.0.action"
    assert fault.text == '"recharge" needs a sealed cap: a vented one lets the air out again; leave this out'


def test_cooler_without_a_fan_has_none_to_force_on():
    with pytest.raises(ScenarioError) as caught:
        truck({"event": [FORCED, GIVEN_BACK]})
    (fault,) = caught.value.faults
    assert fault.key == "event.0.action"
    assert fault.text.startswith('"fan on" needs a fan on the cooler: cooler.fan_air_speed is 0')


@pytest.mark.parametrize(
    ("events", "place", "words"),
    [
        ([GIVEN_BACK], 0, "at 0:02:00: the fan is already left to its thermostat; put 'fan on' before, or leave"),
        ([FORCED, {**FORCED, "time": "90 s"}], 1, "at 0:01:30: the fan is already forced on; put 'fan auto' before"),
        ([FORCED, GIVEN_BACK, {**GIVEN_BACK, "time": "3 min"}], 2, "at 0:03:00: the fan is already left to its"),
    ],
)
def test_fan_is_forced_on_and_given_back_in_turn(events, place, words):
    blown = {"cooler.fan_air_speed": "5 m/s"}
    assert truck({**blown, "event": [FORCED, GIVEN_BACK, {**FORCED, "time": "2 min"}]}).spec.event
    with pytest.raises(ScenarioError) as caught:
        truck({**blown, "event": events})
    (fault,) = caught.value.faults
    assert fault.key == f"event.{place}.action"
    assert words in fault.text


def test_line_without_a_strainer_has_none_that_blocks():
    with pytest.raises(ScenarioError, match=r"event.0.fault: .* needs a strainer: feed_line.strainer_drop is 0"):
        truck({"feed_line.strainer_drop": "0 kPa", "event": [on("blocked strainer"), off("blocked strainer")]})


def test_tank_filled_hot_must_hold_enough_when_cold():
    # 3 % of 200 K in each of the passages' 2 L and the tank's 0.45 L is more than the tank has to spare
    small = {**SMALL, "reservoir.fill": 0.3}
    assert truck(small).spec.format == 1
    with pytest.raises(ScenarioError) as caught:
        truck({**small, "event": [OPEN, on("filled hot to the cold mark", "2 min")]})
    (fault,) = caught.value.faults
    assert fault.key == "event.1.fault"
    assert "leaves too little oil" in fault.text


def test_most_oil_to_lose_that_is_named_can_be_lost():
    with pytest.raises(ScenarioError) as caught:
        truck({"event": [on("lost oil", volume="1 L"), on("lost oil", "3 min", volume="8 L")]})
    (fault,) = caught.value.faults
    most = re.fullmatch('"8 L" is too much oil to lose: .*; lose at most (.* L) \\((.* qt)\\) here', fault.text)
    for volume in most.groups():
        truck({"event": [on("lost oil", volume="1 L"), on("lost oil", "3 min", volume=volume)]})
    # named to 10 mL
    more = f"{float(most[1].split()[0]) + 0.01} L"
    with pytest.raises(ScenarioError, match="too much oil to lose"):
        truck({"event": [on("lost oil", volume="1 L"), on("lost oil", "3 min", volume=more)]})


def test_usual_loss_that_is_too_much_is_named():
    with pytest.raises(ScenarioError) as caught:
        truck({**SMALL, "reservoir.fill": 0.35, "event": [on("lost oil")]})
    (fault,) = caught.value.faults
    assert fault.key == "event.0.volume"
    assert fault.text.startswith("missing: the usual 0.5 L is too much oil to lose")


@pytest.mark.parametrize("name", FAULT_SIZES)
def test_size_out_of_range_stops_no_other_rule(name):
    size = FAULT_SIZES[name]
    with pytest.raises(ScenarioError) as caught:
        truck({"event": [on(name, **{size.key: f"-{size.default}"}), off("relief stuck open")]})
    assert [fault.key for fault in caught.value.faults] == [f"event.0.{size.key}", "event.1.action"]


def test_wrong_event_beside_a_right_one_is_one_fault():
    with pytest.raises(ScenarioError) as caught:
        truck({"event": [on("seal leak", diameter="9 mm"), on("blocked coler"), on("lost oil", volume="1 L")]})
    assert [fault.key for fault in caught.value.faults] == ["event.0.diameter", "event.1.fault"]
    assert caught.value.faults[1].text.endswith("got \"blocked coler\" (did you mean 'blocked cooler'?)")


def test_faults_that_can_be_written_are_those_that_do_something():
    (names, _) = typing.get_args(Event.model_fields["fault"].annotation)
    assert typing.get_args(names) == typing.get_args(Fault) == tuple(FAULTS)
    assert set(FAULT_SIZES) < set(FAULTS)


@pytest.mark.parametrize("name", FAULT_SIZES)
def test_size_of_a_fault_is_within_what_its_key_accepts(name):
    size = FAULT_SIZES[name]
    low, high = quantity_of(Event, size.key).limits()
    assert low <= size.si(size.low) < size.si(size.default) < size.si(size.high) <= high
