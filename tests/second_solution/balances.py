"""Balances of heat, oil and air: how fast the state changes. docs/physics.md, "Headspace", "Cap" and "Pump, ..."."""

import math
from dataclasses import dataclass

from second_solution.air_in_oil import air_flows
from second_solution.hydraulics import Flow, Hydraulics
from second_solution.properties import (
    AIR_GAS_CONSTANT,
    AIR_HEAT_CAPACITY,
    REFERENCE_PRESSURE,
    cross_flow_effectiveness,
    orifice_flow,
)
from second_solution.truck import COOLER, PUMP, RESERVOIR, STEERING_GEAR, hole

R = AIR_GAS_CONSTANT
FULL_EXPOSURE = 0.05  # void from which a second counts in full
EXPOSURE_BEGINS = 5.0  # [s]
LEAST_LIFT = 0.03  # an open valve of the cap lifts no less
FULL_FLOW = range(1, 4)  # nodes that are full of oil


@dataclass
class Modes:
    """What is switched: the two valves of the cap, the fan, and the thermostat."""

    relief_open: bool = False
    vacuum_open: bool = False
    fan: bool = False
    core: bool = False  # oil goes through the core


@dataclass
class AirSpace:
    """The air space in one state: pressure, volume, and how volume answers to pressure."""

    p: float
    V: float
    stiffness: float  # 2 C p + V0: change of p V with pressure [m3]
    softness: float  # change of V with pressure at a state of the oil [m3/Pa]
    clear_depth: float  # of the oil without its bubbles [m]
    surface: float  # of the oil with its bubbles, over the outlet [m]
    reservoir_mass: float


def air_space(truck, state):
    """Pressure of the air space: the positive root of C p2 + V0 p = R (m T + bubbles T0)."""
    T0 = state.T[RESERVOIR]
    reservoir_mass = truck.oil_mass - sum(truck.full_mass(node, state.T[node]) for node in FULL_FLOW)
    C = truck.compliance(T0)
    V0 = truck.gas_volume_at_reference(T0, reservoir_mass) - C * REFERENCE_PRESSURE
    gas = R * (state.mass_temperature + state.bubbles * T0)
    root = math.sqrt(V0 * V0 + 4.0 * C * gas)
    p = 2.0 * gas / (V0 + root)
    V = R * state.mass_temperature / p
    if truck.reservoir.splash_volume > V:
        raise ValueError("not covered: oil leaves through the cap")
    area = truck.reservoir.surface_area
    return AirSpace(
        p,
        V,
        root,
        C + state.bubbles * R * T0 / p**2,
        reservoir_mass / truck.oil.density(T0) / area,
        (truck.tank_volume(T0) - V) / area,
        reservoir_mass,
    )


def hydraulics(truck, state, space, channels):
    return Hydraulics(
        truck,
        state.T,
        space.p,
        space.surface,
        state.bubbles / space.reservoir_mass,
        state.dissolved / truck.oil_mass,
        channels,
    ).solve()


def cap_flow(truck, modes, channels, p, T):
    """Air through the cap [kg/s], outward positive."""
    cap, ambient = truck.cap, channels.ambient_pressure
    if not channels.cap_on:
        area = cap.discharge_coefficient * cap.neck_area
    else:
        area = (
            hole(cap, cap.leak_diameter)
            + channels.leak_area
            + cap.discharge_coefficient * _lifted(cap, modes, p - ambient)
        )
        if p > ambient and not modes.relief_open:
            area += hole(cap, cap.weep_diameter)
    return orifice_flow(area, p, T, ambient, channels.ambient_temperature) if area > 0.0 else 0.0


def relief_reseat(cap):
    return cap.relief_pressure * (1.0 - cap.reseat_drop)


def vacuum_reseat(cap):
    return cap.vacuum_pressure * (1.0 - cap.reseat_drop)


def _lifted(cap, modes, gauge):
    """Area of the open valves: full lift of the vacuum valve is at twice its opening."""
    area = 0.0
    if modes.relief_open:
        reseat = relief_reseat(cap)
        lift = (gauge - reseat) / (cap.relief_pressure + cap.full_lift_rise - reseat)
        area += cap.relief_area * min(max(lift, LEAST_LIFT), 1.0)
    if modes.vacuum_open:
        reseat = vacuum_reseat(cap)
        lift = (-gauge - reseat) / (2.0 * cap.vacuum_pressure - reseat)
        area += cap.vacuum_area * min(max(lift, LEAST_LIFT), 1.0)
    return area


def cooler_heat(truck, T, Q, modes, channels):
    """Heat that the cooler gives off [W]."""
    part, oil = truck.cooler, truck.oil
    inlet = channels.ambient_temperature + (part.preheat if channels.engine_runs else 0.0)
    still = part.still_air_conductance * (T[COOLER] - inlet)
    fan = part.fan_air_speed if modes.fan and channels.engine_runs else 0.0
    v = max(part.air_speed_share * channels.vehicle_speed, fan)
    if v <= 0.0 or Q <= 0.0 or not modes.core:
        return still
    open_share = 1.0 - max(part.blockage, channels.core_blockage)
    hot_side = part.oil_side_conductance * (Q / part.rated_flow) ** part.flow_exponent
    hot_side *= (part.rated_viscosity / oil.viscosity(T[COOLER])) ** part.viscosity_exponent
    cold_side = part.air_side_conductance * (v / part.rated_air_speed) ** part.air_exponent
    UA = 1.0 / (1.0 / hot_side + 1.0 / (open_share * cold_side))
    T_in = T[STEERING_GEAR]
    C_oil = oil.density(T_in) * Q * oil.heat_capacity(T_in)
    rho_air = channels.ambient_pressure / (R * channels.ambient_temperature)
    C_air = rho_air * v * part.face_area * open_share * AIR_HEAT_CAPACITY
    low, high = min(C_oil, C_air), max(C_oil, C_air)
    return cross_flow_effectiveness(UA / low, low / high) * low * (T_in - inlet) + still


def node_heats(truck, state, flow, modes, channels):
    """Heat into each node but what the oil brings [W]: power, drops, cooler, bay, block, conduction along the lines."""
    T, Q = state.T, flow.steering_flow
    speed = math.sqrt(1.0 + channels.vehicle_speed / 10.0)
    rise = flow.supply_pressure - channels.headspace_pressure
    ram = truck.gear.work_share * channels.steering_load * Q
    parts = (truck.reservoir, truck.pump, truck.gear)
    to_bay = [speed * part.outside_conductance * (T[j] - channels.bay_temperature) for j, part in enumerate(parts)]
    heats = [
        -to_bay[RESERVOIR],
        flow.shaft_power
        - rise * Q
        - to_bay[PUMP]
        - truck.pump.mount_conductance * (T[PUMP] - channels.block_temperature),
        (rise - flow.return_drop) * Q - ram - to_bay[STEERING_GEAR],
        flow.return_drop * Q - cooler_heat(truck, T, Q, modes, channels),
    ]
    k = truck.ring_conductance
    return [heat + k * (T[j - 1] + T[(j + 1) % 4] - 2.0 * T[j]) for j, heat in enumerate(heats)]


def warming(truck, state, flow, heats, reservoir_mass):
    """Rates of the temperatures [K/s] and of the oil in the reservoir [kg/s], and the heat capacity of the reservoir.

    The flows are those that leave the pump. It draws in what it sends out and what its own oil makes room for as it
    cools; every other full node passes on what flows in, less that. Where such a flow is negative (a cooling node draws
    oil back, a warming pump pushes it back) the enthalpy is booked in the reservoir.
    """
    oil, T = truck.oil, state.T
    h = [oil.enthalpy(T_j) for T_j in T]
    capacities = [truck.full_mass(j, T[j]) * oil.heat_capacity(T[j]) + truck.metal[j] for j in FULL_FLOW]
    slopes = [truck.full_mass_slope(j, T[j]) for j in FULL_FLOW]
    out, bypass = oil.density(T[PUMP]) * flow.steering_flow, oil.density(T[PUMP]) * flow.bypass_flow
    fall = h[RESERVOIR] - h[PUMP]
    pump_rate = ((out + bypass) * fall + heats[PUMP]) / (capacities[0] - slopes[0] * fall)
    fed = out + bypass + slopes[0] * pump_rate
    if fed < 0.0:
        pump_rate = heats[PUMP] / capacities[0]
        fed = out + bypass + slopes[0] * pump_rate
    rates, inflow, back = [0.0, pump_rate, 0.0, 0.0], out, -bypass * fall + max(-fed, 0.0) * -fall
    for j in (STEERING_GEAR, COOLER):
        rates[j] = (max(inflow, 0.0) * (h[j - 1] - h[j]) + heats[j]) / capacities[j - 1]
        outflow = inflow - slopes[j - 1] * rates[j]
        back += max(-outflow, 0.0) * (h[(j + 1) % 4] - h[j])
        inflow = outflow
    capacity = reservoir_mass * oil.heat_capacity(T[0]) + truck.metal[RESERVOIR]
    rates[RESERVOIR] = (max(inflow, 0.0) * (h[COOLER] - h[RESERVOIR]) + back + heats[RESERVOIR]) / capacity
    return rates, inflow + bypass - fed, capacity


def right_hand_side(truck, state, modes, channels):
    """Rates of change of the state, in the order of State."""
    space = air_space(truck, state)
    channels.headspace_pressure = space.p
    flow: Flow = hydraulics(truck, state, space, channels)
    air = air_flows(truck, state, space, flow, channels)
    T0, T_g = state.T[RESERVOIR], state.mass_temperature / state.gas_mass
    out = cap_flow(truck, modes, channels, space.p, T_g)
    to_gas = truck.reservoir.oil_gas_conductance * (T0 - T_g)
    wall = truck.reservoir.wall_gas_conductance * (channels.bay_temperature - T_g)
    taken, given = max(air.surface, 0.0) + air.drawn, max(-air.surface, 0.0) + air.rise
    enthalpy = AIR_HEAT_CAPACITY * (T0 * given - T_g * taken)
    crossing = AIR_HEAT_CAPACITY * (T_g * max(out, 0.0) + channels.ambient_temperature * min(out, 0.0))
    heats = node_heats(truck, state, flow, modes, channels)
    heats[RESERVOIR] += AIR_HEAT_CAPACITY * taken * (T_g - T0) - to_gas
    rates, reservoir_rate, capacity = warming(truck, state, flow, heats, space.reservoir_mass)
    bubble_rate = air.drawn - air.rise + air.to_bubbles - air.dissolved
    supply = to_gas + wall + enthalpy - crossing
    work = 0.0
    for _ in range(3):  # the work on the gas cools the oil, whose volume does the work: settles at once
        mT_rate, new_work = _gas_rate(
            truck, state, space, supply, rates[0] - work / capacity, reservoir_rate, bubble_rate
        )
        work = new_work
    rates[RESERVOIR] -= work / capacity
    counts = channels.pump_speed > 0.0 and channels.time >= EXPOSURE_BEGINS
    return [
        *rates,
        mT_rate,
        air.rise - air.drawn - air.surface - out,
        air.surface + air.dissolved - air.to_bubbles,
        bubble_rate,
        min(flow.pump_void / FULL_EXPOSURE, 1.0) if counts else 0.0,
        max(out, 0.0),
        max(-out, 0.0),
    ]


def _gas_rate(truck, state, space, supply, T0_rate, reservoir_rate, bubble_rate):
    """Rate of m T of the air space [kg K/s], and the work that the gas does [W].

    From c_v (m T)' = supply - p V' with p V = R m T and V = V_tank - V_oil + C (p - p_ref) - bubbles.
    """
    T0, p, oil, cv = state.T[RESERVOIR], space.p, truck.oil, AIR_HEAT_CAPACITY - R
    rho, step = oil.density(T0), 1e-3
    tank = truck.reservoir.volume * truck.reservoir.expansion * T0_rate
    liquid = reservoir_rate / rho - space.reservoir_mass * oil.density_slope(T0) * T0_rate / rho**2
    C_slope = (truck.compliance(T0 + step) - truck.compliance(T0 - step)) / (2.0 * step)
    room = tank - liquid + C_slope * T0_rate * (p - REFERENCE_PRESSURE)
    bubbles = R * (bubble_rate * T0 + state.bubbles * T0_rate)
    a, b = room - bubbles / p, space.softness  # V' = a + b p'
    p_rate = (R * (supply - p * a) / cv + bubbles - p * room) / (space.stiffness + R * p * b / cv)
    work = p * (a + b * p_rate)
    return (supply - work) / cv, work
