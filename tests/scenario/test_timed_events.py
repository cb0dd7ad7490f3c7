import math

import pytest

from support import truck
from ullage.duty.events import FAULTS
from ullage.physics import oil
from ullage.scenario.circuit import initial_gas
from ullage.scenario.timed_events import timed_events

PIT = {"name": "pit", "after_lap": 1, "duration": "5 min"}
OPEN = {"action": "cap off", "time": "0 s"}


def fault(name, **others):
    """Return the event of a fault as it is timed, SI units."""
    written = [OPEN, {"action": "fault on", "fault": name, "time": "1 min", **others}]
    return timed_events(truck({"event": written}).spec)[1]


def test_event_of_a_stop_counts_from_its_beginning():
    changes = {
        "duty.stop": [PIT],
        "event": [
            {"action": "cap on", "stop": "pit", "after": "3 min"},
            {"action": "engine off", "time": "1 min"},
            {"action": "cap off", "stop": "pit"},
        ],
    }
    events = timed_events(truck(changes).spec)
    assert [(event.time, event.name, event.direction) for event in events] == [
        (60.0, "engine", "off"),
        (600.0, "cap", "off"),
        (780.0, "cap", "on"),
    ]


def test_simultaneous_events_keep_their_written_order():
    actions = ["cap off", "engine off", "engine on", "cap on", "cap off"]
    events = timed_events(truck({"event": [{"action": action, "time": "5 min"} for action in actions]}).spec)
    assert [f"{event.name} {event.direction}" for event in events] == actions


def test_top_up_brings_its_volume_at_its_temperature():
    pour = {"action": "top-up", "time": "2 min", "volume": "0.5 L", "temperature": "15 degC", "duration": "9 s"}
    _, event = timed_events(truck({"event": [{"action": "cap off", "time": "1 min"}, pour]}).spec)
    assert (event.name, event.direction, event.duration) == ("top-up", "start", 9.0)
    assert event.mass == pytest.approx(0.5e-3 * 870.0, rel=1e-14)  # density at 15 degC is the data-sheet value
    assert event.temperature == pytest.approx(288.15, rel=1e-14)


def test_top_up_without_a_temperature_is_at_ambient_of_the_moment():
    points = [{"time": "0 s", "temperature": 280.0}, {"time": "10 min", "temperature": 300.0}]
    pour = {"action": "top-up", "time": "5 min", "volume": "0.5 L"}
    changes = {"weather.point": points, "event": [{"action": "cap off", "time": "4 min"}, pour]}
    (_, event) = timed_events(truck(changes).spec)
    assert math.isclose(event.temperature, 290.0)


@pytest.mark.parametrize(
    ("name", "others", "size"),
    [
        ("seal leak", {}, 0.7 * math.pi * 0.15e-3**2),
        ("seal leak", {"diameter": "2 mm"}, 0.7 * math.pi * 1e-6),
        ("relief stuck open", {}, 1.0),
        ("relief stuck shut", {}, -1.0),
        ("vacuum valve stuck open", {}, 1.0),
        ("vacuum valve stuck shut", {}, -1.0),
        ("blocked cooler", {}, 0.7),
        ("blocked cooler", {"share": "20 %"}, 0.2),
        ("blocked strainer", {}, 10.0),
        ("blocked strainer", {"factor": 300}, 300.0),
        ("collapsed hose", {}, 0.5),
        ("collapsed hose", {"share": 0.3}, 0.3),
        ("filled hot to the cold mark", {}, 1.0),
    ],
)
def test_fault_is_as_large_as_it_says_or_as_usual(name, others, size):
    event = fault(name, **others)
    assert (event.time, event.name, event.direction, event.duration) == (60.0, name, "on", 0.0)
    assert event.size == pytest.approx(size, rel=1e-14)  # rounding


def test_lost_oil_is_a_mass_flow_of_its_volume_at_the_start_temperature():
    usual, own = fault("lost oil"), fault("lost oil", volume="0.2 L", duration="5 min")
    density = oil.density(293.15, 870.0)
    assert (usual.duration, own.duration) == (60.0, 300.0)
    assert usual.size * usual.duration == pytest.approx(0.5e-3 * density, rel=1e-14)  # rounding
    assert own.size * own.duration == pytest.approx(0.2e-3 * density, rel=1e-14)


def test_water_is_a_share_of_the_oil_at_the_start():
    oil_mass = initial_gas(truck().spec).oil_mass
    # water has 998.2 kg/m3 at 20 degC (steam tables); 0.1 % for its rounding
    assert fault("water got in").size == pytest.approx(0.9982 * 20e-3 / oil_mass, rel=1e-3)
    assert fault("water got in", volume="5 mL").size == pytest.approx(0.9982 * 5e-3 / oil_mass, rel=1e-3)


def test_a_recharge_is_as_long_as_it_says_or_as_usual_at_what_its_regulator_shows():
    for others, duration in (({}, 30.0), ({"duration": "1 min"}, 60.0)):
        written = {"action": "recharge", "time": "1 min", "pressure": "8 psig", **others}
        (event,) = timed_events(truck({"event": [written]}).spec)
        assert (event.time, event.name, event.direction, event.duration) == (60.0, "recharge", "start", duration)
        assert event.size == pytest.approx(8.0 * 6894.757293168361, rel=1e-14)  # the definition of the pound-force


def test_a_fan_is_forced_on_and_given_back():
    written = [{"action": "fan on", "time": "1 min"}, {"action": "fan auto", "time": "2 min"}]
    events = timed_events(truck({"cooler.fan_air_speed": "5 m/s", "event": written}).spec)
    assert [(event.time, event.name, event.direction) for event in events] == [
        (60.0, "fan override", "on"),
        (120.0, "fan override", "off"),
    ]


def test_fault_that_is_switched_off_has_the_same_name():
    written = [
        {"action": f"fault {word}", "fault": "seal leak", "time": f"{at} s"} for at, word in ((5, "on"), (9, "off"))
    ]
    events = timed_events(truck({"event": written}).spec)
    assert [(event.time, event.name, event.direction) for event in events] == [
        (5.0, "seal leak", "on"),
        (9.0, "seal leak", "off"),
    ]


@pytest.mark.parametrize("name", FAULTS)
def test_every_fault_can_be_written(name):
    assert fault(name).name == name
