"""Valves, fan and thermostat: when they switch, and the record of it."""

import numpy as np
import pytest

from support import bench, channel_table, instant, start_at
from ullage.kernel.modes import (
    COOLER_OPENS,
    FAN_STARTS,
    FAN_STOPS,
    HOT_OIL_BEGINS,
    RELIEF_OPENS,
    RELIEF_SHUTS,
    VACUUM_OPENS,
    VACUUM_SHUTS,
    VAPOUR_BEGINS,
    empty_log,
    follow_cap,
    follow_fan,
    record,
    switch_thermal,
    switch_valves,
    valve_excess,
)
from ullage.kernel.params import STUCK_OPEN, STUCK_SHUT
from ullage.physics.water import saturation_pressure

PSI = 6894.757293168361
FAN = {
    "cooler.fan_air_speed": "6 m/s",
    "cooler.fan_on_temperature": "70 degC",
    "cooler.fan_off_temperature": "60 degC",
}


def test_a_relief_opens_at_its_crack_and_shuts_at_its_reseat_pressure():
    b = bench()
    p, s = b.parameters, b.state
    log = empty_log(0.0, 60.0)
    assert not switch_valves(p, s, 15.99 * PSI, log, 0.0)
    assert switch_valves(p, s, 16.001 * PSI, log, 0.0)
    assert s.relief_open == 1
    s.time = 1.0
    assert not switch_valves(p, s, 14.41 * PSI, log, 0.0)
    assert switch_valves(p, s, 14.399 * PSI, log, 0.0)
    assert s.relief_open == 0
    assert log[0, RELIEF_OPENS, 0] == log[0, RELIEF_SHUTS, 0] == 1.0


def test_a_vacuum_valve_opens_below_ambient_and_shuts_again():
    b = bench()
    p, s = b.parameters, b.state
    log = empty_log(0.0, 60.0)
    assert not switch_valves(p, s, -0.49 * PSI, log, 0.0)
    assert switch_valves(p, s, -0.51 * PSI, log, 0.0)
    s.time = 1.0
    assert not switch_valves(p, s, -0.46 * PSI, log, 0.0)
    assert switch_valves(p, s, -0.44 * PSI, log, 0.0)
    assert log[0, VACUUM_OPENS, 0] == log[0, VACUUM_SHUTS, 0] == 1.0


def test_a_valve_that_has_just_moved_waits_for_its_disc():
    b = bench()
    p, s = b.parameters, b.state
    log = empty_log(0.0, 60.0)
    assert switch_valves(p, s, 16.5 * PSI, log, 0.0)
    s.time = 0.01
    assert not switch_valves(p, s, 10.0 * PSI, log, 0.0)
    s.time = 0.02
    assert switch_valves(p, s, 10.0 * PSI, log, 0.0)


def test_an_open_neck_and_a_vented_cap_have_no_valves():
    b = bench()
    b.state.cap_on = 0
    assert valve_excess(b.parameters, b.state, 50 * PSI) < 0.0
    vented = bench({"cap.kind": "vented"})
    assert valve_excess(vented.parameters, vented.state, 50 * PSI) < 0.0


def test_taking_the_cap_off_shuts_its_valves_and_shortens_the_gas_step():
    s = bench().state
    s.relief_open, s.gas_step = 1, 1.0
    follow_cap(s, instant(cap_on=0.0))
    assert (s.cap_on, s.relief_open, s.gas_step) == (0, 0, 1e-3)
    s.gas_step = 1.0
    follow_cap(s, instant(cap_on=0.0))
    assert s.gas_step == 1.0


@pytest.mark.parametrize("way", [STUCK_OPEN, STUCK_SHUT])
def test_a_stuck_relief_does_not_move_and_leaves_the_vacuum_valve_free(way):
    b = bench()
    p, s = b.parameters, b.state
    s.relief_stuck = way
    log = empty_log(0.0, 60.0)
    assert not switch_valves(p, s, 50.0 * PSI, log, 0.0)
    assert switch_valves(p, s, -0.51 * PSI, log, 0.0)
    assert (s.relief_open, s.vacuum_open) == (0, 1)


@pytest.mark.parametrize("way", [STUCK_OPEN, STUCK_SHUT])
def test_a_stuck_vacuum_valve_does_not_move_and_leaves_the_relief_free(way):
    b = bench()
    p, s = b.parameters, b.state
    s.vacuum_stuck = way
    log = empty_log(0.0, 60.0)
    assert not switch_valves(p, s, -5.0 * PSI, log, 0.0)
    assert switch_valves(p, s, 16.1 * PSI, log, 0.0)
    assert (s.relief_open, s.vacuum_open) == (1, 0)


@pytest.mark.parametrize(
    "fault", [{"relief_stuck": STUCK_OPEN}, {"vacuum_stuck": STUCK_SHUT}, {"leak_area": 1e-7}], ids=str
)
def test_a_fault_of_the_cap_begins_with_free_valves_shut_and_a_short_step_and_ends_so(fault):
    s = bench().state
    for forcing in (instant(**fault), instant()):
        s.relief_open, s.vacuum_open, s.gas_step, s.time = 1, 1, 1.0, s.time + 1.0
        follow_cap(s, forcing)
        assert (s.relief_open, s.vacuum_open, s.gas_step, s.valve_free_time) == (0, 0, 1e-3, s.time)
        assert (s.relief_stuck, s.vacuum_stuck, s.leak_area) == forcing[14:17]
        s.relief_open, s.gas_step = 1, 1.0
        follow_cap(s, forcing)
        assert (s.relief_open, s.gas_step) == (1, 1.0)


def test_a_recharge_begins_and_ends_with_a_short_step_and_moves_no_valve():
    s = bench().state
    for pressure in (8.0 * PSI, 0.0):
        s.relief_open, s.gas_step, s.gas_fresh, s.pressure_feedback = 1, 1.0, 0, 1.0
        follow_cap(s, instant(recharge_pressure=pressure))
        assert (s.relief_open, s.recharge_pressure) == (1, pressure)
        assert (s.gas_step, s.gas_fresh, s.pressure_feedback) == (1e-3, 1, 0.0)
        s.gas_step = 1.0
        follow_cap(s, instant(recharge_pressure=pressure))
        assert s.gas_step == 1.0


def test_switches_are_counted_per_minute_with_the_time_of_the_first():
    log = empty_log(100.0, 300.0)
    for time in (110.0, 111.0, 159.0, 161.0):
        record(log, 100.0, time, RELIEF_OPENS)
    np.testing.assert_array_equal(log[:, RELIEF_OPENS, 0][:3], [3.0, 1.0, 0.0])
    np.testing.assert_array_equal(log[:, RELIEF_OPENS, 1][:2], [110.0, 161.0])


def heating(b, seconds=1200.0, **values):
    time = np.linspace(0.0, seconds, int(seconds) + 1)
    driven = {"engine_speed": 450.0, "steering_load": 40e5, "vehicle_speed": 5.0, **values}
    return time, *b.run(time, channel_table(time, **driven))


def test_the_fan_starts_where_the_cooler_inlet_crosses_its_temperature_and_stops_below():
    b = bench(FAN)
    time = np.linspace(0.0, 3000.0, 3001)
    load = np.where(time < 240.0, 60e5, 2e5)
    speed = np.where(time < 240.0, 450.0, 130.0)
    out, log, _ = b.run(time, channel_table(time, engine_speed=speed, steering_load=load, vehicle_speed=5.0))
    started = log[:, FAN_STARTS, 1][log[:, FAN_STARTS, 0] > 0][0]
    stopped = log[:, FAN_STOPS, 1][log[:, FAN_STOPS, 0] > 0][0]
    inlet = out.oil_temperature[:, 2]
    # located to 1e-3 K; a straight line between rows 1 s apart is good to 0.01 K
    assert np.interp(started, time, inlet) == pytest.approx(343.15, abs=0.02)
    assert np.interp(stopped, time, inlet) == pytest.approx(333.15, abs=0.02)
    assert stopped > started


@pytest.mark.parametrize(("called", "starts"), [(0, 1.0), (1, 0.0)])
def test_a_fan_that_is_forced_on_or_given_back_switches_at_once_unless_its_thermostat_calls_for_it(called, starts):
    s, log = bench(FAN).state, empty_log(0.0, 60.0)
    s.fan_called = called
    follow_fan(s, instant(fan_forced=1.0), log, 0.0)
    follow_fan(s, instant(fan_forced=1.0), log, 0.0)
    assert (s.fan_forced, log[0, FAN_STARTS, 0], log[0, FAN_STOPS, 0]) == (1, starts, 0.0)
    follow_fan(s, instant(), log, 0.0)
    assert (s.fan_forced, log[0, FAN_STARTS, 0], log[0, FAN_STOPS, 0]) == (0, starts, starts)


def test_the_thermostat_of_a_forced_fan_goes_on_and_switches_nothing():
    b, log = bench(FAN), empty_log(0.0, 60.0)
    p, s = b.parameters, b.state
    s.fan_forced = 1
    for inlet, called in ((345.0, 1), (335.0, 1), (332.0, 0), (340.0, 0)):
        switch_thermal(p, s, inlet, log, 0.0, 0.0)
        assert s.fan_called == called
    assert log.sum() == 0.0


def test_a_fan_forced_on_below_its_threshold_cools_the_oil_and_stops_when_it_is_given_back():
    time = np.linspace(0.0, 900.0, 901)
    forced = np.where((time >= 300.0) & (time < 600.0), 1.0, 0.0)
    heat, logs = {}, {}
    for name, values in (("forced", forced), ("alone", 0.0)):
        b = bench(FAN)
        start_at(b.state, b.parameters, 335.0, 101325.0)
        driven = {"engine_speed": 130.0, "steering_load": 5e5, "fan_forced": values}
        out, logs[name], status = b.run(time, channel_table(time, **driven))
        assert status == 0
        assert out.oil_temperature[:, 2].max() < 343.15
        heat[name] = out.oil_temperature[:, 2]
    assert logs["alone"][:, [FAN_STARTS, FAN_STOPS], 0].sum() == 0.0
    first = logs["forced"][:, :, 1].max(axis=0)
    # modes are those of the row that an interval starts from
    assert (first[FAN_STARTS], first[FAN_STOPS]) == (300.0, 600.0)
    np.testing.assert_array_equal(heat["forced"][:301], heat["alone"][:301])
    assert heat["forced"][600] < heat["alone"][600] - 3.0
    # given back it no longer cools: the oil comes nearer to that of the truck left alone
    assert heat["alone"][900] - heat["forced"][900] < heat["alone"][600] - heat["forced"][600]


def test_a_thermostat_keeps_the_core_shut_until_the_oil_is_warm():
    changes = {"cooler.thermostat_open_temperature": "60 degC", "cooler.thermostat_shut_temperature": "50 degC"}
    time, out, log, _ = heating(bench(changes), vehicle_speed=20.0)
    opened = log[:, COOLER_OPENS, 1][log[:, COOLER_OPENS, 0] > 0][0]
    cold, warm = time < opened - 1.0, time > opened + 1.0
    still_air = 3.0 * (out.oil_temperature[cold, 3] - 303.15)
    np.testing.assert_allclose(out.cooler_heat[cold], still_air, atol=1e-6)
    assert np.all(out.cooler_heat[warm] > 1000.0)


def test_oil_over_200_celsius_is_recorded_and_the_race_goes_on():
    time, out, log, status = heating(bench(), seconds=300.0, engine_speed=600.0, steering_load=150e5)
    assert status == 0
    begins = log[:, HOT_OIL_BEGINS, 1][log[:, HOT_OIL_BEGINS, 0] > 0][0]
    assert np.interp(begins, time, out.oil_temperature[:, 1]) == pytest.approx(473.15, abs=8.0)  # a row's rise


def test_counts_and_vented_mass_of_a_popping_relief_do_not_depend_on_the_tolerance():
    results = []
    for factor in (1.0, 0.01):
        b = bench({"cap.relief_pressure": "5 psi", "reservoir.fill": 0.86}, factor)
        start_at(b.state, b.parameters, 293.15, 101325.0)
        _, out, log, _ = heating(b, vehicle_speed=20.0)
        results.append((log[:, RELIEF_OPENS, 0].sum(), out.air_vented[-1], out.headspace_air_mass[-1]))
    assert results[0][0] == results[1][0] > 3
    # a pop is a dump of 3.4 kPa; opening times move by milliseconds, which shifts the last one's share
    assert results[0][1] == pytest.approx(results[1][1], rel=2e-3)
    assert results[0][2] == pytest.approx(results[1][2], rel=2e-3)


def test_an_air_space_of_vapour_alone_is_recorded_and_holds_the_vapour_pressure():
    b = bench()
    start_at(b.state, b.parameters, 385.0, 101325.0)
    time = np.linspace(0.0, 120.0, 121)
    out, log, status = b.run(time, channel_table(time, cap_on=0.0, bay_temperature=385.0, water_content=0.002))
    assert status == 0
    assert log[0, VAPOUR_BEGINS, 0] == 1.0
    # free water at 385 K holds 152 kPa (steam tables, IAPWS); the oil cools by some kelvin of 5 % each
    vapour = saturation_pressure(out.oil_temperature[-1, 0])
    assert out.headspace_pressure[-1] == pytest.approx(vapour, rel=5e-3)
    assert out.headspace_pressure[-1] > 120e3
