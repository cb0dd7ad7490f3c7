import numpy as np
import pytest

from support import truck
from ullage.kernel.filling import Filling, filling_of, initial_gas, level_at, oil_left
from ullage.kernel.settings import SETTINGS, Settings
from ullage.kernel.state import State, record_array, record_dtype
from ullage.physics import oil
from ullage.scenario import settings as from_scenario
from ullage.scenario.compile import compile_problem

# at 15 degC the density is that of the data sheet, and no law of the oil enters
COLD = {"reservoir.fill_temperature": "15 degC", "start.temperature": "15 degC"}
TANK = 7.6e-3 * (1.0 - 5.0 * 7.1e-5)
PASSAGES = 3.5e-3 * (1.0 - 5.0 * 4e-5)


def filling(changes=None, **values):
    """Return what the test truck is filled with, with some numbers changed."""
    return from_scenario.filling_of(truck({**COLD, **(changes or {})}).spec)._replace(**values)


def test_what_is_filled_in_is_picked_from_the_settings_by_name():
    record = record_array(Settings, np.arange(float(len(SETTINGS))))[0]
    assert filling_of(record) == tuple(float(SETTINGS.index(name)) for name in Filling._fields)


@pytest.mark.parametrize("changes", [{}, {"start.headspace_pressure": "120 kPaa", "start.trapped_air": "0.1 L"}])
def test_a_scenario_and_its_settings_are_filled_alike(changes):
    spec = truck(changes).spec
    assert filling_of(from_scenario.settings_of(spec)) == from_scenario.filling_of(spec)


def test_air_space_of_a_tank_at_its_mark_is_an_ideal_gas_at_ambient_pressure():
    state = compile_problem(truck(COLD).spec).state
    # 0.2 of the tank at 101325 Pa and 288.15 K; 287.05 J/(kg K) of ISO 2533; the volume is a difference
    assert state.air_mass == pytest.approx(101325.0 * 0.2 * TANK / (287.05 * 288.15), rel=1e-12)
    assert state.oil_mass == pytest.approx(870.0 * (0.8 * TANK + PASSAGES), rel=1e-14)  # rounding


def test_a_pressure_over_ambient_goes_with_the_elevation_and_an_absolute_one_stays():
    low, high = {"start_elevation": 0.0}, {"start_elevation": 1500.0}
    over, absolute = (filling({"start.headspace_pressure": level}) for level in ("0.5 barg", "1.5 bara"))
    gas = [initial_gas(each._replace(**place)).air_pressure for each in (over, absolute) for place in (low, high)]
    # ISO 2533 table: 84560 Pa at 1500 m, printed digits
    assert gas == pytest.approx([151325.0, 134560.0, 150000.0, 150000.0], abs=1.0)


def test_weather_moves_what_is_over_ambient_and_the_air_in_the_oil():
    fair, foul = initial_gas(filling()), initial_gas(filling(weather_pressure_offset=-1000.0))
    assert fair.air_pressure - foul.air_pressure == pytest.approx(1000.0, rel=1e-12)  # a difference
    # Henry's law
    assert foul.dissolved_air / fair.dissolved_air == pytest.approx(100325.0 / 101325.0, rel=1e-14)  # rounding


def test_level_of_a_cold_tank_that_was_filled_cold_is_its_mark():
    assert level_at(filling(), 288.15) == pytest.approx(0.8, rel=1e-14)  # rounding


def test_oil_left_in_the_cold_is_what_is_in_the_circuit_less_what_lines_and_parts_hold():
    held = filling()
    density = oil.density(233.15, 870.0)
    in_parts = density * 3.5e-3 * (1.0 - 60.0 * 4e-5)  # 60 K below 20 degC
    expected = (870.0 * (0.8 * TANK + PASSAGES) - in_parts) / density
    assert oil_left(held).volume == pytest.approx(expected, rel=1e-13)  # a difference


def test_filling_sets_what_is_in_the_circuit_and_leaves_the_rest_of_the_state_zero():
    state = compile_problem(truck(COLD).spec).state
    filled = {name for name in record_dtype(State).names if np.any(state[name] != 0)}
    assert filled == {
        "temperature",
        "air_heat",
        "air_mass",
        "dissolved_air",
        "oil_mass",
        "cap_on",
        "cooler_open",
        "oil_step",
        "gas_step",
    }
    assert state.temperature.tolist() == [288.15] * 4
