"""The energy balances of the four oil nodes, linear once flows and conductances are known."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled, inlined
from ullage.kernel.hydraulics import Hydraulics, hydraulics, with_inlet
from ullage.kernel.intake import Supply, TankOil, inlet, supply, tank_oil, viscosity
from ullage.kernel.params import ENGINE_TURNS, Forcing, Parameters
from ullage.kernel.state import COOLER, NODES, PUMP, RESERVOIR, STEERING_GEAR, State
from ullage.kernel.stores import Densities, Masses, densities, mass_rate
from ullage.numerics.linear import make_linear_rate
from ullage.physics import air, cooler, oil
from ullage.physics.air import HEAT_CONSTANT_PRESSURE
from ullage.physics.atmosphere import air_density

Array = NDArray[np.float64]

node_rates = make_linear_rate(len(NODES))


class Outside(NamedTuple):
    """Conductances to the outside [W K-1] and the temperatures there [K]."""

    reservoir: float
    pump: float
    steering_gear: float
    core: float
    still: float
    bay: float
    block: float
    core_air: float


class Balance(NamedTuple):
    """Coefficients of the energy balances at one instant."""

    flows: Hydraulics
    outside: Outside
    supply: Supply
    density: Densities


@compiled
def balance(p: Parameters, s: State, forcing: Forcing, temperature: Array) -> Balance:
    """Return flows and conductances at one instant.

    Parameters
    ----------
    p, s : record
        Parameters, and the state with air space, air in the oil, and the modes of fan and cooler thermostat.
    forcing : Forcing
        Channels.
    temperature : array of shape (4,)
        Oil temperatures [K].

    Returns
    -------
    Balance
        Coefficients of the energy balances.
    """
    before = supply(p, s, forcing, tank_oil(p, forcing, temperature[RESERVOIR]))
    density = densities(p, temperature)
    flows = hydraulics(p, forcing, before, density.pump, temperature[PUMP], temperature[COOLER])
    core = 0.0
    if s.cooler_open == 1:
        fan_running = max(s.fan_called, s.fan_forced)
        core = _core_heat_rate(p, forcing, flows, density.steering_gear, temperature[STEERING_GEAR], fan_running)
    outside = Outside(
        cooler.outside_conductance(p.tank_outside, forcing.vehicle_speed, forcing.wetting),
        cooler.outside_conductance(p.pump_outside, forcing.vehicle_speed, forcing.wetting),
        cooler.outside_conductance(p.gear_outside, forcing.vehicle_speed, forcing.wetting),
        core,
        p.still_conductance,
        forcing.bay_temperature,
        forcing.block_temperature,
        forcing.ambient_temperature + (p.core_preheat if forcing.engine_speed >= ENGINE_TURNS else 0.0),
    )
    return Balance(flows, outside, before, density)


@inlined
def renewed(p: Parameters, s: State, forcing: Forcing, b: Balance) -> Balance:
    """Return flows and conductances at the state that a step has ended in.

    Parameters
    ----------
    p, s : record
        Parameters, and the state after the step.
    forcing : Forcing
        Channels at its end.
    b : Balance
        What the step took for its end, before the air had moved.

    Returns
    -------
    Balance
        The same flows with inlet and pump as they are now; all anew where the flows hang on the inlet.
    """
    h = b.flows
    if s.fresh == 0 and h.spare_flow > 0.0 and p.bypass_to_reservoir <= 0.0:
        in_tank = TankOil(s.temperature[RESERVOIR], s.reservoir_density, b.supply.viscosity, s.vapour_pressure)
        before = supply(p, s, forcing, in_tank)
        in_pump = viscosity(p, s.temperature[PUMP])
        found = inlet(p, before, h.intake.loss, h.feed_flow, h.pump_speed, in_pump)
        spare_flow = h.spare_flow + p.displacement * h.pump_speed * (found.filling - h.filling)
        if spare_flow > 0.0 and found.shortage <= 0.0:
            density = oil.density(s.temperature[PUMP], p.density_15)
            flows = with_inlet(p, h, found, spare_flow, in_pump, density)
            return Balance(flows, b.outside, before, b.density)
    return balance(p, s, forcing, s.temperature)


@compiled
def _core_heat_rate(
    p: Parameters, forcing: Forcing, flows: Hydraulics, density: float, inlet: float, fan_running: int
) -> float:
    air_speed = p.core_speed_share * forcing.vehicle_speed
    if fan_running == 1:
        air_speed = max(air_speed, forcing.fan_share * p.fan_air_speed)
    face = p.core_face_area * (1.0 - forcing.core_blockage)
    of_air = air_density(forcing.ambient_pressure, forcing.ambient_temperature)
    air_capacity = of_air * face * air_speed * HEAT_CONSTANT_PRESSURE
    oil_capacity = flows.ring_flow * density * oil.specific_heat(inlet, p.heat_constant, p.heat_slope)
    thinning = cooler.scaled_conductance(1.0, p.core_viscosity / flows.return_viscosity, p.core_viscosity_exponent)
    oil_side = thinning * cooler.scaled_conductance(
        p.core_oil_side, flows.ring_flow / p.core_flow, p.core_flow_exponent
    )
    air_side = (1.0 - forcing.core_blockage) * cooler.scaled_conductance(
        p.core_air_side, air_speed / p.core_air_speed, p.core_air_exponent
    )
    return cooler.core_heat_rate(cooler.core_conductance(oil_side, air_side), oil_capacity, air_capacity)


@compiled
def cooler_heat(b: Balance, temperature: Array) -> float:
    """Return the heat given off by the cooler [W], through its core and by still air."""
    o = b.outside
    heat: float = o.core * (temperature[STEERING_GEAR] - o.core_air) + o.still * (temperature[COOLER] - o.core_air)
    return heat


@compiled
def surroundings_heat(p: Parameters, b: Balance, temperature: Array) -> float:
    """Return the heat given off by tank, pump and gear to the bay, and by the pump to the engine [W]."""
    o = b.outside
    heat: float = (
        o.reservoir * (temperature[RESERVOIR] - o.bay)
        + o.pump * (temperature[PUMP] - o.bay)
        + o.steering_gear * (temperature[STEERING_GEAR] - o.bay)
        + p.mount_conductance * (temperature[PUMP] - o.block)
    )
    return heat


@compiled
def top_up_power(p: Parameters, forcing: Forcing) -> float:
    """Return the enthalpy flow that a top-up brings [W], the air dissolved in it included."""
    if forcing.top_up_flow <= 0.0:
        return 0.0
    dissolved = forcing.top_up_flow * top_up_air(p, forcing)
    return (
        forcing.top_up_flow * oil.enthalpy(forcing.top_up_temperature, p.heat_constant, p.heat_slope)
        + dissolved * HEAT_CONSTANT_PRESSURE * forcing.top_up_temperature
    )


@compiled
def top_up_air(p: Parameters, forcing: Forcing) -> float:
    """Return the mass of air dissolved in a mass of top-up oil [1]: saturated at the ambient pressure."""
    held = air.solubility(forcing.top_up_temperature, p.bunsen, p.solubility_slope, p.density_15)
    return held * forcing.ambient_pressure


@inlined
def fill_matrix(
    p: Parameters,
    forcing: Forcing,
    b: Balance,
    masses: Masses,
    temperature: Array,
    rate: Array,
    headspace_power: float,
    matrix: Array,
    source: Array,
) -> None:
    """Write the balances as `dT/dt = matrix T + source`.

    Parameters
    ----------
    p : record
        Parameters.
    forcing : Forcing
        Channels.
    b : Balance
        Coefficients.
    masses : Masses
        Oil in the nodes [kg].
    temperature : array of shape (4,)
        Temperatures at which specific heats are taken [K].
    rate : array of shape (4,)
        Their rates, for the oil that the full nodes push out as they expand [K s-1].
    headspace_power : float
        Mean heat from the headspace to the reservoir's oil [W].
    matrix : array of shape (4, 4)
        Result [s-1].
    source : array of shape (4,)
        Result [K s-1].
    """
    c0, c1 = p.heat_constant, p.heat_slope
    t_r, t_p, t_g, t_c = temperature[RESERVOIR], temperature[PUMP], temperature[STEERING_GEAR], temperature[COOLER]
    flows, o = b.flows, b.outside
    from_pump = b.density.pump * flows.ring_flow
    from_gear = max(0.0, from_pump - mass_rate(p, masses.steering_gear, t_g, rate[STEERING_GEAR]))
    from_cooler = max(0.0, from_gear - mass_rate(p, masses.cooler, t_c, rate[COOLER]))
    direct = b.density.pump * flows.direct_flow
    fed = max(0.0, from_pump + direct + mass_rate(p, masses.pump, t_p, rate[PUMP]))
    k = p.ring_conductance
    feed = fed * (c0 + 0.5 * c1 * (t_r + t_p))
    push = from_pump * (c0 + 0.5 * c1 * (t_p + t_g))
    cool = from_gear * (c0 + 0.5 * c1 * (t_g + t_c))
    back = from_cooler * (c0 + 0.5 * c1 * (t_c + t_r))
    short = direct * (c0 + 0.5 * c1 * (t_p + t_r))
    added = forcing.top_up_flow * (c0 + 0.5 * c1 * (forcing.top_up_temperature + t_r))
    for i in range(len(NODES)):
        matrix[i, (i + 2) % len(NODES)] = 0.0
    in_reservoir = 1.0 / (masses.reservoir * (c0 + c1 * t_r) + p.tank_metal)
    matrix[0, 0] = -(back + short + 2.0 * k + o.reservoir + added) * in_reservoir
    matrix[0, 1] = (short + k) * in_reservoir
    matrix[0, 3] = (back + k) * in_reservoir
    source[0] = (
        flows.reservoir_heat + o.reservoir * o.bay + headspace_power + added * forcing.top_up_temperature
    ) * in_reservoir
    in_pump = 1.0 / (masses.pump * (c0 + c1 * t_p) + p.pump_metal)
    matrix[1, 0] = (feed + k) * in_pump
    matrix[1, 1] = -(feed + 2.0 * k + o.pump + p.mount_conductance) * in_pump
    matrix[1, 2] = k * in_pump
    source[1] = (flows.pump_heat + o.pump * o.bay + p.mount_conductance * o.block) * in_pump
    in_gear = 1.0 / (masses.steering_gear * (c0 + c1 * t_g) + p.gear_metal)
    matrix[2, 1] = (push + k) * in_gear
    matrix[2, 2] = -(push + 2.0 * k + o.steering_gear) * in_gear
    matrix[2, 3] = k * in_gear
    source[2] = (flows.gear_heat + o.steering_gear * o.bay) * in_gear
    in_cooler = 1.0 / (masses.cooler * (c0 + c1 * t_c) + p.cooler_metal)
    matrix[3, 0] = k * in_cooler
    matrix[3, 2] = (cool - o.core + k) * in_cooler
    matrix[3, 3] = -(cool + 2.0 * k + o.still) * in_cooler
    source[3] = (flows.cooler_heat + (o.core + o.still) * o.core_air) * in_cooler
