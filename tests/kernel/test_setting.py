"""The state before the march and after oil is poured in or drawn off."""

import numpy as np
import pytest

from support import bench, channel_table, clear_volume, instant, masses_at, start_at
from ullage.kernel.air_exchange import Stream
from ullage.kernel.gas_march import Span, gas_problem
from ullage.kernel.headspace import pressure_now
from ullage.kernel.params import CHANNEL_INDEX
from ullage.kernel.setting import air_in_oil, fill_to_mark, settle
from ullage.kernel.state import copied
from ullage.kernel.stores import oil_energy
from ullage.physics import oil
from ullage.physics.air import GAS_CONSTANT, HEAT_CONSTANT_PRESSURE
from ullage.results.balance import audit

WHOLE = 7.6e-3


def held(temperature=340.0, pressure=150e3, free=2e-4, trapped=1e-4):
    b = bench()
    b.parameters.tank_compliance = 1e-13  # a wall that does not give way
    b.state.free_air, b.state.trapped_air = free, trapped
    start_at(b.state, b.parameters, temperature, pressure)
    return b


def test_settle_finds_the_pressure_that_the_march_finds():
    b = held()
    p, s = b.parameters, b.state
    forcing = instant(water_content=3e-4)
    in_tank = masses_at(p, 0.0, s.oil_mass, s.temperature).reservoir
    settle(p, s, forcing, in_tank)
    volume = clear_volume(p, in_tank, 340.0)
    span = Span(0.0, 1.0, volume, volume, 340.0, 340.0)
    problem = gas_problem(p, s, span, forcing, forcing, Stream(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1e-5))
    value = (s.air_heat, s.air_mass, s.dissolved_air, 0.0, s.free_air)
    assert s.air_pressure == pytest.approx(pressure_now(value, 0.0, problem), rel=1e-13)


def test_settle_puts_air_bubbles_and_oil_into_the_tank():
    s = held().state
    above = GAS_CONSTANT * s.air_heat / 150e3
    assert s.air_pressure == pytest.approx(150e3, rel=1e-12)
    assert s.headspace_volume == pytest.approx(above, rel=1e-12)
    whole = WHOLE * (1.0 + 7.1e-5 * (340.0 - 293.15))
    assert s.surface_height == pytest.approx((whole - above) / 0.021, rel=1e-12)
    in_tank = s.reservoir_mass / oil.density(340.0, 870.0) + GAS_CONSTANT * 340.0 * 3e-4 / 150e3
    # 9.6 L of oil of 1 GPa (API MPMS 11.2.1M) give way by 1e-11 m3/Pa times 49 kPa, 5e-7 m3
    assert whole - above == pytest.approx(in_tank, abs=6e-7)


def filled(temperature, oil_share, **channels):
    """Return bench before and state after a fill to the mark of a tank with a share of its oil, no bubbles in it."""
    before, after = held(temperature, 101325.0, 0.0, 0.0), None
    p, s = before.parameters, before.state
    s.oil_mass *= oil_share
    start_at(s, p, temperature, 101325.0)
    s.oil_energy = oil_energy(p, masses_at(p, 0.0, s.oil_mass, s.temperature), s.temperature, air_in_oil(s))
    after = copied(s)
    fill_to_mark(p, after, instant(**channels))
    return before, after


@pytest.mark.parametrize("temperature", [253.15, 293.15, 375.0])
@pytest.mark.parametrize("oil_share", [0.9, 1.05])
def test_filling_brings_the_level_to_the_cold_mark_hot_and_cold(temperature, oil_share):
    b, after = filled(temperature, oil_share, ambient_temperature=290.0)
    whole = WHOLE * (1.0 + 7.1e-5 * (after.temperature[0] - 293.15))
    level = after.surface_height * 0.021 / whole
    # what oil gains in volume when poured into hot oil the hot oil loses, but for the heat of the wall and the change
    # of its volume: some 15 % of a swelling of 7e-4 a kelvin, 10 K
    assert level == pytest.approx(0.8, abs=1.5e-3)
    assert (after.oil_added > 0.0) == (b.state.surface_height * 0.021 < 0.8 * whole)


@pytest.mark.parametrize("oil_share", [0.85, 1.05])
def test_what_is_poured_in_or_drawn_off_is_booked(oil_share):
    b, s = filled(360.0, oil_share, ambient_temperature=290.0, ambient_pressure=9e4)
    p, before = b.parameters, b.state
    # sums and differences of the same numbers: rounding
    assert s.oil_mass - before.oil_mass == pytest.approx(s.oil_added - s.oil_drawn_off, rel=1e-12)
    assert s.dissolved_air - before.dissolved_air == pytest.approx(s.air_added - s.air_lost, rel=1e-9)
    assert s.oil_energy - before.oil_energy == pytest.approx(s.top_up_energy - s.lost_energy, rel=1e-9)
    if oil_share < 1.0:
        assert s.oil_added > 0.3
        # Bunsen: 0.1163 kg a cubic metre at one atmosphere, saturated at 90 kPa; oil of 870 kg/m3
        assert s.air_added == pytest.approx(0.1163 * 9e4 / 101325.0 * s.oil_added / 870.0, rel=1e-3)
        enthalpy = oil.enthalpy(290.0, p.heat_constant, p.heat_slope)
        expected = s.oil_added * enthalpy + s.air_added * HEAT_CONSTANT_PRESSURE * 290.0
        assert s.top_up_energy == pytest.approx(expected, rel=1e-12)
        assert s.temperature[0] < 360.0
    else:
        assert s.oil_drawn_off > 0.3
        assert s.oil_lost == 0.0
        # what is drawn off has the tank's temperature and leaves that as it is
        assert s.temperature[0] == pytest.approx(360.0, abs=1e-6)


@pytest.mark.parametrize("oil_share", [0.9, 1.05])
def test_a_race_with_a_fill_to_the_mark_closes_its_balances(oil_share):
    time = np.sort(np.append(np.arange(0.0, 121.0), 60.0))
    channels = channel_table(time, engine_speed=400.0, steering_load=20e5, cap_on=0.0)
    channels[61:, CHANNEL_INDEX["mark_fills"]] = 1.0
    b = held(360.0, 101325.0)
    b.state.oil_mass *= oil_share
    start_at(b.state, b.parameters, 360.0, 101325.0)
    out, _, status = b.run(time, channels)
    assert status == 0
    balances = audit(b.parameters, out[np.flatnonzero(np.diff(time, prepend=-1.0) > 0.0)])
    assert balances.oil < 1e-10
    assert balances.air < 1e-10
    assert balances.energy < 1e-6
    # a second after, bubbles included: what is poured in hot oil swells by 0.05 of its volume, and oil warms on
    assert out.oil_level[62] == pytest.approx(0.8, abs=0.01)
