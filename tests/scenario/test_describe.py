import pytest

from support import truck
from ullage.scenario.describe import describe

OWN_OIL = {"fluid.preset": None, "fluid.viscosity_40": 3e-5, "fluid.density_15": 860}
PIT = {"name": "pit", "after_lap": 1, "duration": "5 min"}


def warnings(changes=None, units="metric"):
    """Return the warnings that a description holds."""
    text = describe(truck(changes), units)
    return [line.removeprefix("  warning: ") for line in text.split("\n") if line.startswith("  warning: ")]


def assumed(scenario):
    """Return the keys below the line that says what was assumed."""
    _, _, text = describe(scenario, "metric").partition("assumed (")
    return [
        word.strip() for line in text.split("\n")[1:] for part in line.split("  ") if (word := part.split(" = ")[0])
    ]


def test_every_weak_value_that_was_not_given_is_listed_once():
    scenario = truck()
    weak = [key.path for key in scenario.quantities() if key.quantity.weak]
    assert len(weak) > 20
    assert sorted(assumed(scenario)) == sorted(weak)


def test_weak_value_of_the_users_own_is_not_assumed():
    assert "cap.reseat_drop" in assumed(truck())
    assert "cap.reseat_drop" not in assumed(truck({"cap.reseat_drop": 0.1}))


def test_description_fits_one_screen():
    lines = describe(truck({"duty.stop": [PIT]}), "metric").split("\n")
    assert len(lines) < 50
    assert max(map(len, lines)) <= 120


@pytest.mark.parametrize(
    ("units", "expected"),
    [
        ("metric", ["7.6 L, 80 % oil at 20 degC", "relief 110.3 kPa", "38 L/min controlled", "22.2 mm bore", "10 km"]),
        ("us", ["8.031 qt, 80 % oil at 68 degF", "relief 16 psi", "10.04 gpm", "0.874 in bore", "6.214 miles"]),
    ],
)
def test_circuit_is_described_in_the_units_asked(units, expected):
    text = describe(truck(), units)
    assert [words for words in expected if words not in text] == []


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "ATF: 34 mm2/s at 40 degC, 7.3 mm2/s at 100 degC, 870 kg/m3"),
        (
            {"fluid.preset": None, "fluid.viscosity_40": 3e-5, "fluid.viscosity_100": 6e-6, "fluid.density_15": 860},
            "own data",
        ),
        ({"cap.kind": "vented"}, "vented, breather 3 mm2"),
        ({"pump.controlled_flow": None}, "no flow control"),
        ({"pump.bypass_routing": "reservoir"}, "bypass to the reservoir"),
        ({"pump.relief_location": "steering_gear"}, "in the steering gear"),
        ({"duty.laps": 2, "duty.segment.0.elevation": 300.0}, "2 laps, 20 km, 0.33 h, 0 m to 300 m"),
        ({"title": ""}, "untitled scenario"),
        ({"weather.temperature": "5 degC"}, "start at 5 degC"),
    ],
)
def test_description_says_what_was_understood(changes, words):
    assert words in describe(truck(changes), "metric")


def test_stops_and_events_stand_on_the_race_clock():
    events = [{"action": "cap off", "stop": "pit", "after": "90 s"}, {"action": "engine off", "time": "3 s"}]
    text = describe(truck({"duty.stop": [PIT], "event": events}), "metric")
    assert "  stop       pit: 0:10:00 to 0:15:00\n" in text
    assert "  event      0:00:03 engine off\n  event      0:11:30 cap off\n" in text


def test_truck_without_a_weakness_has_no_warning():
    # 16 psi and 2 psi to full lift are 124 kPa; the tank is rated 250, the seal 170 kPa.
    assert warnings() == []


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pump.maximum_speed": "2790 rpm"}, ["turns up to 2800 rpm; its limit is 2790 rpm"]),
        ({"reservoir.rating": "1.2 barg"}, ["124.1 kPa gauge; the tank is rated 120 kPa"]),
        ({"pump.seal_rating": "1.2 barg"}, ["124.1 kPa gauge; the shaft seal is rated 120 kPa"]),
        ({"pump.seal_rating": "1 barg", "reservoir.rating": "1 barg"}, ["the tank is", "the shaft seal is"]),
        ({"pump.maximum_speed": "2801 rpm", "cap.kind": "vented", "reservoir.rating": "1 barg"}, []),
        ({"pump.maximum_speed": "2790 rpm", "pump.belt_slip": 0.01}, []),
    ],
)
def test_speed_and_pressure_over_a_rating_are_warned_of(changes, words):
    found = warnings(changes)
    assert len(found) == len(words)
    assert all(expected in text for expected, text in zip(words, found, strict=True))
