import pytest

from support import truck
from ullage.physics import oil
from ullage.scenario.describe import describe, warning_lines

OWN_OIL = {"fluid.preset": None, "fluid.viscosity_40": 3e-5, "fluid.density_15": 860}
PIT = {"name": "pit", "after_lap": 1, "duration": "5 min"}


def warnings(changes=None, units="metric"):
    """Return the warnings that a description holds."""
    text = describe(truck(changes), units)
    return [line.removeprefix("  warning: ") for line in text.split("\n") if line.startswith("  warning: ")]


def assumed(scenario):
    """Return the keys below the line that says what was assumed."""
    _, _, text = describe(scenario, "metric").partition("assumed (")
    text = text.partition("\n  and ")[0]
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


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        # set flow over bore: 38 L/min in 22.2 mm are 1.64 m/s, in 28 mm 1.03 m/s
        ({}, "at most 1.6 m/s, over the custom of 0.6 to 1.2 m/s (common practice): watch the lowest feed"),
        ({"feed_line.bore": "28 mm"}, "at most 1 m/s; not over the custom of 0.6 to 1.2 m/s (common practice)"),
        # all that the pump sweeps: 28 cm3 at 2800 rpm, 78.4 L/min
        ({"pump.bypass_routing": "reservoir"}, "at most 3.4 m/s, over the custom"),
        ({"pump.controlled_flow": None, "pump.bypass_routing": None}, "at most 3.4 m/s, over the custom"),
        # and no faster than the pump may turn: 1000 rpm, 28 L/min
        ({"pump.bypass_routing": "reservoir", "pump.maximum_speed": "1000 rpm"}, "at most 1.2 m/s; not over"),
    ],
)
def test_speed_of_the_oil_in_the_feed_line_stands_beside_the_custom(changes, said):
    assert said in describe(truck(changes), "metric")


def test_a_pump_that_never_turns_has_no_speed_in_its_feed_line():
    parked = {"duty.segment": [{"duration": "1 h", "engine_speed": "0 rpm"}]}
    assert "feed flow" not in describe(truck(parked), "metric")


def test_description_fits_one_screen():
    lines = describe(truck({"duty.stop": [PIT]}), "metric").split("\n")
    assert len(lines) < 50
    assert max(map(len, lines)) <= 120


@pytest.mark.parametrize(
    ("units", "expected"),
    [
        (
            "metric",
            [
                "tank 7.6 L",
                "cold mark  80 % (6.08 L) with all oil at 20 degC",
                "28 cm3 a revolution",
                "110 bar",
                "relief 110.3 kPa",
                "38 L/min controlled",
                "22.2 mm bore",
                "10 km",
            ],
        ),
        (
            "us",
            [
                "tank 8.031 qt",
                "80 % (6.425 qt) with all oil at 68 degF",
                "1.709 in3 a revolution",
                "1595 psi",
                "relief 16 psi",
                "10.04 gpm",
                "0.874 in bore",
                "6.214 miles",
            ],
        ),
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


def test_study_of_a_stop_says_what_it_asks_if_it_is_asked():
    assert "pit study" not in describe(truck({"duty.stop": [PIT]}), "metric")
    events = [{"action": "cap on", "after": "2 min"}, {"action": "cap off", "after": "1 min"}]
    choices = [{"name": "look", "stop_duration": "4 min", "engine": "off", "event": events}, {"name": "rest"}]
    changes = {"duty.stop": [PIT], "pit": {"overnight_temperature": "5 degC", "choice": choices}}
    assert (
        "  pit study  at pit: cap off for 0:01:00, top-up of what is missing, recharge to what the tank had;\n"
        "             waiting below 50 degC, 6:00:00 at most; overnight 12:00:00 at 5 degC\n"
        "             own choice look: stands 0:04:00, engine off, cap off after 0:01:00, cap on after 0:02:00\n"
        "             own choice rest: nothing is done\n"
    ) in describe(truck(changes), "metric")
    given = {**changes, "pit": {"top_up_volume": "0.3 L", "recharge_pressure": "40 kPag"}}
    assert "top-up of 0.3 L, recharge to 40 kPa;" in describe(truck(given), "metric")


def test_stops_and_events_stand_on_the_race_clock():
    events = [{"action": "cap off", "stop": "pit", "after": "90 s"}, {"action": "engine off", "time": "3 s"}]
    text = describe(truck({"duty.stop": [PIT], "event": events}), "metric")
    assert (
        "  event      0:00:03 engine off\n  stop       0:10:00 to 0:15:00 pit\n  event      0:11:30 cap off\n"
    ) in text


def test_actions_of_the_crew_stand_as_they_are_written():
    events = [
        {"action": "fan on", "time": "1 min"},
        {"action": "recharge", "time": "2 min", "pressure": "8 psig"},
        {"action": "fan auto", "time": "3 min"},
    ]
    text = describe(truck({"cooler.fan_air_speed": "5 m/s", "event": events}), "us")
    assert (
        "  event      0:01:00 fan on\n"
        "  event      0:02:00 recharge for 30 s, regulator at 8 psi over ambient\n"
        "  event      0:03:00 fan auto\n"
    ) in text


def test_marks_are_the_share_of_oil_in_the_expanded_tank():
    # the whole circuit at 120 degC: its mass from the mark, less what 3.5 L of passages hold, in a tank grown by 0.7 %
    mass = (0.8 * 7.6e-3 + 3.5e-3) * oil.density(293.15, 870.0)
    left = mass - 3.5e-3 * (1.0 + 4e-5 * 100.0) * oil.density(393.15, 870.0)
    share = left / oil.density(393.15, 870.0) / (7.6e-3 * (1.0 + 7.1e-5 * 100.0))
    assert f"  hot mark   {100.0 * share:.3g} % with all oil at 120 degC" in describe(truck(), "metric")
    assert "at 30 degC, as the race starts" in describe(truck({"start.temperature": "30 degC"}), "metric")


def test_duty_is_described_by_its_ranges():
    segment = {"duration": "10 min", "vehicle_speed": "10 km/h", "engine_speed": "2000 rpm", "steering_load": "30 bar"}
    both = truck({"duty.segment": [segment, {**segment, "vehicle_speed": "90 km/h", "engine_speed": "5000 rpm"}]})
    words = "duty       vehicle 10 km/h to 90 km/h, engine 2000 rpm to 5000 rpm, steering load 30 bar to 30 bar"
    assert words in describe(both, "metric")


def test_values_at_ordinary_defaults_are_counted():
    count = [
        int(describe(truck(changes), "us").split("  and ")[1].split()[0])
        for changes in ({}, {"cap.vacuum_pressure": "0.4 psi"})
    ]
    assert count[0] == count[1] + 1


def test_truck_without_a_weakness_has_no_warning():
    # 16 psi and 2 psi to full lift are 124 kPa; the tank is rated 250, the seal 170 kPa.
    assert warnings() == []


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pump.maximum_speed": "2790 rpm"}, ["turns up to 2800 rpm; its limit is 2790 rpm"]),
        ({"pump.drive_ratio": 2.0}, ["turns up to 8000 rpm; its limit, not given, is taken as 5500 rpm"]),
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


MOVES = {"duration": "10 min", "engine_speed": "2000 rpm", "steering_position": 0.5}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {"start.trapped_air": "50 mL"},
            ["no segment moves the ram, so the trapped air, 50 mL, comes out with driving"],
        ),
        ({"start.trapped_air": "50 mL", "duty.segment": [MOVES, MOVES]}, ["bleed lock to lock on stands before"]),
        ({"start.trapped_air": "50 mL", "duty.segment": [MOVES, {**MOVES, "steering_position": -0.5}]}, []),
        ({"start.trapped_air": "50 mL", "duty.segment": [MOVES], "duty.stop": [PIT]}, []),
        ({"duty.segment": [MOVES]}, []),
    ],
)
def test_trapped_air_that_no_travel_of_the_ram_brings_out_is_warned_of(changes, words):
    found = warnings(changes)
    assert len(found) == len(words)
    assert all(expected in text for expected, text in zip(words, found, strict=True))


def test_pulses_that_reach_the_relief_are_told_unless_samples_show_them():
    drawn = {
        "duration": "10 min",
        "engine_speed": "3000 rpm",
        "steering_load": "25 bar",
        "steering_load_spread": "12 bar",
    }
    changes = {"duty.seed": 1, "duty.segment": [{**drawn, "steering_load_peak": "108 bar"}]}
    told = "warning: steering pulses reach the relief"
    assert any(told in line for line in warning_lines(truck(changes), "metric"))  # 110 bar less the 7 bar of the valve
    for quiet in ({"duty.sample_interval": "0.1 s"}, {"pump.relief_pressure": "125 bar"}):
        assert not any(told in line for line in warning_lines(truck({**changes, **quiet}), "metric"))


def test_wheel_on_the_lock_that_does_not_reach_the_relief_is_told():
    held = {"duration": "10 min", "engine_speed": "3000 rpm", "lock_holds": 2}
    changes = {"duty.seed": 1, "duty.segment": [held], "duty.full_lock_load": "90 bar"}
    told = "a wheel on the lock does not reach the relief: duty.full_lock_load is 90 bar"
    assert any(told in line for line in warning_lines(truck(changes), "metric"))
    assert not warning_lines(truck({**changes, "duty.full_lock_load": "125 bar"}), "metric")
