import datetime
import importlib.metadata
import json

import numpy as np
import pytest

from support import truck
from ullage.api import simulate
from ullage.duty.events import FAULTS
from ullage.kernel.modes import SWITCHES
from ullage.results.variables import CAP_STATES, COORDINATES, EVENT_VARIABLES, VARIABLES, WHILE_TURNING
from ullage.scenario.load import Scenario

PIT = {"name": "pit", "after_lap": 1, "duration": "5 min", "engine": "off"}
CHANGES = {
    "cap.relief_pressure": "1 psi",
    "reservoir.fill": 0.85,
    "start.temperature": "60 degC",
    "cooler.fan_air_speed": "3 m/s",
    "duty.segment.0.elevation": "500 m",
    "duty.laps": 2,
    "duty.stop": [PIT],
    "event": [
        {"action": "cap off", "stop": "pit", "after": "1 min"},
        {"action": "top-up", "stop": "pit", "after": "1 min", "volume": "0.1 L"},
        {"action": "cap on", "stop": "pit", "after": "3 min"},
    ],
}
STUCK = {"action": "fault on", "fault": "relief stuck shut", "time": "5 min"}
COOLING = {"duty.segment.0.engine_speed": "0 rpm", "duty.segment.0.duration": "1 h", "start.temperature": "80 degC"}


@pytest.fixture(scope="module")
def scenario():
    return truck(CHANGES)


@pytest.fixture(scope="module")
def data(scenario):
    return simulate(scenario)


def states(data):
    """Return the names of the cap states that a race went through."""
    return {CAP_STATES[state] for state in data.cap_state.values}


def test_dataset_holds_the_listed_variables_and_no_other(data):
    assert set(data.data_vars) == set(VARIABLES) | set(EVENT_VARIABLES)
    assert set(data.coords) == {*COORDINATES, "node"}
    assert set(data.sizes) == {"time", "node", "event"}
    assert data.node.values.tolist() == ["reservoir", "pump", "steering_gear", "cooler"]


@pytest.mark.parametrize("name", VARIABLES)
def test_variable_has_its_dimensions_unit_and_description(data, name):
    variable, listed = data[name], VARIABLES[name]
    assert variable.dims == (("node", "time") if name == "oil_temperature" else ("time",))
    assert (variable.attrs["units"], variable.attrs["long_name"]) == (listed.units, listed.long_name)
    reference = {"level": "absolute", "gauge": "ambient"}.get(listed.pressure)
    assert variable.attrs.get("pressure_reference") == reference
    assert variable.attrs.get("sign", "") == listed.sign
    known = data.pump_speed.values > 0.0 if name in WHILE_TURNING else True
    assert np.array_equal(np.isfinite(variable.values), np.broadcast_to(known, variable.shape))


@pytest.mark.parametrize("name", [*COORDINATES, *EVENT_VARIABLES])
def test_coordinate_and_event_variable_has_a_description_and_a_unit(data, name):
    listed = {**COORDINATES, **EVENT_VARIABLES}[name]
    assert data[name].attrs["long_name"] == listed.long_name
    assert data[name].attrs["units"] == listed.units != ""


def test_every_pressure_says_what_it_is_measured_from():
    pressures = {name for name, variable in VARIABLES.items() if variable.units == "Pa"}
    assert {name for name, variable in VARIABLES.items() if variable.pressure} == pressures


def test_time_increases_strictly_over_the_whole_race(data):
    assert np.all(np.diff(data.time) > 0.0)
    assert (float(data.time[0]), float(data.time[-1])) == (0.0, 1500.0)
    assert len(data.time) == 1501 + 2  # a row just after each of two instants of events


def test_coordinates_follow_laps_and_road(data):
    assert data.lap.values[[0, 600, 700, -1]].tolist() == [1, 1, 1, 2]
    assert float(data.distance[-1]) == pytest.approx(20e3, rel=1e-12)  # 20 min at 60 km/h, rounding
    assert float(data.elevation.sel(time=300.0)) == pytest.approx(250.0, rel=1e-12)
    assert float(data.elevation[-1]) == 500.0


def test_cap_states_are_flagged_and_named(data):
    assert data.cap_state.attrs["flag_values"].tolist() == list(range(len(CAP_STATES)))
    assert data.cap_state.attrs["flag_meanings"].split() == list(CAP_STATES)
    off = data.cap_state.values == CAP_STATES.index("off")
    assert np.array_equal(off, (data.time.values > 660.0) & (data.time.values < 780.0 + 0.005))
    assert states(data) <= {"closed", "relief_open", "off"}


def test_other_cap_states_appear_where_they_belong():
    # A relief valve opens for a fraction of a second: samples of 50 ms meet it open.
    assert states(simulate(truck({**CHANGES, "duty.sample_interval": "50 ms"}))) == {"closed", "relief_open", "off"}
    assert states(simulate(truck({"cap.kind": "vented"}))) == {"vented"}
    assert "vacuum_open" in states(simulate(truck(COOLING)))
    assert states(simulate(truck({"event": [STUCK]}))) == {"closed", "stuck"}


def test_fault_is_an_event_under_its_own_name_and_bubbles_stand_over_the_clear_oil():
    found = simulate(truck({"event": [STUCK, {**STUCK, "action": "fault off", "time": "7 min"}]}))
    named = list(zip(found.event_name.values, found.event_direction.values, found.event_time.values, strict=True))
    assert named == [("relief stuck shut", "on", 300.0), ("relief stuck shut", "off", 420.0)]
    assert np.all(found.oil_level[1:] > found.oil_level_clear[1:])
    assert np.all(np.diff(found.cavitation_exposure) >= 0.0)
    assert float(found.cavitation_exposure[-1]) > 0.0


def test_gauge_pressures_and_margins_are_differences_of_what_is_shown(data, scenario):
    over = data.headspace_pressure - data.ambient_pressure
    spec = scenario.spec
    for shown, expected in (
        (data.headspace_gauge_pressure, over),
        (data.feed_gauge_pressure, data.feed_pressure - data.ambient_pressure),
        (data.tank_margin, spec.reservoir.rating.pascal - over),
        (data.seal_margin, spec.pump.seal_rating.pascal - data.feed_gauge_pressure),
    ):
        assert np.max(np.abs(shown - expected)) < 1e-9  # rounding of 1e5 Pa


def test_attributes_say_what_was_simulated_and_how(data, scenario):
    installed = importlib.metadata.version("ullage")
    assert data.attrs["title"] == "test truck (invented data)"
    stamp, _, rest = data.attrs["history"].partition(" ")
    assert datetime.datetime.fromisoformat(stamp).utcoffset() == datetime.timedelta(0)
    assert rest == f"simulated by ullage {installed}"
    assert (data.attrs["ullage_version"], data.attrs["format_version"]) == (installed, 1)
    assert (data.attrs["scenario_hash"], data.attrs["status"]) == (scenario.hash, "done")


def test_scenario_in_the_attributes_reproduces_the_race(data):
    again = Scenario.from_toml(data.attrs["scenario_toml"])
    assert again.hash == data.attrs["scenario_hash"]
    assert simulate(again).drop_attrs().identical(data.drop_attrs())


def test_solver_attribute_is_json_with_tolerances_and_work(data):
    solver = json.loads(data.attrs["solver"])
    assert set(solver) == {f"{name}_tolerance" for name in ("temperature", "pressure", "mass")} | {
        "steps",
        "rejected",
        "evaluations",
    }
    assert solver["evaluations"] > solver["steps"] > solver["rejected"] >= 0
    assert solver["steps"] >= 100


def test_three_balances_are_attributes(data):
    for name, limit in (("oil_balance", 1e-10), ("air_balance", 1e-10), ("energy_balance", 1e-6)):
        assert isinstance(data.attrs[name], float)
        assert 0.0 <= data.attrs[name] < limit


def test_events_are_sorted_and_hold_what_was_done_and_what_switched(data):
    assert np.all(np.diff(data.event_time) >= 0.0)
    named = list(zip(data.event_name.values, data.event_direction.values, data.event_time.values, strict=True))
    for done in (("cap", "off", 660.0), ("top-up", "start", 660.0), ("cap", "on", 780.0)):
        assert done in named
    assert named.index(("cap", "off", 660.0)) < named.index(("top-up", "start", 660.0))
    opened = data.event_name.values == "cap relief"
    assert set(data.event_direction.values[opened]) == {"open", "shut"}
    assert np.all(data.event_count.values >= 1)


def test_event_text_has_a_fixed_width():
    for found in (simulate(truck(CHANGES)), simulate(truck())):
        assert (found.event_name.dtype, found.event_direction.dtype) == (np.dtype("U32"), np.dtype("U16"))
        assert max(len(name) for name in [*FAULTS, *(name for name, _ in SWITCHES)]) <= 32  # no name is cut
        assert (found.event_time.dtype, found.event_count.dtype) == (np.float64, np.int64)


# Samples of 50 ms: the trapezoid errs by some 1e-6 where flows bend, and by half a sample times the jump where the
# engine stops (one row stands at a jump): 25 ms of 600 s at full power, 4e-5.
@pytest.mark.parametrize(
    ("integral", "flow", "tolerance"),
    [
        ("shaft_work", lambda data: data.shaft_power, 1e-4),
        ("cooler_energy", lambda data: data.cooler_heat, 1e-4),
        ("surroundings_energy", lambda data: data.surroundings_heat, 1e-4),
    ],
)
def test_accumulated_energy_is_the_integral_of_its_power(integral, flow, tolerance):
    data = simulate(truck({**CHANGES, "duty.laps": 1, "duty.sample_interval": "50 ms"}))
    total = float(np.trapezoid(flow(data), data.time))
    assert float(data[integral][-1]) == pytest.approx(total, rel=tolerance)
    assert total > 1e5


def test_air_through_a_breather_is_the_integral_of_its_flow():
    data = simulate(truck({"cap.kind": "vented", "duty.sample_interval": "50 ms"}))
    total = float(np.trapezoid(data.cap_air_flow, data.time))
    net = float(data.air_vented[-1] - data.air_admitted[-1])
    assert net > 1e-5
    # The flow is found at the end of the steps, with pressures good to 10 Pa of the few pascals that drive it.
    assert net == pytest.approx(total, rel=1e-2)


def test_oil_added_is_the_mass_of_the_top_up(data):
    poured = 1e-4 * 870.0 * (1.0 - 5.0 * 7.22e-4)  # 0.1 L at 20 degC
    # Expansion of 7.22e-4 per kelvin from 15 to 20 degC, its second order 1e-5.
    assert float(data.oil_added[-1]) == pytest.approx(poured, rel=2e-5)
    assert float(data.oil_mass[-1] - data.oil_mass[0]) == pytest.approx(poured - float(data.oil_lost[-1]), rel=2e-5)
