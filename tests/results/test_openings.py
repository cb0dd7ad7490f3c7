import numpy as np
import pytest

from support import truck
from ullage.api import simulate
from ullage.results.summary import summarise

AFTER = ("refitted", "regained_by", "regained_gauge_pressure", "gauge_pressure_in_oil", "gauge_pressure_from_oil")
OPENED = [{"action": "cap off", "time": "5 min"}, {"action": "cap on", "time": "6 min"}]
# a truck that has stood hot and shut for a day, is opened for a minute and stands again; nothing warms or cools it
SOAKED = {
    "start.temperature": "50 degC",
    "weather.temperature": "50 degC",
    "surroundings.bay_offset": "0 K",
    "surroundings.stop_rise": "0 K",
    "surroundings.block_temperature": "50 degC",
    "start.headspace_pressure": "60 kPag",
    "duty.segment": [{"duration": "24 h", "vehicle_speed": "0 km/h", "engine_speed": "0 rpm"}],
    "duty.sample_interval": "1 min",
    "air.transfer_velocity": "1e-3 m/s",
}


def openings(changes):
    """Return the results of a race and what it says of its openings."""
    data = simulate(truck(changes))
    return data, summarise(data)["cap_openings"]


def test_opening_carries_what_was_just_before_it():
    data, (opening,) = openings({"start.temperature": "90 degC", "event": OPENED[:1]})
    before = data.sel(time=300.0)
    assert opening["time"] == 300.0
    assert opening["hottest_oil"] == float(before.oil_temperature.max()) > 350.0
    assert opening["gauge_pressure"] == float(before.headspace_gauge_pressure)
    assert [opening[name] for name in AFTER] == [None] * 5
    assert summarise(data)["cap_off_at_end"]


def test_refitted_opening_carries_the_highest_pressure_until_the_next_one_or_for_ten_minutes():
    again = [{"action": "cap off", "time": "8 min"}, {"action": "cap on", "time": "9 min"}]
    data, found = openings({"event": [*OPENED, *again]})
    over = data.headspace_gauge_pressure
    for opening, end in zip(found, (480.0, 600.0), strict=True):
        assert opening["refitted"] == opening["time"] + 60.0
        assert opening["regained_gauge_pressure"] == float(over.sel(time=slice(opening["refitted"] + 0.005, end)).max())
    assert found[0]["regained_gauge_pressure"] == found[1]["gauge_pressure"] > 0.0


def test_soaked_tank_regains_from_its_own_oil_what_the_closed_form_says():
    opened = [{"action": "cap off", "time": "8 h"}, {"action": "cap on", "time": "8 h 1 min"}]
    data, (opening,) = openings({**SOAKED, "event": opened})
    # At one temperature oil and air space share what the oil holds: 16 h are many times the time of the exchange, and
    # oil and tank yield to the pressure by about a hundredth of the air space.
    assert float(np.ptp(data.oil_temperature.values)) < 0.1
    assert float(data.headspace_gauge_pressure[-1]) == pytest.approx(opening["gauge_pressure_from_oil"], rel=0.02)
    assert opening["regained_by"] == opening["refitted"] + 600.0
    assert 0.0 < opening["regained_gauge_pressure"] < 0.9 * opening["gauge_pressure_from_oil"]
    assert 0.0 < opening["gauge_pressure_from_oil"] < opening["gauge_pressure_in_oil"] <= opening["gauge_pressure"]


def test_oil_without_air_has_no_pressure_of_its_own():
    (opening,) = openings({"air.model": "frozen", "start.air_saturation": 0, "event": OPENED})[1]
    assert (opening["gauge_pressure_in_oil"], opening["gauge_pressure_from_oil"]) == (None, None)
    assert opening["refitted"] == 360.0


def test_what_heat_makes_after_the_stop_does_not_count_as_regained():
    opened = [
        {"action": "cap off", "stop": "pit", "after": "1 min"},
        {"action": "cap on", "stop": "pit", "after": "2 min"},
    ]
    pit = {"name": "pit", "after_lap": 1, "duration": "5 min", "engine": "off"}
    data, (opening,) = openings({"duty.laps": 2, "duty.stop": [pit], "event": opened})
    assert opening["regained_by"] == 600.0 + 300.0
    assert opening["regained_gauge_pressure"] < opening["gauge_pressure"]
    assert float(data.headspace_gauge_pressure.sel(time=slice(900.0, None)).max()) > opening["regained_gauge_pressure"]


def test_what_a_recharge_puts_in_does_not_count_as_regained():
    recharge = {"action": "recharge", "time": "8 min", "pressure": "10 psig"}
    data, (opening,) = openings({"event": [*OPENED, recharge]})
    over = data.headspace_gauge_pressure
    assert opening["regained_by"] == 480.0
    assert opening["regained_gauge_pressure"] == float(over.sel(time=slice(360.005, 480.0)).max())
    assert float(over.max()) > opening["regained_gauge_pressure"] + 2e4


def test_every_fault_has_its_beginning_its_end_and_its_lap():
    changes = {
        "duty.laps": 2,
        "event": [
            {"action": "fault on", "fault": "relief stuck shut", "time": "1 min"},
            {"action": "fault on", "fault": "seal leak", "time": "11 min"},
            {"action": "fault off", "fault": "seal leak", "time": "12 min"},
        ],
    }
    assert summarise(simulate(truck(changes)))["faults"] == [
        {"name": "relief stuck shut", "begin": 60.0, "end": None, "lap": 1},
        {"name": "seal leak", "begin": 660.0, "end": 720.0, "lap": 2},
    ]
