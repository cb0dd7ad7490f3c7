"""What the cap lets through in each of its modes."""

import math

import pytest

from support import bench
from ullage.kernel.cap import RECHARGE_AREA, Splash, cap_areas, cap_flows, open_area
from ullage.kernel.params import STUCK_OPEN, STUCK_SHUT
from ullage.physics import valve

PSI = 6894.757293168361


def areas(changes=None, **modes):
    b = bench(changes)
    b.state.cap_on = 1
    for name, value in modes.items():
        setattr(b.state, name, value)
    return cap_areas(b.parameters, b.state)


def test_a_sound_shut_cap_lets_nothing_through():
    cap = areas()
    assert open_area(cap, 10 * PSI) == open_area(cap, -PSI) == 0.0


def test_an_open_relief_lifts_with_pressure_to_its_full_area_and_works_outward_only():
    cap = areas(relief_open=1)
    full = 0.7 * 20e-6
    assert open_area(cap, 18 * PSI) == pytest.approx(full, rel=1e-9)
    half_way = 0.5 * (14.4 + 18.0) * PSI
    assert open_area(cap, half_way) == pytest.approx(0.5 * full, rel=1e-6)
    assert open_area(cap, 14.4 * PSI) == pytest.approx(0.03 * full, rel=1e-9)
    assert open_area(cap, -PSI) == 0.0


def test_an_open_vacuum_valve_works_inward_only():
    cap = areas(vacuum_open=1)
    assert open_area(cap, -1.0 * PSI) == pytest.approx(0.7 * 20e-6, rel=1e-9)
    assert open_area(cap, PSI) == 0.0


def test_a_leak_works_both_ways_and_a_weep_outward():
    leak = areas(leak_area=0.7 * 0.25 * math.pi * 1e-4**2)
    assert open_area(leak, PSI) == open_area(leak, -PSI) > 0.0
    weep = areas({"cap.weep_diameter": "0.1 mm"})
    assert open_area(weep, PSI) == pytest.approx(open_area(leak, PSI), rel=1e-12)
    assert open_area(weep, -PSI) == 0.0


def test_a_vented_cap_breathes_both_ways_and_an_open_neck_is_wide():
    vented = areas({"cap.kind": "vented"})
    assert open_area(vented, PSI) == open_area(vented, -PSI) == pytest.approx(0.7 * 3e-6, rel=1e-9)
    off = areas(cap_on=0)
    assert open_area(off, 1.0) == open_area(off, -1.0) == pytest.approx(0.7 * 5e-4, rel=1e-9)


FULL = 0.7 * 20e-6


@pytest.mark.parametrize("mode", ["relief_stuck", "vacuum_stuck"])
def test_a_valve_that_is_stuck_open_lets_air_both_ways(mode):
    cap = areas(**{mode: STUCK_OPEN})
    assert open_area(cap, PSI) == open_area(cap, -PSI) == pytest.approx(FULL, rel=1e-12)


@pytest.mark.parametrize("mode", ["relief_stuck", "vacuum_stuck"])
def test_a_valve_that_is_stuck_shut_lets_nothing_through(mode):
    cap = areas(**{mode: STUCK_SHUT})
    assert open_area(cap, 50 * PSI) == open_area(cap, -5 * PSI) == 0.0


def test_a_leak_adds_to_open_valves_and_to_a_breather():
    leak = 1e-6
    assert open_area(areas(leak_area=leak, relief_open=1), 18 * PSI) == pytest.approx(FULL + leak, rel=1e-12)
    assert open_area(areas(leak_area=leak, relief_stuck=STUCK_OPEN), -PSI) == pytest.approx(FULL + leak, rel=1e-12)
    vented = areas({"cap.kind": "vented"}, leak_area=leak)
    assert open_area(vented, -PSI) == pytest.approx(0.7 * 3e-6 + leak, rel=1e-9)


def test_an_open_neck_is_as_wide_whatever_the_valves_do():
    stuck = areas(cap_on=0, relief_stuck=STUCK_OPEN, leak_area=1e-6)
    assert open_area(stuck, PSI) == pytest.approx(0.7 * 5e-4, rel=1e-9)


def flows(cap, volume, pressure, weight=0.0):
    return cap_flows(cap, Splash(volume, 20e-6, 850.0, weight), pressure, 101325.0, 290.0, 1.0)


def test_what_is_under_the_cap_leaves_by_its_orifice_law():
    cap = areas(relief_stuck=STUCK_OPEN)
    # all air, or all oil where the air space is gone
    air_alone = (0.0, 0.0, valve.gas_orifice_flow(FULL, 150e3, 101325.0, 1.0))
    assert flows(cap, 1e-3, 150e3) == pytest.approx(air_alone, rel=1e-12)
    oil_out, air_in, air_out = flows(cap, 0.0, 150e3)
    assert oil_out == pytest.approx(valve.liquid_orifice_flow(FULL, 150e3 - 101325.0, 850.0), rel=1e-12)
    assert air_in == air_out == 0.0
    half = flows(cap, 10e-6, 150e3)
    assert half[0] == pytest.approx(0.5 * oil_out, rel=1e-12)
    assert half[2] == pytest.approx(0.5 * flows(cap, 1e-3, 150e3)[2], rel=1e-12)


def test_ambient_air_enters_even_a_brimful_tank():
    cap = areas(vacuum_stuck=STUCK_OPEN)
    expected = valve.gas_orifice_flow(FULL, 101325.0, 90e3, 290.0)
    assert flows(cap, 0.0, 90e3) == flows(cap, 1e-3, 90e3) == pytest.approx((0.0, expected, 0.0), rel=1e-12)


def test_air_is_put_in_through_a_non_return_valve_while_the_tank_is_below_the_regulator():
    regulator = 101325.0 + 8.0 * PSI
    cap = areas(recharge_pressure=8.0 * PSI)
    for pressure in (101325.0, 140e3):
        expected = valve.gas_orifice_flow(RECHARGE_AREA, regulator, pressure, 290.0)
        assert flows(cap, 1e-3, pressure) == pytest.approx((0.0, expected, 0.0), rel=1e-12)
        assert expected > 0.0
    assert flows(cap, 1e-3, regulator) == flows(cap, 1e-3, 200e3) == (0.0, 0.0, 0.0)


def test_a_leak_lets_out_what_a_recharge_puts_in_and_a_vacuum_valve_adds_to_it():
    put_in = valve.gas_orifice_flow(RECHARGE_AREA, 101325.0 + 8.0 * PSI, 120e3, 290.0)
    let_out = valve.gas_orifice_flow(1e-6, 120e3, 101325.0, 1.0)
    both = flows(areas(recharge_pressure=8.0 * PSI, leak_area=1e-6), 1e-3, 120e3)
    assert both == pytest.approx((0.0, put_in, let_out), rel=1e-12)
    alone = flows(areas(vacuum_stuck=STUCK_OPEN), 1e-3, 90e3)[1]
    together = flows(areas(vacuum_stuck=STUCK_OPEN, recharge_pressure=8.0 * PSI), 1e-3, 90e3)[1]
    more = valve.gas_orifice_flow(RECHARGE_AREA, 101325.0 + 8.0 * PSI, 90e3, 290.0)
    assert together == pytest.approx(alone + more, rel=1e-12)


def test_oil_that_leaves_within_a_step_makes_room_within_it():
    cap = areas(relief_stuck=STUCK_OPEN)
    at_once, later = (flows(cap, 5e-6, 150e3, weight)[0] for weight in (0.0, 0.1))
    # implicit Euler of dV/dt = Q (1 - V / V_splash), V the air space: its root in closed form
    most = valve.liquid_orifice_flow(FULL, 150e3 - 101325.0, 850.0)
    room = (5e-6 + 0.1 * most / 850.0) / (1.0 + 0.1 * most / (850.0 * 20e-6))
    assert later == pytest.approx(most * (1.0 - room / 20e-6), rel=1e-12)
    assert later < at_once
