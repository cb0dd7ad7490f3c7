"""Set a state: before the march, and where oil is poured in or drawn off in an instant."""

from __future__ import annotations

from ullage.compiled import compiled, merged
from ullage.kernel.extremes import clear_extremes, observe
from ullage.kernel.headspace import headspace_air_pressure
from ullage.kernel.heat import balance
from ullage.kernel.modes import Log, follow_cap, follow_fan, switch_thermal
from ullage.kernel.outputs import Rows, outputs
from ullage.kernel.params import Forcing, Parameters, forcing_between
from ullage.kernel.state import RESERVOIR, STEERING_GEAR, Array, State
from ullage.kernel.stores import densities, headspace_volume, node_masses, oil_energy, reservoir_temperature
from ullage.physics import air, oil, tank, water
from ullage.physics.air import HEAT_CONSTANT_PRESSURE


@compiled
def air_in_oil(s: State) -> float:
    """Return the air that lives in the oil, dissolved, in bubbles and trapped in the hoses [kg]."""
    return s.dissolved_air + s.free_air + s.trapped_air


@compiled
def settle(p: Parameters, s: State, forcing: Forcing, reservoir_mass: float) -> None:
    """Find pressure and surface that belong to what the circuit holds, and keep what the oil in the tank is like.

    Bubbles and trapped air take up room.

    Parameters
    ----------
    p, s : record
        Parameters and state; air pressure, volume of the air space, surface height and what concerns the oil in the
        tank change.
    forcing : Forcing
        Channels.
    reservoir_mass : float
        Oil in the tank [kg].
    """
    here = s.temperature[RESERVOIR]
    s.reservoir_mass = reservoir_mass
    s.reservoir_density = oil.density(here, p.density_15)
    s.vapour_pressure = water.vapour_pressure(here, forcing.water_content, p.water_saturation)
    s.compliance = tank.total_compliance(p.tank_compliance, s.oil_mass, here, p.density_15)
    s.clear_volume = headspace_volume(p, reservoir_mass, here, s.reservoir_density)
    s.air_pressure = headspace_air_pressure(
        s.air_heat, s.free_air + s.trapped_air, here, s.clear_volume, s.compliance, s.vapour_pressure
    )
    s.headspace_volume = air.GAS_CONSTANT * s.air_heat / s.air_pressure
    whole = tank.expanded_volume(p.tank_volume, p.tank_expansion, here)
    s.surface_height = min(whole, whole - s.headspace_volume) / p.surface_area


@compiled
def fill_to_mark(p: Parameters, s: State, forcing: Forcing) -> None:
    """Pour in oil, or draw it off with its bubbles, until the tank stands at its cold mark, however hot it is.

    Parameters
    ----------
    p, s : record
        Parameters and state; oil, air and energy change in an instant, and the quadratures with them.
    forcing : Forcing
        Channels; what is poured in has the ambient temperature and is saturated at the ambient pressure.
    """
    here = s.temperature[RESERVOIR]
    whole = tank.expanded_volume(p.tank_volume, p.tank_expansion, here)
    missing = p.mark * whole - s.surface_height * p.surface_area
    if missing > 0.0:
        outside = forcing.ambient_temperature
        mass = missing * oil.density(outside, p.density_15)
        held = air.solubility(outside, p.bunsen, p.solubility_slope, p.density_15)
        brought = mass * held * forcing.ambient_pressure
        energy = _energy(p, mass, brought, outside)
        s.oil_added += mass
        s.air_added += brought
        s.top_up_energy += energy
        s.dissolved_air += brought
    else:
        mass = missing * s.reservoir_mass / (s.surface_height * p.surface_area)
        dissolved, free = s.dissolved_air * mass / s.oil_mass, s.free_air * mass / s.reservoir_mass
        energy = _energy(p, mass, dissolved + free, here)
        s.oil_drawn_off -= mass
        s.air_lost -= dissolved + free
        s.lost_energy -= energy
        s.dissolved_air += dissolved
        s.free_air += free
    s.oil_mass += mass
    s.oil_energy += energy
    masses = node_masses(p, forcing.steering_position, s.oil_mass, s.temperature, densities(p, s.temperature))
    s.temperature[RESERVOIR] = reservoir_temperature(p, masses, s.temperature, air_in_oil(s), s.oil_energy)
    settle(p, s, forcing, masses.reservoir)


@compiled
def _energy(p: Parameters, oil_mass: float, air_mass: float, temperature: float) -> float:
    return (
        oil_mass * oil.enthalpy(temperature, p.heat_constant, p.heat_slope)
        + air_mass * HEAT_CONSTANT_PRESSURE * temperature
    )


@merged
def _begin(p: Parameters, s: State, forcing: Forcing, log: Log) -> None:
    masses = node_masses(p, forcing.steering_position, s.oil_mass, s.temperature, densities(p, s.temperature))
    s.oil_energy = oil_energy(p, masses, s.temperature, air_in_oil(s))
    s.fresh = 1
    follow_cap(s, forcing)
    follow_fan(s, forcing, log, s.time)
    settle(p, s, forcing, masses.reservoir)
    switch_thermal(p, s, s.temperature[STEERING_GEAR], log, s.time, 0.0)
    s.feed_flow = balance(p, s, forcing, s.temperature).flows.feed_flow


@compiled
def begin(p: Parameters, s: State, channels: Array, out: Rows, log: Log) -> None:
    """Complete a new state (energy, surface, modes) and write the first row of results.

    Parameters
    ----------
    p, s : record
        Parameters, and a state with temperatures, masses and N set.
    channels : array of shape (rows, channels)
        Channel table.
    out : record array
        Results; row 0 is written.
    log : array
        Record of switches.
    """
    forcing = forcing_between(channels, 0, 0.0)
    _begin(p, s, forcing, log)
    outputs(p, s, forcing, balance(p, s, forcing, s.temperature), out[0])
    clear_extremes(s)
    observe(s, out[0], s.time, 0.0)
