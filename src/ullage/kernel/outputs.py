"""Every algebraic output at one instant, from state, channels and parameters."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled, inlined
from ullage.kernel.cap import Splash, cap_areas, cap_flows
from ullage.kernel.heat import Balance, cooler_heat, surroundings_heat
from ullage.kernel.intake import void_fraction
from ullage.kernel.params import CAP_VENTED, Forcing, Parameters
from ullage.kernel.state import RESERVOIR, Quadratures, State, record_dtype
from ullage.numerics.linear import copy_into
from ullage.physics import air, bubbles, pump, tank, water

Array = NDArray[np.float64]

WATER_DENSITY = 998.0
DROP_DIAMETER = 2e-5  # of free water in oil that is pumped round [m]; engineering judgement

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
    oil_level_clear: float
    oil_mass: float
    feed_pressure: float
    feed_gauge_pressure: float
    vapour_margin: float
    air_margin: float
    rating_margin: float
    headspace_air_mass: float
    dissolved_air_mass: float
    free_air_mass: float
    trapped_air_mass: float
    dissolved_air_pressure: float
    vapour_pressure: float
    pump_chamber_pressure: float
    inlet_void_fraction: float
    pump_void_fraction: float
    sight_glass_transmittance: float
    cavitation_exposure: float
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
    starved: int


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
    if s.relief_stuck != 0 or s.vacuum_stuck != 0:
        return STATE_STUCK
    if p.cap_kind == CAP_VENTED:
        return STATE_VENTED
    if s.relief_open == 1:
        return STATE_RELIEF_OPEN
    if s.vacuum_open == 1:
        return STATE_VACUUM_OPEN
    return STATE_CLOSED


@inlined
def outputs(p: Parameters, s: State, forcing: Forcing, b: Balance, out: Row) -> None:
    """Write every output of an instant.

    Parameters
    ----------
    p, s : record
        Parameters and state.
    forcing : Forcing
        Channels.
    b : Balance
        Flows and conductances.
    out : record
        One row of `OUTPUT_DTYPE`.
    """
    temperature = s.temperature
    flows, before = b.flows, b.supply
    out.headspace_temperature = s.air_heat / s.air_mass
    out.headspace_pressure = s.air_pressure + before.vapour_pressure
    splash = Splash(s.headspace_volume, p.splash_volume, before.density, 0.0)
    oil_out, air_in, unit_out = cap_flows(
        cap_areas(p, s),
        splash,
        out.headspace_pressure,
        forcing.ambient_pressure,
        forcing.ambient_temperature,
        s.air_pressure / out.headspace_pressure,
    )
    out.time = s.time
    copy_into(out.oil_temperature, temperature)
    out.ambient_pressure = forcing.ambient_pressure
    out.headspace_gauge_pressure = out.headspace_pressure - forcing.ambient_pressure
    out.headspace_volume = s.headspace_volume
    out.ambient_temperature = forcing.ambient_temperature
    out.oil_mass = s.oil_mass
    out.pump_viscosity = flows.pump_viscosity
    _write_level(p, s, out)
    _write_inlet(p, forcing, b, out)
    out.seal_margin = p.seal_rating - out.feed_gauge_pressure
    out.tank_margin = p.tank_rating - out.headspace_gauge_pressure
    out.pump_speed = flows.pump_speed
    out.pump_flow = flows.feed_flow
    out.steering_flow = flows.steering_flow
    out.supply_pressure = out.headspace_pressure + flows.supply_rise
    out.shaft_power = flows.shaft_power
    wall_heat = p.gas_wall_conductance * (out.headspace_temperature - forcing.bay_temperature)
    out.cooler_heat = cooler_heat(b, temperature)
    out.surroundings_heat = surroundings_heat(p, b, temperature) + wall_heat
    out.cap_air_flow = unit_out / math.sqrt(out.headspace_temperature) - air_in
    out.cap_oil_flow = oil_out
    out.cap_state = cap_state(p, s)
    out.steering_position = forcing.steering_position
    out.cavitation_exposure = s.cavitation_exposure
    _copy_quadratures(s, out)


@compiled
def _write_level(p: Parameters, s: State, out: Row) -> None:
    """Write how full the tank is, with and without its bubbles, and where the air is."""
    here = s.temperature[RESERVOIR]
    whole = tank.expanded_volume(p.tank_volume, p.tank_expansion, here)
    out.oil_level = min(1.0, 1.0 - s.headspace_volume / whole)
    bubbles_volume = s.free_air * air.GAS_CONSTANT * here / s.air_pressure
    out.oil_level_clear = max(0.0, out.oil_level - bubbles_volume / whole)
    out.headspace_air_mass = s.air_mass
    out.dissolved_air_mass = s.dissolved_air
    out.free_air_mass = s.free_air
    out.trapped_air_mass = s.trapped_air


@compiled
def _write_inlet(p: Parameters, forcing: Forcing, b: Balance, out: Row) -> None:
    """Write pressures and gas at the pump's inlet; margins and voids are unknown while it stands."""
    flows, before = b.flows, b.supply
    out.feed_pressure = flows.intake.pressure
    out.feed_gauge_pressure = out.feed_pressure - forcing.ambient_pressure
    out.vapour_pressure = before.vapour_pressure
    out.dissolved_air_pressure = before.dissolved / before.solubility
    out.pump_chamber_pressure = flows.intake.chamber_pressure
    out.starved = flows.starved
    inlet_void = void_fraction(flows.intake.inlet_gas, before.line_gas)
    drops = water.free_water(before.temperature, forcing.water_content, p.water_saturation)
    drops *= before.density / WATER_DENSITY
    out.sight_glass_transmittance = bubbles.transmittance(
        p.sight_glass_depth, inlet_void, p.bubble_diameter
    ) * bubbles.transmittance(p.sight_glass_depth, drops, DROP_DIAMETER)
    out.vapour_margin = out.air_margin = out.rating_margin = np.nan
    out.inlet_void_fraction = out.pump_void_fraction = np.nan
    if flows.pump_speed <= 0.0:
        return
    out.vapour_margin = out.feed_pressure - before.vapour_pressure
    out.air_margin = out.vapour_margin - out.dissolved_air_pressure
    port = pump.port_loss(flows.pump_speed / p.maximum_speed, out.pump_viscosity, p.port_loss, p.port_viscous_loss)
    out.rating_margin = out.feed_pressure - max(p.minimum_inlet_pressure, before.vapour_pressure) - port
    out.inlet_void_fraction = inlet_void
    out.pump_void_fraction = 1.0 - flows.filling


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
    out.oil_drawn_off = s.oil_drawn_off
    out.air_vented = s.air_vented
    out.air_admitted = s.air_admitted
    out.air_added = s.air_added
    out.air_lost = s.air_lost
