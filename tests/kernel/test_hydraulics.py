"""Flow control, relief and the booking of the shaft power."""

import math

import numpy as np
import pytest

from support import Circuit, bench
from ullage.kernel.hydraulics import demand
from ullage.kernel.intake import viscosity
from ullage.kernel.params import (
    RELIEF_IN_PUMP,
    RELIEF_IN_RESERVOIR,
    RELIEF_IN_STEERING_GEAR,
)
from ullage.physics import oil

HOT = 363.15
COLD = 253.15
UNCONTROLLED = {"pump.controlled_flow": None, "pump.bypass_routing": None}
TO_RESERVOIR = {"pump.bypass_routing": "reservoir"}
PLACES = (RELIEF_IN_PUMP, RELIEF_IN_STEERING_GEAR, RELIEF_IN_RESERVOIR)


def circuit(changes=None):
    return bench(changes).parameters


OIL = {
    "hot": {},
    "cold, starved": {"temperature": COLD},
    "bubbly": {"free": 0.05},
    "line half full of gas": {"line_gas": 0.5},
    "airborne": {"line_gas": 1.0},
}


@pytest.mark.parametrize("oil_state", OIL.values(), ids=OIL.keys())
@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("bypass", [0.0, 1.0])
@pytest.mark.parametrize(("speed", "load"), [(80.0, 0.0), (300.0, 15e5), (550.0, 60e5), (550.0, 109e5), (550.0, 150e5)])
def test_heats_add_up_to_shaft_power_less_ram_work(place, bypass, speed, load, oil_state):
    c = Circuit(**oil_state)
    p = c.parameters
    p.relief_place, p.bypass_to_reservoir, p.work_share = place, bypass, 0.2
    flows = c.flows(speed, load)
    heats = flows.pump_heat + flows.gear_heat + flows.cooler_heat + flows.reservoir_heat
    # identity of the booking: rounding only
    assert heats + flows.ram_power == pytest.approx(flows.shaft_power, rel=1e-12)
    assert flows.pump_heat > 0.0


def test_steering_gets_the_set_flow_as_soon_as_the_pump_can():
    c = Circuit()
    p = c.parameters
    assert c.flows(400.0, 10e5).steering_flow == pytest.approx(p.set_flow, rel=1e-12)
    slow = c.flows(60.0, 10e5)
    assert 0.0 < slow.steering_flow < p.displacement * p.drive_ratio * 60.0


def test_uncontrolled_flow_solves_displacement_less_slip():
    c = Circuit(UNCONTROLLED)
    p = c.parameters
    flows = c.flows(200.0, 50e5)
    assert flows.filling == 1.0
    dynamic = viscosity(p, HOT) * oil.density(HOT, p.density_15)
    rise = demand(p, flows.steering_flow, 50e5, viscosity(p, HOT)).supply_rise
    slip = p.slip_coefficient * p.displacement * rise / dynamic
    # the root is found to 1e-7 of the geometric flow
    assert flows.steering_flow + slip == pytest.approx(p.displacement * p.drive_ratio * 200.0, rel=2e-7)


def test_a_slipping_belt_turns_the_pump_slower():
    c = Circuit()
    c.parameters.belt_slip = 0.04
    assert c.flows(300.0, 10e5).pump_speed == pytest.approx(300.0 * 0.7 * 0.96, rel=1e-12)


def test_bypass_to_the_inlet_spares_the_feed_line_and_bypass_to_the_reservoir_does_not():
    c = Circuit()
    p = c.parameters
    inlet = c.flows(550.0, 10e5)
    p.bypass_to_reservoir = 1.0
    reservoir = c.flows(550.0, 10e5)
    assert inlet.feed_flow == pytest.approx(p.set_flow, rel=1e-12)
    slip_free = p.displacement * p.drive_ratio * 550.0
    assert 0.9 * slip_free < reservoir.feed_flow < slip_free
    assert reservoir.steering_flow == inlet.steering_flow


def test_full_lock_sends_all_flow_over_the_relief_and_its_power_into_the_node_that_holds_it():
    c = Circuit()
    p = c.parameters
    load = 150e5
    in_pump = c.flows(550.0, load)
    assert in_pump.steering_flow == in_pump.feed_flow == 0.0
    assert in_pump.supply_rise == pytest.approx(p.relief_pressure, rel=1e-12)
    assert in_pump.pump_heat == pytest.approx(in_pump.shaft_power, rel=1e-12)
    # the order of magnitude of a truck on the lock at high revs: some 20 kW
    assert 15e3 < in_pump.pump_heat < 30e3
    p.relief_place = RELIEF_IN_RESERVOIR
    in_tank = c.flows(550.0, load)
    assert in_tank.reservoir_heat == pytest.approx(p.set_flow * p.relief_pressure, rel=1e-12)
    p.relief_place = RELIEF_IN_STEERING_GEAR
    in_gear = c.flows(550.0, load)
    assert in_gear.ring_flow == pytest.approx(p.set_flow, rel=1e-12)
    assert in_gear.gear_heat > 0.9 * p.set_flow * p.relief_pressure


@pytest.mark.parametrize("load", [20e5, 100.5e5])
def test_the_ram_takes_no_more_than_the_pressure_that_is_there(load):
    c = Circuit()
    c.parameters.work_share = 1.0
    flows = c.flows(550.0, load)
    # all of it to the ram leaves the gear the drop of its valve, and nothing less than none where the relief caps it
    assert 0.0 < flows.ram_power <= flows.steering_flow * min(load, flows.supply_rise) * (1.0 + 1e-12)
    assert flows.gear_heat > -1e-9 * flows.shaft_power


def test_steering_flow_fades_smoothly_as_the_load_comes_to_the_relief():
    c = Circuit()
    p = c.parameters
    loads = np.linspace(95e5, 115e5, 400)
    flow = np.array([c.flows(550.0, load).steering_flow for load in loads])
    assert flow[0] == pytest.approx(p.set_flow, rel=1e-12)
    assert flow[-1] == 0.0
    assert np.all(np.diff(flow) <= 1e-12)
    # 3 bar wide, 60 rows: no step above 1.5 times the mean slope of a smooth step over that width
    assert np.max(-np.diff(flow)) < 1.6 * p.set_flow * (20e5 / 399) / 3e5


def test_engine_off_moves_nothing_and_takes_no_power():
    flows = Circuit().flows(0.0, 30e5)
    assert flows.feed_flow == flows.ring_flow == flows.shaft_power == flows.supply_rise == 0.0
    assert flows.pump_heat == flows.gear_heat == flows.cooler_heat == 0.0


def test_a_pump_whose_slip_takes_all_flow_stalls_below_the_load():
    c = Circuit()
    p = c.parameters
    p.slip_coefficient = 1e-6
    flows = c.flows(40.0, 80e5)
    assert flows.steering_flow == 0.0
    assert 0.0 < flows.supply_rise < 80e5
    assert flows.shaft_power > 0.0


def test_return_pressure_of_cold_oil_is_limited_by_the_filter_bypass():
    p = circuit()
    p.return_drop = 0.0
    cold = demand(p, p.set_flow, 0.0, 2e-3)
    assert cold.return_rise == pytest.approx(p.filter_bypass, rel=0.01)  # smooth limit, 10 times over
    assert demand(p, p.set_flow, 0.0, 1e-5).return_rise < 0.3 * p.filter_bypass


def test_viscosity_follows_the_cold_point_below_40_celsius_and_joins_there():
    p = circuit({"fluid.cold_temperature": "-20 degC", "fluid.cold_viscosity": "1500 mm2/s"})
    assert viscosity(p, 253.15) == pytest.approx(1500e-6, rel=1e-9)
    assert viscosity(p, 313.149999) == pytest.approx(viscosity(p, 313.15), rel=1e-6)
    # the two lines have different slopes: a kelvin on either side each holds alone
    assert viscosity(p, 312.15) == oil.kinematic_viscosity(312.15, p.cold_viscosity_constant, p.cold_viscosity_slope)
    assert viscosity(p, 314.15) == oil.kinematic_viscosity(314.15, p.viscosity_constant, p.viscosity_slope)
    assert viscosity(p, 373.15) == pytest.approx(7.3e-6, rel=1e-9)


def test_ageing_thins_the_oil_at_every_temperature():
    fresh, used = circuit(), circuit({"fluid.ageing_factor": 0.8})
    for temperature in (263.15, 313.15, 373.15):
        assert viscosity(used, temperature) == pytest.approx(0.8 * viscosity(fresh, temperature), rel=1e-12)


def test_data_sheet_points_are_reproduced():
    flow_point = {"speed": "1500 rpm", "pressure": "100 bar", "flow": "38 L/min", "viscosity": "20 mm2/s"}
    torque_point = {"speed": "1500 rpm", "pressure": "100 bar", "torque": "50 N*m", "viscosity": "20 mm2/s"}
    p = circuit({"pump.flow_point": flow_point, "pump.torque_point": torque_point})
    dynamic = 20e-6 * oil.density(313.15, p.density_15)
    slip = p.slip_coefficient * p.displacement * 100e5 / dynamic
    speed = 1500.0 * 2.0 * math.pi / 60.0
    assert p.displacement * speed - slip == pytest.approx(38.0 / 60e3, rel=1e-9)
    torque = p.displacement * (100e5 * (1.0 + p.friction) + p.viscous_drag * dynamic * speed) + p.idle_torque
    assert torque == pytest.approx(50.0, rel=1e-9)
