"""What moves air during an interval, term by term, against hand calculation."""

import math

import pytest

from support import bench, instant, start_at
from ullage.kernel.air_exchange import Stream, air_exchange
from ullage.physics import bubbles, oil

WARM, PRESSURE = 340.0, 150e3
NO_FLOW = Stream(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1e-5)
DRIVING = instant(engine_speed=300.0, vehicle_speed=20.0)


def tank(**state):
    """Return parameters and state of a warm tank."""
    b = bench()
    for name, value in state.items():
        setattr(b.state, name, value)
    start_at(b.state, b.parameters, WARM, PRESSURE)
    return b.parameters, b.state


def rates(p, s, stream=NO_FLOW, before=DRIVING, after=None, length=1.0):
    return air_exchange(p, s, stream, before, after or before, WARM, length)


def test_all_that_comes_back_draws_gas_in_whichever_way_it_takes():
    p, s = tank()
    share = 3.0 * p.entrainment  # rough ground
    round_the_ring = rates(p, s, NO_FLOW._replace(ring_flow=6e-4)).drawn_in
    past_it = rates(p, s, NO_FLOW._replace(direct_flow=6e-4)).drawn_in
    assert round_the_ring == pytest.approx(share * 6e-4, rel=1e-12)
    assert past_it == pytest.approx(round_the_ring, rel=1e-12)


def test_an_uncovered_outlet_swallows_its_share_of_what_the_pump_sweeps():
    p, s = tank(line_gas=0.25)
    p.entrainment = p.plunging_entrainment = 0.0
    assert rates(p, s, NO_FLOW._replace(swept_flow=8e-4)).drawn_in == pytest.approx(0.25 * 8e-4, rel=1e-12)


def test_oil_full_of_bubbles_takes_no_more():
    p, s = tank()
    tank_oil = s.reservoir_mass / oil.density(WARM, p.density_15)
    s.free_air = 0.5 * tank_oil * PRESSURE / (287.05 * WARM)  # a void of a third
    assert rates(p, s, NO_FLOW._replace(ring_flow=6e-4)).drawn_in == 0.0


def test_trapped_air_comes_out_with_the_ram_and_with_driving():
    p, s = tank(trapped_air=1e-4)
    standing = instant(engine_speed=100.0, steering_position=-1.0)
    lock = standing._replace(steering_position=1.0)
    # from lock to lock is half a cycle, and back the other half; 63 % are out after `bleeding_cycles`
    swung = rates(p, s, before=standing, after=lock, length=2.0).freed * 2.0
    assert swung == pytest.approx(1e-4 * (1.0 - math.exp(-0.5 / p.bleeding_cycles)), rel=1e-12)
    # driving counts as a cycle a minute
    driven = rates(p, s, length=30.0).freed * 30.0
    assert driven == pytest.approx(swung, rel=1e-12)
    assert rates(p, s, before=standing).freed == 0.0


def test_only_the_oil_in_the_tank_lets_go_of_air_there():
    p, s = tank()
    found = rates(p, s)
    assert found.tank_release == pytest.approx(p.tank_release_rate * s.reservoir_mass / s.oil_mass, rel=1e-12)
    assert 0.5 < s.reservoir_mass / s.oil_mass < 0.8


def test_bubbles_go_into_solution_under_the_supply_pressure_only_on_the_way_through_the_gear():
    p, s = tank()
    s.dissolved_air = 0.0  # no air in the oil: nothing holds the bubbles back
    rise, flow = 40e5, 6e-4
    ring = NO_FLOW._replace(feed_flow=flow, ring_flow=flow, supply_rise=rise)
    # Epstein and Plesset at the radius that Boyle leaves of the sheared bubble, over half the gear's oil
    radius = 0.5 * p.sheared_bubble_diameter * (101325.0 / (PRESSURE + rise)) ** (1.0 / 3.0)
    held = 0.09 * WARM / 273.15
    time = 0.5 * p.gear_volume / flow
    share = 1.0 - math.exp(-2.0 * p.air_diffusivity * held / radius**2 * time)
    drawn_off = oil.density(WARM, p.density_15) * flow / s.reservoir_mass
    in_tank = bubbles.dissolution_rate(0.5 * p.bubble_diameter, p.air_diffusivity, held, 0.0)
    assert rates(p, s, ring).dissolving == pytest.approx(in_tank + drawn_off * share, rel=1e-9)
    # half of what comes back by the bypass has not been there
    halved = ring._replace(direct_flow=flow, feed_flow=2.0 * flow)
    assert rates(p, s, halved).dissolving == pytest.approx(in_tank + 2.0 * drawn_off * 0.5 * share, rel=1e-9)
