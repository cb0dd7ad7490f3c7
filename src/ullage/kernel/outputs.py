"""Every algebraic output at one instant, from state, channels and parameters."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.kernel.cap import cap_areas
from ullage.kernel.gas_march import Span, gas_problem
from ullage.kernel.headspace import GasSetting, pressure_now, stage_now
from ullage.kernel.heat import balance, cooler_heat, surroundings_heat
from ullage.kernel.hydraulics import viscosity
from ullage.kernel.params import CAP_VENTED, Forcing, Parameters
from ullage.kernel.state import PUMP, RESERVOIR, Quadratures, State, record_dtype
from ullage.kernel.stores import headspace_volume, node_masses
from ullage.physics import air, line, oil, pump, tank, water

Array = NDArray[np.float64]

STATE_CLOSED, STATE_RELIEF_OPEN, STATE_VACUUM_OPEN, STATE_VENTED, STATE_OFF, STATE_STUCK = range(6)


class Row(Quadratures):
    """Every output at one instant, SI units."""

    time: float
    oil_temperature: Array
    headspace_temperature: float
    headspace_pressure: float
    headspace_gauge_pressure: float
    headspace_volume: float
    ambient_pressure: float
    ambient_temperature: float
    oil_level: float
    oil_mass: float
    feed_pressure: float
    feed_gauge_pressure: float
    vapour_margin: float
    air_margin: float
    rating_margin: float
    headspace_air_mass: float
    dissolved_air_mass: float
    pump_viscosity: float
    seal_margin: float
    tank_margin: float
    pump_speed: float
    pump_flow: float
    steering_flow: float
    supply_pressure: float
    shaft_power: float
    cooler_heat: float
    surroundings_heat: float
    cap_air_flow: float
    cap_oil_flow: float
    cap_state: int
    steering_position: float


OUTPUT_DTYPE = record_dtype(Row)
Rows = np.recarray[Any, np.dtype[Any]]


@compiled
def cap_state(p: Parameters, s: State) -> int:
    """Return the cap's mode as the flag value of the results.

    Parameters
    ----------
    p, s : record
        Parameters and state.

    Returns
    -------
    int
        One of the `STATE_...` values.
    """
    if s.cap_on == 0:
        return STATE_OFF
    if p.cap_kind == CAP_VENTED:
        return STATE_VENTED
    if s.relief_open == 1:
        return STATE_RELIEF_OPEN
    if s.vacuum_open == 1:
        return STATE_VACUUM_OPEN
    return STATE_CLOSED


@compiled
def feed_pressure(
    p: Parameters, reservoir_temperature: float, flow: float, surface_pressure: float, level: float
) -> float:
    """Return the static pressure at the pump's inlet port.

    Parameters
    ----------
    p : record
        Parameters.
    reservoir_temperature : float
        Temperature of the oil in the line [K].
    flow : float
        Flow in the feed line [m3 s-1].
    surface_pressure : float
        Headspace pressure [Pa].
    level : float
        Height of the surface above the outlet [m].

    Returns
    -------
    float
        Absolute static pressure [Pa]; below zero where the line cannot bring the flow, which a later pump model cuts.
    """
    density = oil.density(reservoir_temperature, p.density_15)
    loss = line.line_loss(
        flow,
        p.feed_bore,
        p.feed_length,
        p.feed_loss,
        p.feed_roughness,
        density,
        viscosity(p, reservoir_temperature),
    )
    head = line.static_head(p.outlet_height + level, density)
    return surface_pressure + head - loss - line.velocity_head(flow, p.feed_bore, density)


@compiled
def outputs(p: Parameters, s: State, forcing: Forcing, out: Row) -> None:
    """Write every output of an instant.

    Parameters
    ----------
    p, s : record
        Parameters and state.
    forcing : Forcing
        Channels.
    out : record
        One row of `OUTPUT_DTYPE`.
    """
    temperature = s.temperature
    b = balance(p, forcing, temperature, s.fan_running, s.cooler_open)
    masses = node_masses(p, forcing.steering_position, s.oil_mass, temperature)
    reference_volume = headspace_volume(p, masses.reservoir, temperature[RESERVOIR])
    span = Span(
        s.time, s.time + 1.0, reference_volume, reference_volume, temperature[RESERVOIR], temperature[RESERVOIR]
    )
    problem = gas_problem(p, s, span, forcing, forcing)
    value = (s.air_heat, s.air_mass, s.dissolved_air, 0.0)
    setting = GasSetting(problem, cap_areas(p, s.cap_on, s.relief_open, s.vacuum_open))
    gas = stage_now(value, s.time, pressure_now(value, s.time, problem), setting).gas
    flows = b.flows
    out.time = s.time
    out.oil_temperature[:] = temperature
    out.headspace_temperature = s.air_heat / s.air_mass
    out.headspace_pressure = gas.pressure
    out.ambient_pressure = forcing.ambient_pressure
    out.headspace_gauge_pressure = gas.pressure - forcing.ambient_pressure
    out.headspace_volume = gas.volume
    out.ambient_temperature = forcing.ambient_temperature
    whole = tank.expanded_volume(p.tank_volume, p.tank_expansion, temperature[RESERVOIR])
    out.oil_level = min(1.0, 1.0 - gas.volume / whole)
    out.oil_mass = s.oil_mass
    level = out.oil_level * whole / p.surface_area
    out.feed_pressure = feed_pressure(p, temperature[RESERVOIR], flows.feed_flow, gas.pressure, level)
    out.feed_gauge_pressure = out.feed_pressure - forcing.ambient_pressure
    out.headspace_air_mass = s.air_mass
    out.dissolved_air_mass = s.dissolved_air
    out.pump_viscosity = viscosity(p, temperature[PUMP])
    _write_margins(p, s, flows.pump_speed, out)
    out.seal_margin = p.seal_rating - out.feed_gauge_pressure
    out.tank_margin = p.tank_rating - out.headspace_gauge_pressure
    out.pump_speed = flows.pump_speed
    out.pump_flow = flows.feed_flow
    out.steering_flow = flows.steering_flow
    out.supply_pressure = gas.pressure + flows.supply_rise
    out.shaft_power = flows.shaft_power
    out.cooler_heat = cooler_heat(b, temperature)
    out.surroundings_heat = surroundings_heat(p, b, temperature) + gas.wall_heat
    out.cap_air_flow = gas.air_out - gas.air_in
    out.cap_oil_flow = gas.oil_out
    out.cap_state = cap_state(p, s)
    out.steering_position = forcing.steering_position
    _copy_quadratures(s, out)


@compiled
def _write_margins(p: Parameters, s: State, pump_speed: float, out: Row) -> None:
    """Write what is left at the feed gauge over vapour, bubble point and the pump's need; unknown while it stands."""
    if pump_speed <= 0.0:
        out.vapour_margin = out.air_margin = out.rating_margin = np.nan
        return
    oil_temperature = s.temperature[RESERVOIR]
    solubility = air.solubility(oil_temperature, p.bunsen, p.solubility_slope, p.density_15)
    vapour = water.vapour_pressure(oil_temperature, p.water_content, p.water_saturation)
    port = pump.port_loss(pump_speed / p.maximum_speed, out.pump_viscosity, p.port_loss, p.port_viscous_loss)
    out.vapour_margin = out.feed_pressure - vapour
    out.air_margin = out.vapour_margin - s.dissolved_air / (solubility * s.oil_mass)
    out.rating_margin = out.feed_pressure - p.minimum_inlet_pressure - port


@compiled
def _copy_quadratures(s: State, out: Row) -> None:
    out.shaft_work = s.shaft_work
    out.ram_work = s.ram_work
    out.cooler_energy = s.cooler_energy
    out.surroundings_energy = s.surroundings_energy
    out.top_up_energy = s.top_up_energy
    out.air_energy = s.air_energy
    out.lost_energy = s.lost_energy
    out.oil_added = s.oil_added
    out.oil_lost = s.oil_lost
    out.air_vented = s.air_vented
    out.air_admitted = s.air_admitted
    out.air_added = s.air_added
    out.air_lost = s.air_lost
